"""What stands in the brackets of a test or fix: minutes, what comes before it, cover off, needs, parts, reliability."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from kb.model import USUAL_RELIABILITY


@dataclass(frozen=True, slots=True)
class Attributes:
    """The attributes of a test or fix; minutes below zero while none are given.

    `after` holds the numbers of tests as they are written.
    """

    minutes: float = -1.0
    needs: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    cover_off: bool = False
    reliability: float = USUAL_RELIABILITY
    first: bool = False
    after: tuple[str, ...] = ()

    def with_piece(self, piece: str, parts_word: str) -> Attributes | None:
        """These attributes with one more piece of the bracket, or None if it is not understood."""
        if match := re.fullmatch(r"(\d+(?:\.\d+)?) min", piece):
            return replace(self, minutes=float(match[1]))
        if piece == "cover off":
            return replace(self, cover_off=True)
        if piece == "first" and not parts_word:
            return replace(self, first=True)
        if match := re.fullmatch(r"after (\d{1,3}(?: ?, ?\d{1,3})*)", piece):
            return replace(self, after=self.after + names(match[1]))
        if match := re.fullmatch(r"needs (.+)", piece):
            return replace(self, needs=self.needs + names(match[1]))
        if parts_word and (match := re.fullmatch(r"parts? (.+)", piece)):
            return replace(self, parts=self.parts + names(match[1]))
        if not parts_word and (match := re.fullmatch(r"(\d+) in (\d+)", piece)) and 0 < int(match[1]) < int(match[2]):
            return replace(self, reliability=int(match[1]) / int(match[2]))
        return None


def names(text: str) -> tuple[str, ...]:
    """Names parted by commas.

    >>> names("battery, small screwdriver")
    ('battery', 'small screwdriver')
    """
    return tuple(name.strip() for name in text.split(",") if name.strip())
