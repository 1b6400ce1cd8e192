"""The model of the workshop's words, as frozen dataclasses: whatever crosses a border between modules."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Literal

from kb.base.worded import worded

Weight = Literal["often", "sometimes", "rare"]

#: How a machine leaves the shop.
WayOut = Literal["sold", "given", "waste", "returned"]

#: Prior odds that a weight word stands for: "often" is twice "sometimes", six times "rare".
WEIGHT_ODDS: Mapping[Weight, float] = {"often": 6.0, "sometimes": 3.0, "rare": 1.0}

#: A test is taken to be right 19 times in 20 unless its entry says otherwise (design, section 4).
USUAL_RELIABILITY = 0.95

#: The cause name that stands for "none of the listed ones".
SOMETHING_ELSE = "something-else"


@dataclass(frozen=True, slots=True)
class Remark:
    """A problem in a file: where it is and what to write instead; a `wish` if nothing is wrong but could be better."""

    file: str
    line: int
    problem: str
    instead: str
    wish: bool = False

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.problem}; {self.instead}"


@dataclass(frozen=True, slots=True)
class Unread:
    """A file of the shop's own entries of which nothing can be served; `stands_in`: a stock entry takes its place."""

    file: str
    line: int
    problem: str
    stands_in: bool

    def __str__(self) -> str:
        what = (
            worded("the stock entry is used instead")
            if self.stands_in
            else worded("it is left out")
        )
        return worded(
            "entries/{file} cannot be read (line {line}: {problem}), {what}; see `benchlore check`",
            file=self.file,
            line=self.line,
            problem=self.problem,
            what=what,
        )


def told_of_unread(found: Sequence[Unread]) -> str:
    """In one sentence which own entries cannot be read; empty if there are none.

    >>> torn = [Unread(f"{name}.md", 1, "it is empty", True) for name in ("dim", "dark", "hot", "loud")]
    >>> told_of_unread(torn[:1])
    'entries/dim.md cannot be read (line 1: it is empty), the stock entry is used instead; see `benchlore check`'
    >>> told_of_unread(torn)
    '4 own entries cannot be read (dim.md, dark.md, hot.md ...), stock entries are used where there are any; ...'
    """
    if len(found) < 2:
        return "".join(map(str, found))
    more = " ..." if len(found) > 3 else ""
    named = ", ".join(one.file for one in found[:3]) + more
    return worded(
        "{found} own entries cannot be read ({named}), stock entries are used where there are any; "
        "see `benchlore check`",
        found=len(found),
        named=named,
    )


@dataclass(frozen=True, slots=True)
class Cause:
    """What may turn out to be wrong; its full name is `entry/slug`.

    `pallet` is its weight in a shop whose machines come from pallets, where that differs.
    """

    slug: str
    weight: Weight
    text: str
    pallet: Weight | None = None
    line: int = field(default=0, compare=False)

    def weight_in(self, pallet: bool) -> Weight:
        """The weight in a shop whose machines come from pallets, or over the counter."""
        return self.pallet if pallet and self.pallet else self.weight


@dataclass(frozen=True, slots=True)
class Outcome:
    """One of the things a test can show, with the causes it points to or clears.

    `see` names other sheets (`entry`) or their causes (`entry/cause`) that it points to, `machine` the states (of its
    trade) in which the machine then is, if it says so.
    """

    text: str
    points_to: tuple[str, ...] = ()
    clears: tuple[str, ...] = ()
    see: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    line: int = field(default=0, compare=False)

    @property
    def sheets_seen(self) -> tuple[str, ...]:
        """The slugs of the sheets that it names, itself or by their causes."""
        return tuple(name.partition("/")[0] for name in self.see)


@dataclass(frozen=True, slots=True)
class Urgent:
    """A line of what is to be done at once: a deed, or the words of a complaint (`said`) that name the danger."""

    deed: str = ""
    said: tuple[str, ...] = ()
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Test:
    """An action with two or more outcomes that tells causes apart.

    A `first` test comes before everything else while its entry is likely; `after` names the tests of the same entry,
    by slug in their alphabet, that must have been answered before this one. `minutes` are hands-on, `wait` minutes can
    be spent on another machine. `act` is the standard act it is, `does` names deeds beyond what its other attributes
    imply, `machine` what the machine must still do for it, `untold` the causes of which it says nothing. By the trade
    of its library, `states` are those in which the machine does that, none for any, and `measures` says whether it
    needs a tool with which one measures.
    """

    __test__ = False  # not a test case, whatever pytest thinks of the name

    slug: str
    title: str
    minutes: float
    outcomes: tuple[Outcome, ...]
    detail: str = ""
    needs: tuple[str, ...] = ()
    cover_off: bool = False
    reliability: float = USUAL_RELIABILITY
    first: bool = False
    after: tuple[str, ...] = ()
    wait: float = 0.0
    act: str = ""
    does: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    untold: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    measures: bool = False
    line: int = field(default=0, compare=False)

    def place_of(self, shown: str) -> int | None:
        """Which of its outcomes has that text, counted from 0; None if none has."""
        texts = [outcome.text for outcome in self.outcomes]
        return texts.index(shown) if shown in texts else None


