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
    """The parts and tools of `kb/parts.toml`."""
    with open(Path(__file__).with_name("parts.toml"), "rb") as source:
        listed = tomllib.load(source)
    return Spellings(frozenset(listed["parts"]), frozenset(listed["tools"]))
