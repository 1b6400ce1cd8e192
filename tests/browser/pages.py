"""Every page there is, on a shop with something on each of them."""

from __future__ import annotations

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation

WORDS = "shows no battery although one is fitted"
PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"


def furnish(shop: Bench) -> tuple[str, ...]:
    """Put jobs of all kinds into a shop; gives the addresses of its pages."""
    for number in range(1, 4):
        shop.jobs.confirm(
            Confirmation(
                PACK, "Tern 13", unit=f"T-{number}", minutes=10 * number, part="battery"
            )
        )
    shop.jobs.confirm(
        Confirmation(
            "row-of-keys-dead/ribbon-contact",
            "A model with a very long name indeed 15",
            minutes=7,
        )
    )
    closed = shop.jobs.confirm(
        Confirmation(PLUG, "Skua 14", words=WORDS, note="pin 3 bent")
    ).job
    undone = shop.jobs.confirm(Confirmation(PLUG, "Skua 14", words=WORDS)).job
    shop.jobs.retract(undone, "wrong machine")
    shop.jobs.retract(
        shop.jobs.begin("hums in the left corner", "Tern 13"), "owner wanted it back"
    )
    shop.jobs.nothing_fits(
        "hums in the left corner, but only while it rains and nobody is looking at it",
        "Tern 13",
    )
    job = shop.jobs.begin(WORDS, "Tern 13", "T-7")
    furnish_floor(shop)
    shop.jobs.did_not_help(job, PLUG)
    (shop.folder / "entries").mkdir(exist_ok=True)
    (shop.folder / "entries" / "torn.md").write_text("nothing\n")
    shop.checkout.bad("T-1", "pack-flat", "the pack bulges")
    shop.checkout.good("T-2", "wiped", "NVMe sanitize, 100 %", "JT")
    shop.checkout.bad("T-2", "every-key", "row 3 dead")
    shop.checkout.waive("T-2", "camera", "none wanted")
    confirm = f"/confirm?cause={PACK}&q={WORDS}"
    return (
        "/",
        f"/?q={WORDS}&model=Tern+13",
        "/?q=zxqv+wvutz",
        "/?q=swollen+battery",
        f"/job/{job}",
        f"/job/{closed}",
        f"/job/{undone}",
        confirm,
        f"{confirm}&model=Tern+13",
        "/entry/battery-not-detected",
        "/entry/battery-not-detected/edit",
        "/new?q=hums",
        "/review",
        "/review?model=None+Such",
        "/library",
        "/library?q=battery&show=new",
        "/u/T-1/checkout",
        "/u/T-2/checkout",
        "/u/T-2/checkout?line=look",
        "/u/T-2/checkout/sheet",
        "/checkout/codes",
        "/library/checks",
        "/keys",
        "/tools",
        "/retracted",
        "/nowhere",
        "/machines",
        "/machines?state=ready",
        "/lot/P7",
        "/u/P7-001",
        "/u/P7-003",
        "/u/P7-099",
        "/arrival?lot=P7&saved=P7-003",
        "/labels?lot=P7",
        "/?unit=P7-001",
        "/pile",
        "/pile?lot=P7&hours=2",
        "/parts",
        "/parts?part=battery&for=P7-002",
        "/cost",
    )


def furnish_floor(shop: Bench) -> None:
    """A lot with a machine in each state, one of them with a long tag and a swollen pack."""
    shop.machines.write(
        kinds.LOT,
        {
            "lot": "P7",
            "bought_on": "2026-10-05",
            "claimed": 9,
            "seller": "Somebody (invented)",
        },
    )
    for number in range(1, 8):
        told = Arrived(lot="P7", model="Tern 13", words=WORDS, place=f"A{number}")
        shop.arrivals.arrive(told)
    shop.arrivals.arrive(
        Arrived(
            tag="P7-LONG-TAG-OF-THE-BOTTOM-SHELF-0000012", lot="P7", model="Skua 14"
        )
    )
    shop.jobs.begin(WORDS, "Tern 13", "P7-001")
    shop.machines.want("P7-002", "battery")
    shop.arrivals.look_at(
        "P7-003", {"pack-flat": "bad", "locks-absent": "bad", "screen": "good"}, "AW"
    )
    shop.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="P7-004", by="AW"))
    shop.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="P7-005", by="AW"))
    shop.machines.write(kinds.SIGNED, {"tag": "P7-005", "by": "JT"})
    shop.machines.give_up("P7-006", "mainboard dead")
    shop.machines.let_go("P7-007", "sold", 12000)
    shop.machines.note("P7-001", "lid scratched", "AW")
    shop.machines.hand_over("P7-001", "JT", "AW")
