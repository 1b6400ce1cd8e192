"""Pictures of the eight main pages, from the demo shop: `PYTHONPATH=.:tests python tests/browser/screenshots.py`."""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
from contextlib import suppress
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

from PIL import Image
from playwright.sync_api import Browser, sync_playwright
from waitress.server import create_server

from kb.bench.front import Bench
from kb.demo.jobs import SEED
from kb.machines.units import FloorState
from webui.app import create_app
from webui.serving_commands import fill_with_invented_jobs

FOLDER = Path(__file__).resolve().parent.parent / "screenshots"
#: The most that one picture may weigh, in bytes.
HEAVIEST = 60_000


class Shot(NamedTuple):
    """A picture: its name, the page, the screen in CSS pixels, and the colour scheme."""

    name: str
    path: str
    width: int
    height: int
    dark: bool = False


SHOTS = (
    Shot(
        "bench-phone",
        "/?q=no+battery+seen%2C+dies+when+unplugged&model=Dunlin+12",
        390,
        844,
    ),
    Shot(
        "bench-desktop", "/?q=wont+chrge%2C+led+stays+orange&model=Tern+13", 1000, 600
    ),
    Shot("review-desktop", "/review?model=Tern+13", 1000, 660),
    Shot(
        "entry-dark", "/entry/battery-not-detected?model=Tern+13", 1000, 660, dark=True
    ),
    Shot("lot-desktop", "/lot/P7", 1000, 760),
    Shot("machine-phone", "/u/{checked}", 390, 844),
    Shot("checkout-phone", "/u/{checked}/checkout", 390, 844),
    Shot("pile-desktop", "/pile?lot=P7", 1000, 760),
    Shot("cost-desktop", "/cost?lot=P7", 1000, 760),
)


def take(browser: Browser, address: str, shot: Shot) -> Path:
    """Draw one page into its file, as JPEG where PNG would weigh too much; gives the file."""
    context = browser.new_context(
        viewport={"width": shot.width, "height": shot.height},
        color_scheme="dark" if shot.dark else "light",
        reduced_motion="reduce",
        has_touch=shot.width < 600,
        is_mobile=shot.width < 600,
    )
    page = context.new_page()
    page.goto(address + shot.path, wait_until="networkidle")
    page.evaluate("document.activeElement.blur()")
    path, drawn = FOLDER / f"{shot.name}.png", page.screenshot()
    context.close()
    if len(drawn) >= HEAVIEST:
        path, drawn = path.with_suffix(".jpg"), lighter(drawn)
    for old in FOLDER.glob(f"{shot.name}.*"):
        old.unlink()
    path.write_bytes(drawn)
    return path


def lighter(drawn: bytes) -> bytes:
    """The picture as the best JPEG that is light enough, with nothing in it beside the picture."""
    with Image.open(BytesIO(drawn)) as picture:
        plain = picture.convert("RGB")
    for quality in range(88, 20, -4):
        out = BytesIO()
        plain.save(out, "JPEG", quality=quality, optimize=True)
        if out.tell() < HEAVIEST:
            break
    return out.getvalue()


def main() -> None:
    """Serve the demo shop for a moment and take every picture."""
    FOLDER.mkdir(exist_ok=True)
    program = os.environ.get("BENCHLORE_CHROMIUM") or shutil.which("chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as player:
        bench = Bench(Path(folder))
        fill_with_invented_jobs(bench, SEED)
        (checked, *_) = [
            one.line.tag
            for one in bench.machines.lot("P7").units
            if one.state == FloorState.CHECK
        ]
        server = create_server(create_app(bench), host="127.0.0.1", port=0, threads=4)
        thread = threading.Thread(target=_run, args=(server,), daemon=True)
        thread.start()
        rooted = ["--no-sandbox"] if os.geteuid() == 0 else []
        browser = player.chromium.launch(
            executable_path=program, args=["--disable-gpu", *rooted]
        )
        for shot in SHOTS:
            shot = shot._replace(path=shot.path.format(checked=checked))
            path = take(browser, f"http://127.0.0.1:{server.effective_port}", shot)
            print(f"{path.stat().st_size:7d} bytes  {path}")
        browser.close()
        server.close()
        thread.join(5)
        bench.close()


def _run(server: object) -> None:
    with suppress(OSError):
        server.run()  # type: ignore[attr-defined]


if __name__ == "__main__":
    main()
