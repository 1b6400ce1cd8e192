"""The one spelling of every part and tool."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Spellings:
    """The names that entries may use."""

    parts: frozenset[str]
    tools: frozenset[str]


@cache
def spellings() -> Spellings:
    """The parts and tools of `kb/library/parts.toml`."""
    with open(Path(__file__).with_name("parts.toml"), "rb") as source:
        listed = tomllib.load(source)
    return Spellings(frozenset(listed["parts"]), frozenset(listed["tools"]))


def spelled(text: str) -> str:
    """The part or tool of that name whatever the case and blanks, empty if there is none.

    >>> spelled(" usb-c  Charger"), spelled("usb charger")
    ('USB-C charger', '')
    """
    return _names().get(_folded(text), "")


@cache
def _names() -> dict[str, str]:
    return {_folded(name): name for name in sorted(spellings().parts | spellings().tools)}


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