@dataclass(frozen=True, slots=True)
class Fix:
    """A repair that cures one cause or several, with the minutes and parts it takes.

    `after` names the tests of its entry, by slug in their alphabet, that must have been answered before it is proposed;
    `wait`, `act`, `does`, `machine` and `states` say what they say of a test.
    """

    causes: tuple[str, ...]
    minutes: float
    text: str
    parts: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    cover_off: bool = False
    after: tuple[str, ...] = ()
    wait: float = 0.0
    act: str = ""
    does: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another entry that looks alike, and the one observation that tells it apart."""

    slug: str
    observation: str
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Undivided:
    """Causes that no listed test tells apart, and why that is accepted."""

    causes: tuple[str, ...]
    why: str
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Section:
    """A section as it stands in the file: heading and raw Markdown, comments included."""

    heading: str
    text: str
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Entry:
    """One fault picture. `sections` keeps the file's own text, so that nothing unknown is lost.

    `machine` are the states (of its trade) in which a machine with this fault can be, none for any; `not_this_if` what
    a machine with this fault does not show, since it works.
    """

    slug: str
    title: str
    area: str
    symptoms: tuple[str, ...]
    causes: tuple[Cause, ...]
    tests: tuple[Test, ...]
    fixes: tuple[Fix, ...]
    safety: tuple[str, ...]
    wordings: tuple[str, ...]
    neighbours: tuple[Neighbour, ...] = ()
    undivided: tuple[Undivided, ...] = ()
    at_once: tuple[Urgent, ...] = ()
    machine: tuple[str, ...] = ()
    not_this_if: tuple[str, ...] = ()
    extra: tuple[tuple[str, str], ...] = ()
    sections: tuple[Section, ...] = field(default=(), compare=False)

    @property
    def deeds(self) -> tuple[str, ...]:
        """What is to be done at once, before any test."""
        return tuple(one.deed for one in self.at_once if one.deed)

    @property
    def dangers(self) -> tuple[str, ...]:
        """The words of a complaint that name this entry's danger."""
        return tuple(word for one in self.at_once for word in one.said)

    @property
    def leads_to(self) -> tuple[str, ...]:
        """The slugs of the other sheets to which outcomes of its tests point, each once."""
        outcomes = chain.from_iterable(test.outcomes for test in self.tests)
        seen = chain.from_iterable(outcome.sheets_seen for outcome in outcomes)
        return tuple(slug for slug in dict.fromkeys(seen) if slug != self.slug)

    def cause(self, slug: str) -> Cause | None:
        """The cause of that slug, or None."""
        return next((cause for cause in self.causes if cause.slug == slug), None)

    def test(self, slug: str) -> Test | None:
        """The test of that slug, or None."""
        return next((test for test in self.tests if test.slug == slug), None)

    def comes_after(self, step: Test | Fix) -> tuple[int, ...]:
        """The tests that a step comes after, by their numbers in this entry's list."""
        return tuple(
            number
            for number, test in enumerate(self.tests, 1)
            if test.slug in step.after
        )

    def odds(self, pallet: bool = False) -> dict[str, float]:
        """The odds of its causes by their weights, in a shop whose machines come from pallets or not."""
        return {
            cause.slug: WEIGHT_ODDS[cause.weight_in(pallet)] for cause in self.causes
        }

    def fix_for(self, cause: str) -> Fix | None:
        """The first listed fix that cures the cause, or None."""
        return next((fix for fix in self.fixes if cause in fix.causes), None)


#: Gives the entry of a slug, or None.
EntryOf = Callable[[str], Entry | None]


def named_test(name: str, entry_of: EntryOf) -> Test | None:
    """The test of a full name (`entry/test`), or None."""
    slug, _, own_name = name.partition("/")
    entry = entry_of(slug)
    return entry.test(own_name) if entry else None


def named_fix(name: str, entry_of: EntryOf) -> Fix | None:
    """The first listed fix that cures the cause of a full name (`entry/cause`), or None."""
    slug, _, own_name = name.partition("/")
    entry = entry_of(slug)
    return entry.fix_for(own_name) if entry else None


@dataclass(frozen=True, slots=True)
class Finding:
    """What a test showed on a job: `entry/test` and the outcome's text."""

    test: str
    outcome: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What may be told of a job beside its cause; minutes are bench minutes.

    How each of these is taken in and kept stands in `kb/history/fields.py`.
    """

    unit: str = ""
    words: str = ""
    minutes: float | None = None
    part: str = ""
    donor: str = ""
    outcomes: tuple[Finding, ...] = ()
    note: str = ""
    by: str = ""
    place: str = ""  # of a job


@dataclass(frozen=True, slots=True)
class Job(Told):
    """One closed job: a machine, a complaint, and the confirmed cause (`entry/cause`).

    `closed_at` is UTC, ISO 8601 with a trailing Z.
    """

    job: str
    model: str
    cause: str
    closed_at: str
    shop: str = ""

    @property
    def entry(self) -> str:
        """The slug of the entry the confirmed cause belongs to."""
        return self.cause.partition("/")[0]


@dataclass(frozen=True, slots=True)
class Confirmation(Told):
    """The statement "on this job it was this cause".

    Without `job` a new job is made; what is left empty is taken from the open job; without `closed_at`
    (UTC, ISO 8601) it is now.
    """

    cause: str
    model: str = ""
    job: str = ""
    closed_at: str = ""
