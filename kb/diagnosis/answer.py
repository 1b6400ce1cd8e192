"""An answer to a complaint: beliefs in entries and in their causes, and the step to take next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kb.model import Fix, Weight


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseBelief:
    """How likely a cause is, and what that rests on.

    `probability` is over everything that may be wrong; `within` over the causes of its entry, with its
    95 % interval. Counts are confirmed jobs, on this model and on all others; `in_other_shops` is the share that other
    shops had of it, on the model as far as they know it.
    """

    cause: str
    name: str
    weight: Weight
    probability: float
    within: float
    low: float
    high: float
    confirmed_here: int
    confirmed_elsewhere: int
    fix_minutes: float
    in_other_shops: float = 0.0

    @property
    def slug(self) -> str:
        """The cause without its entry."""
        return self.cause.partition("/")[2]


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryBelief:
    """How likely an entry is the right one: `fit` by the words alone, `probability` with history and outcomes.

    Of two faults told at once each has nearly the fit that it would have without the other, not so its probability.
    `unlisted` is the belief in its picture with a cause that it does not list, no part of `probability`.
    `matched` are the wordings that speak for it; `marked` the folded words of them that the complaint shares;
    `against` what the complaint says of its "Not this if". Of its jobs so many were elsewhere, in so many other shops.
    """

    entry: str
    title: str
    area: str
    probability: float
    fit: float
    causes: tuple[CauseBelief, ...]
    matched: tuple[str, ...] = ()
    jobs_here: int = 0
    jobs_elsewhere: int = 0
    jobs_in_other_shops: int = 0
    other_shops: int = 0
    marked: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    unlisted: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What to do next: a test, a fix, or (`kind` "else") to look beyond what is listed, and why in one sentence.

    `minutes` are hands-on, `wait` minutes can be spent on another machine.

    `lacks` names what it needs and this shop does not have: a fix may be the right one all the same, a test may be
    one that cannot be left out. Then `held` says why: nothing else, or not the fix in view, comes before it.
    `cautions` are those of the step: the house's by what it does, then its sheet's own; `cause` is what a fix cures.
    `procedure` are the steps, in order, of the house procedure to which it refers.
    """

    kind: Literal["test", "fix", "else"]
    title: str
    minutes: float
    expected_minutes: float
    why: str
    entry: str = ""
    name: str = ""
    needs: tuple[str, ...] = ()
    wait: float = 0.0
    cover_off: bool = False
    detail: str = ""
    outcomes: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()
    held: str = ""
    cautions: tuple[str, ...] = ()
    cause: str = ""
    procedure: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Loss:
    """A tool or part that the shop lacks, and the bench minutes that having it would be expected to save."""

    tool: str
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """Two neighbours that are close in the words: slugs and titles, and what is `seen` of each and not of the other.

    `test` is the test (`entry/name`) that tells most about which of the two it is, `what` is done for it, in so many
    `minutes`; empty where none tells enough or another one has to come first.
    """

    first: str
    second: str
    titles: tuple[str, str]
    seen: tuple[str, str]
    test: str = ""
    what: str = ""
    minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """The answer to a complaint, best entry first; probabilities of entries and `something_else` sum to one.

    `fits` says whether the library has something to say of it at all; `loss` is what would help most of what the
    shop lacks, None if nothing would. `at_once` is what to do before anything else, empty if nothing presses. `two`
    are the entries of a complaint that tells of two faults at once, empty for the usual one. `parting` is the question
    between the first entry and a neighbour that is close in the words.
    """

    query: str
    model: str
    entries: tuple[EntryBelief, ...]
    something_else: float
    corrections: tuple[tuple[str, str], ...] = ()
    next_step: Step | None = None
    next_test: Step | None = None
    undivided: tuple[str, ...] = ()
    took_ms: float = 0.0
    loss: Loss | None = None
    fits: bool = False
    two: tuple[str, ...] = ()
    at_once: tuple[str, ...] = ()
    parting: Parting | None = None


@dataclass(frozen=True, slots=True)
class OutlinedCause:
    """A cause (`entry/cause`) that may be it, how much it is believed, and the fix for it, if its sheet has one."""

    name: str
    belief: float
    fix: Fix | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """An answer's beliefs, next step and what cannot wait: the causes of the likeliest entries, without reasons.

    It is for machines that are reckoned with by the dozen, where nobody reads the reasons; `at_once` is said of those
    that surely cannot wait.
    """

    causes: tuple[OutlinedCause, ...]
    next_step: Step | None = None
    at_once: tuple[str, ...] = ()
