"""The check-outs of the invented shop: what each line fails on which model in truth, and what machines showed on it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal

from kb.demo.habits import HABITS
from kb.library.checklist import WORD_SHARES, CheckLine

#: How far models lie apart: standard deviation of the logarithm of a line's share on a model (invented).
SPREAD = 0.7
#: How much more often a line fails for each share of a model's jobs that a habit behind it makes up (invented).
PRONE = 10.0
#: No line of an invented model fails more often.
MOST = 0.4

#: What is written down with a line that reads something, by what it reads (invented).
_WIPES = (
    "NVMe sanitize, crypto erase; report 100 % done, read back in 20 places (invented)",
    "ATA sanitize, overwrite; ended without error, read back in 20 places (invented)",
)
_INITIALS = ("AW", "JT", "MK", "RS")


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedLook:
    """What one line showed on an invented machine: as a `function` record says it."""

    line: str
    shown: Literal["good", "bad", "not-there"]
    value: str = ""
    by: str = ""

    def body(self, tag: str) -> dict[str, object]:
        """The body of the record for a machine."""
        return {"tag": tag, "line": self.line, "shown": self.shown, "value": self.value, "by": self.by}


def true_shares(model: str, lines: Sequence[CheckLine], seed: int) -> Mapping[str, float]:
    """The share of machines of an invented model that fail each line in truth.

    The list's word, by luck of the model (lognormal with a mean of 1, so that over many models the words are right on
    the whole), and more where a habit of the model lies behind the line: its owners complain of it too.
    """
    shares = {}
    for line in lines:
        luck = Random(f"check-out {seed} {model} {line.name}").lognormvariate(-(SPREAD**2) / 2, SPREAD)
        prone = sum(habit.share for habit in HABITS if habit.model == model and habit.entry in line.sheets)
        shares[line.name] = 0.0 if line.work else min(WORD_SHARES[line.weight] * luck * (1 + PRONE * prone), MOST)
    return shares


def invented_looks(tag: str, model: str, lines: Sequence[CheckLine], seed: int) -> Iterator[InventedLook]:
    """A whole check-out of an invented machine, line by line; one that failed is looked at again and good then."""
    chance = Random(f"check-out {seed} {tag}")
    shares = true_shares(model, lines, seed)
    by = chance.choice(_INITIALS)
    for line in lines:
        if chance.random() < shares[line.name]:
            yield InventedLook(line=line.name, shown="bad", by=by)
        yield InventedLook(line=line.name, shown="good", value=_reading(line, chance), by=by)


def _reading(line: CheckLine, chance: Random) -> str:
    """What is written down with a line."""
    match line.reads:
        case "wear":
            return f"{chance.randint(55, 97)} % of the rated capacity"
        case "wipe":
            return chance.choice(_WIPES)
        case "look":
            return chance.choices(("A", "B", "C"), (3, 5, 2))[0]
        case _:
            return ""
