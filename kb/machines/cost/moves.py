"""Moves of money through a shop, each kind with what it does to the accounts: bought, moved, worked, lost, gone.

A move that cannot be (a part that left already, a piece from an empty drawer) changes nothing and gives a sentence.
Amounts below 0 and counts below 1 raise ValueError where the move is made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from kb.machines.cost.accounts import Accounts, UnitCost
from kb.machines.cost.shares import Amount, exact, whole_cents, worked_cents
from kb.model import WayOut


class Move(Protocol):
    """Whatever can be booked."""

    def book(self, accounts: Accounts) -> str:
        """Change the accounts; the reason why not where it cannot be, nothing otherwise."""


@dataclass(frozen=True, slots=True)
class PiecesBought:
    """Pieces of a part, bought for a unit, or into the drawer where no tag is named."""

    part: str
    count: int
    cents: int
    tag: str = ""

    def __post_init__(self) -> None:
        _counted(self.count)
        if whole_cents(self.cents, "a price") < 0:
            raise ValueError(
                f"{self.cents} cents is no price of a part; give 0 or more"
            )

    def book(self, accounts: Accounts) -> str:
        """Specific cost for the unit (IAS 2 par. 23, from memory), the drawer's mean otherwise."""
        accounts.paid_in += self.cents
        if self.tag:
            accounts.charge(self.tag, UnitCost(parts=self.cents))
        else:
            accounts.put_away(self.part, self.count, self.cents)
        return ""


@dataclass(frozen=True, slots=True)
class PieceUsed:
    """A piece out of the drawer into a unit."""

    part: str
    tag: str

    def book(self, accounts: Accounts) -> str:
        """The piece's mean goes from the drawer to the unit."""
        if not accounts.in_drawer(self.part):
            return f"no {self.part} is in the drawer for {self.tag}; note the purchase first"
        accounts.charge(self.tag, UnitCost(parts=accounts.next_piece(self.part)))
        return ""


@dataclass(frozen=True, slots=True)
class GivenUp:
    """A unit given up for its parts, with what each weighs against the others."""

    tag: str
    parts: Mapping[str, Amount]

    def __post_init__(self) -> None:
        _weighed(self.parts)

    def book(self, accounts: Accounts) -> str:
        """The unit is a donor until it is taken back."""
        if self.tag in accounts.donors:
            return f"{self.tag} is given up for parts already; take that back first"
        accounts.donors[self.tag] = dict(self.parts)
        return ""


@dataclass(frozen=True, slots=True)
class TakenBack:
    """A unit that is no donor any more."""

    tag: str

    def book(self, accounts: Accounts) -> str:
        """What left it stays where it went."""
        return (
            ""
            if accounts.donors.pop(self.tag, None) is not None
            else f"{self.tag} is not given up for parts"
        )


@dataclass(frozen=True, slots=True)
class PartOut:
    """A part out of a donor into a unit, or into the drawer where no tag is named; a dead one goes nowhere."""

    donor: str
    part: str
    tag: str = ""
    dead: bool = False

    def book(self, accounts: Accounts) -> str:
        """The part's share of what stands on the donor moves with it."""
        if self.donor == self.tag:
            return f"{self.part} cannot go from {self.donor} into itself; name the unit that got it"
        cents = accounts.out_of_donor(self.donor, self.part, self.dead)
        if cents is None:
            return f"no {self.part} is left in {self.donor}, or it is not given up for parts"
        if self.tag:
            accounts.charge(self.tag, UnitCost(parts=cents))
        elif not self.dead:
            accounts.put_away(self.part, 1, cents)
        return ""


@dataclass(frozen=True, slots=True)
class Worked:
    """Minutes on a unit, at the rate an hour that held then: one closed job, one line of a check-out."""

    tag: str
    minutes: Amount
    hourly_cents: int

    def __post_init__(self) -> None:
        exact(self.minutes, "a time in minutes")
        if whole_cents(self.hourly_cents, "a rate an hour") < 0:
            raise ValueError(
                f"{self.hourly_cents} cents is no rate an hour; give 0 or more"
            )

    def book(self, accounts: Accounts) -> str:
        """Work is paid in by the shop."""
        cents = worked_cents(self.minutes, self.hourly_cents)
        accounts.paid_in += cents
        accounts.charge(self.tag, UnitCost(work=cents))
        return ""


@dataclass(frozen=True, slots=True)
class UnitGone:
    """A unit that left: what it cost stays its own, or is written off where it went as waste or was returned."""

    tag: str
    how: WayOut

    def book(self, accounts: Accounts) -> str:
        """One that was sold may come back and leave once more; a lost one does not."""
        if accounts.is_lost(self.tag):
            return f"{self.tag} left as {accounts.gone[self.tag]} already; take that back first"
        accounts.gone[self.tag] = self.how
        if accounts.is_lost(self.tag):
            accounts.write_off(self.tag)
        return ""


def _weighed(weights: Mapping[str, Amount]) -> None:
    for name, weight in weights.items():
        exact(weight, f"a weight of {name}")


def _counted(count: int) -> None:
    if count < 1:
        raise ValueError(f"{count} pieces are none; give 1 or more")
