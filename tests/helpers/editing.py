"""An entry as it ships, and what an editor does with it."""

from __future__ import annotations

from pathlib import Path

from helpers.visiting import Page, Visitor
from kb.bench.front import Bench
from kb.library.shelf import stock_folder

SLUG = "battery-not-detected"
STOCK = (stock_folder() / f"{SLUG}.md").read_text("utf-8")
MISSPELT = STOCK.replace("(often)", "(offten)", 1)

WORDS = "shows no battery although one is fitted"


def own_file(bench: Bench) -> Path:
    return bench.folder / "entries" / f"{SLUG}.md"


def edited(visitor: Visitor, text: str, button: str = "Save") -> Page:
    visitor.go(f"/entry/{SLUG}/edit")
    return visitor.press(button, text=text)
