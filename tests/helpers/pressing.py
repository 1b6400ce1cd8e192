"""What a person does on the pages of a shop: look up, press an outcome."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from helpers.visiting import Page, Visitor
from kb.bench.front import Bench
from kb.library.shelf import digest

WORDS = "shows no battery although one is fitted"
TITLE = "The system shows no battery although one is fitted"
PLUG = "battery-not-detected/contact"


def search(visitor: Visitor, words: str = WORDS, **more: str) -> Page:
    visitor.go("/")
    return visitor.press("Look up", None, q=words, **more)


def plain(text: str) -> str:
    """Text as it is shown, without the marks of Markdown."""
    return " ".join(re.sub("[*`]", "", text).split())


def press_outcome(visitor: Visitor) -> str:
    """Press the first outcome on the page, whichever test it belongs to; gives its text as shown."""
    buttons = (button for form in visitor.page.forms for button in form.buttons)
    shown = next(shown for name, _, shown in buttons if name == "outcome")
    visitor.press(shown)
    return shown


def jobs(bench: Bench) -> list[Any]:
    return list(bench.history().closed_jobs())


def remove_the_cause(text: str) -> str:
    return "".join(
        line
        for line in text.splitlines(keepends=True)
        if not line.startswith("- **contact**")
    )


def edit(bench: Bench, change: Callable[[str], str]) -> None:
    """Save the shop's text of the entry of `PLUG`, changed."""
    slug = PLUG.partition("/")[0]
    kept = bench.entries.on_file(slug)
    assert kept
    bench.entries.save(slug, change(kept.text), digest(kept.text))
