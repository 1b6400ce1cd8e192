"""Every page there is, on a shop with something on each of them."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.model import Confirmation

WORDS = "shows no battery although one is fitted"
PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"


def furnish(shop: Bench) -> tuple[str, ...]:
    """Put jobs of all kinds into a shop; gives the addresses of its pages."""
    for number in range(1, 4):
        shop.jobs.confirm(Confirmation(PACK, "Tern 13", unit=f"T-{number}", minutes=10 * number, part="battery"))
    shop.jobs.confirm(
        Confirmation("row-of-keys-dead/ribbon-contact", "A model with a very long name indeed 15", minutes=7)
    )
    closed = shop.jobs.confirm(Confirmation(PLUG, "Skua 14", words=WORDS, note="pin 3 bent")).job
    undone = shop.jobs.confirm(Confirmation(PLUG, "Skua 14", words=WORDS)).job
    shop.jobs.retract(undone, "wrong machine")
    shop.jobs.retract(shop.jobs.begin("hums in the left corner", "Tern 13"), "owner wanted it back")
    shop.jobs.nothing_fits("hums in the left corner, but only while it rains and nobody is looking at it", "Tern 13")
    job = shop.jobs.begin(WORDS, "Tern 13", "T-7")
    shop.jobs.did_not_help(job, PLUG)
    (shop.folder / "entries").mkdir(exist_ok=True)
    (shop.folder / "entries" / "torn.md").write_text("nothing\n")
    shop.checkout.bad("T-1", "pack-flat", "the pack bulges")
    shop.checkout.good("T-2", "wiped", "NVMe sanitize, 100 %", "JT")
    shop.checkout.bad("T-2", "every-key", "row 3 dead")
    shop.checkout.waive("T-2", "camera", "none wanted")
    confirm = f"/confirm?cause={PACK}&q={WORDS}"
    return (
        "/", f"/?q={WORDS}&model=Tern+13", "/?q=zxqv+wvutz", "/?q=swollen+battery",
        f"/job/{job}", f"/job/{closed}", f"/job/{undone}",
        confirm, f"{confirm}&model=Tern+13", "/entry/battery-not-detected", "/entry/battery-not-detected/edit",
        "/new?q=hums", "/review", "/review?model=None+Such", "/library", "/library?q=battery&show=new",
        "/u/T-1/checkout", "/u/T-2/checkout", "/u/T-2/checkout?line=look", "/u/T-2/checkout/sheet",
        "/library/checks", "/keys", "/tools", "/nowhere",
    )  # fmt: skip
