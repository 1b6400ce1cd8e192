"""What stands in the brackets of a test or fix: minutes and waiting, what comes before, needs, deeds, reliability."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from kb.library.acts import Act
from kb.model import USUAL_RELIABILITY

#: What may stand in the brackets, told where something else does; what a machine may be asked follows from the trade.
ANY_STEP = (
    "N min; wait 30 min; act NAME; cover off; needs tool; after 2; does deed; machine "
)
OF_TESTS, OF_FIXES = "; first; says nothing of cause; 9 in 10", "; part name"
#: The words that begin a list of names, and the field that each fills; `part` is for fixes, the last for tests.
_LISTS = {
    "needs": "needs",
    "does": "does",
    "machine": "machine",
    "part": "parts",
    "parts": "parts",
    "says nothing of": "untold",
}
_OF_FIXES, _OF_TESTS = ("part", "parts"), ("says nothing of",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Attributes:
    """The attributes of a test or fix; minutes, waiting and reliability below zero while none are given.

    `after` holds the numbers of tests as they are written.
    """

    minutes: float = -1.0
    wait: float = -1.0
    act: str = ""
    needs: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    does: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    untold: tuple[str, ...] = ()
    cover_off: bool = False
    reliability: float = -1.0
    first: bool = False
    after: tuple[str, ...] = ()

    def with_piece(self, piece: str, of_fix: bool) -> Attributes | None:
        """These attributes with one more piece of the bracket, or None if it is not understood."""
        if piece == "cover off":
            return replace(self, cover_off=True)
        if piece == "first" and not of_fix:
            return replace(self, first=True)
        if match := re.fullmatch(r"(wait )?(\d+(?:\.\d+)?) min", piece):
            minutes = float(match[2])
            return (
                replace(self, wait=minutes)
                if match[1]
                else replace(self, minutes=minutes)
            )
        if match := re.fullmatch(r"act (.+)", piece):
            return replace(self, act=" ".join(match[1].split()))
        if match := re.fullmatch(r"after (\d{1,3}(?: ?, ?\d{1,3})*)", piece):
            return replace(self, after=self.after + names(match[1]))
        trust = _trust(piece)
        if trust is not None and not of_fix:
            return replace(self, reliability=trust)
        return self._with_names(piece, of_fix)

    def _with_names(self, piece: str, of_fix: bool) -> Attributes | None:
        """These attributes with a piece that is a word and names after it, or None if it is not understood."""
        match = re.fullmatch(r"(says nothing of|[a-z]+) (.+)", piece)
        word, given = (match[1], names(match[2])) if match else ("", ())
        if word not in _LISTS or word in (_OF_TESTS if of_fix else _OF_FIXES):
            return None
        field = _LISTS[word]
        return replace(self, **{field: getattr(self, field) + given})

    def filled_in(self, act: Act | None) -> Attributes:
        """These attributes with what the standard act says where the bracket does not, else what is usual."""
        usual = act or Act(
            name="", minutes=-1.0, wait=0.0, trust=USUAL_RELIABILITY, text=""
        )
        return replace(
            self,
            minutes=_given(self.minutes, usual.minutes),
            wait=_given(self.wait, usual.wait),
            reliability=_given(self.reliability, usual.trust),
        )


def _given(figure: float, usual: float) -> float:
    """The figure that a bracket gives; what is usual for one below 0, which it does not give."""
    return figure if figure >= 0 else usual


def _trust(piece: str) -> float | None:
    """How often a test is right, None for a piece that does not say it so or says always or never."""
    match = re.fullmatch(r"(\d+) in (\d+)", piece)
    right, of = (int(match[1]), int(match[2])) if match else (0, 0)
    return right / of if 0 < right < of else None


def names(text: str) -> tuple[str, ...]:
    """Names parted by commas.

    >>> names("battery, small screwdriver")
    ('battery', 'small screwdriver')
    """
    return tuple(name.strip() for name in text.split(",") if name.strip())
