"""The unseen sets (tests/data/unseen) asked of the search, and the figures they give."""

from __future__ import annotations

import re
import zlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from helpers.measures import calibration_error, mean
from helpers.places import DATA
from kb.bench.front import Bench
from kb.library.markdown import to_slug

UNSEEN = DATA / "unseen"
#: The sets of complaints with known sheets.
COMPLAINTS = (
    "voices-a",
    "voices-b",
    "pairs",
    "healthy",
    "foreign",
    "new-pictures",
    "stop28-healthy",
    "stop29-voices",
    "stop29-healthy",
    "stop29-pairs",
    "names-voices",
    "names-healthy",
    "names-pairs",
    "names-clauses",
)
#: The sets with an open and a sealed half (tests/data/unseen/README.md).
HALVED = (
    "new-pictures-2",
    "pairs-2",
    "lacking-2",
    "off-topic-2",
    "stop26-voices",
    "stop26-pairs",
    "stop27-voices",
    "stop27-lacking",
)
#: Pairs up to this one may be looked at; the others, like every second foreign line, give figures alone.
LAST_OPEN_PAIR = 75
#: An answer so sure is taken at its word.
SURE = 0.9


@dataclass(frozen=True, slots=True)
class Heard:
    """A complaint of an unseen set with the sheets that are right; `group` is its voice, its language or its pair."""

    words: str
    sheets: frozenset[str]
    group: str


@dataclass(frozen=True, slots=True)
class Told:
    """What the search answered to it: the first sheets, the fit of the first and the belief in it, and more.

    `belief` is that in the causes which the first sheet lists, `picture` that in the sheet whether or not it lists the
    cause. `fits` says whether it was told that something here fits, `asked` which two sheets stand beside each other to
    be chosen from: those that a question parts, or those of two things told at once; empty where there are none.
    """

    heard: Heard
    ranking: tuple[str, ...]
    fit: float
    belief: float
    picture: float
    fits: bool
    asked: tuple[str, ...] = ()

    @property
    def first(self) -> bool:
        """Whether the first sheet is right."""
        return self.ranking[:1] != () and self.ranking[0] in self.heard.sheets

    @property
    def three(self) -> bool:
        """Whether a right sheet is among three."""
        return not self.heard.sheets.isdisjoint(self.ranking[:3])

    @property
    def both_in_two(self) -> bool:
        """Whether the first two are the two that are right."""
        return self.heard.sheets <= set(self.ranking[:2])


def heard(name: str) -> list[Heard]:
    """The complaints of the set of that name; those of pairs have their pair's number as group."""
    lines = (UNSEEN / f"{name}.tsv").read_text("utf-8").splitlines()[1:]
    rows = [line.split("\t") for line in lines if line.strip()]
    sheets = sheet_of_title if name == "new-pictures" else str
    return [
        Heard(
            row[0], frozenset(sheets(row[1]).split(",")), row[2] if len(row) > 2 else ""
        )
        for row in rows
    ]


def sheet_of_title(title: str) -> str:
    """The sheet that was written to the title of a picture: the title up to its first comma or bracket.

    >>> sheet_of_title("charger alone (dead, hot, hums, lead broken)")
    'charger-alone'
    """
    return to_slug(re.split(r"[,(]", title)[0])


def off_topic(name: str = "off-topic") -> list[Heard]:
    """The lines on other subjects; no sheet is right."""
    lines = (UNSEEN / f"{name}.txt").read_text("utf-8").splitlines()
    return [Heard(line, frozenset(), "off topic") for line in lines if line.strip()]


def second_set(name: str) -> list[Heard]:
    """The complaints of a set with a sealed half; no sheet is right for those that the library lacks."""
    if name.startswith("off-topic"):
        return off_topic(name)
    asked = heard(name)
    return (
        [replace(one, sheets=frozenset()) for one in asked]
        if "lacking" in name
        else asked
    )


def is_sealed(one: Heard) -> bool:
    """Whether a complaint of a second set gives figures only; both of a pair do, or neither.

    >>> is_sealed(Heard("no picture", frozenset(), "12")) == is_sealed(Heard("no sound", frozenset(), "12"))
    True
    """
    told = one.group if one.group.isdigit() else one.words
    return zlib.crc32(told.encode()) % 2 == 1


def told(bench: Bench, complaints: Iterable[Heard]) -> list[Told]:
    """What the bench answers to each, with three sheets."""
    return [_told(bench, one) for one in complaints]


def _told(bench: Bench, one: Heard) -> Told:
    answer = bench.asking.search(one.words, limit=3)
    ranking = tuple(entry.entry for entry in answer.entries)
    asked = (
        (answer.parting.first, answer.parting.second) if answer.parting else answer.two
    )
    if not answer.entries:
        return Told(one, (), 0.0, 0.0, 0.0, answer.fits, asked)
    first = answer.entries[0]
    picture = first.probability + first.unlisted
    return Told(one, ranking, first.fit, first.probability, picture, answer.fits, asked)


def grouped(answers: Sequence[Told]) -> dict[str, list[Told]]:
    """The answers by the group of their complaint, in the order in which groups come up."""
    found: dict[str, list[Told]] = defaultdict(list)
    for one in answers:
        found[one.heard.group].append(one)
    return dict(found)


def first_share(answers: Sequence[Told]) -> float:
    """The share with the right sheet first."""
    return mean([one.first for one in answers])


def both_of_a_pair(answers: Sequence[Told]) -> float:
    """The share of pairs both of whose lines have the right sheet first."""
    return mean([all(one.first for one in pair) for pair in grouped(answers).values()])


def refused(answers: Sequence[Told]) -> float:
    """The share that was told that nothing here fits."""
    return mean([not one.fits for one in answers])


def sure_of(answers: Sequence[Told], least: float) -> float:
    """The share whose first sheet is believed at least so much."""
    return mean([one.belief >= least for one in answers])


def sure_and_wrong(answers: Sequence[Told]) -> tuple[int, int]:
    """How many are wrong of those whose first sheet fits for `SURE` or more, and how many these are."""
    sure = [one for one in answers if one.fit >= SURE]
    return sum(not one.first for one in sure), len(sure)


def unasked_and_wrong(answers: Sequence[Told]) -> int:
    """How many are sure and wrong, and neither a question nor "two things" beside them names the right sheet."""
    sure = [one for one in answers if one.fit >= SURE and not one.first]
    return sum(one.heard.sheets.isdisjoint(one.asked) for one in sure)


def line(name: str, answers: Sequence[Told]) -> str:
    """One line of the table: right first, among three, refused, three calibrations, sure and wrong.

    The errors are those of the fit, of the belief in its listed causes, and of the belief in its picture as a whole.
    """
    hits = [one.first for one in answers]
    wrong, sure = sure_and_wrong(answers)
    unasked = unasked_and_wrong(answers)
    return (
        f"{name:24}{len(answers):5}  {first_share(answers):.3f}  {mean([one.three for one in answers]):.3f}  "
        f"{refused(answers):.3f}  {calibration_error([one.fit for one in answers], hits):.3f}  "
        f"{calibration_error([one.belief for one in answers], hits):.3f}  "
        f"{calibration_error([one.picture for one in answers], hits):.3f}  {wrong:3} of {sure}, {unasked} not asked"
    )


def table(bench: Bench) -> Iterator[str]:
    """All figures of the unseen sets, line by line."""
    yield f"{'':24}{'':5}  first  three  none   ece    ece b  ece p  wrong at {SURE}"
    for name in COMPLAINTS:
        answers = told(bench, heard(name))
        yield line(name, answers)
        if name == "pairs":
            yield from _pairs(answers)
            continue
        if name in ("stop29-pairs", "names-pairs"):
            yield f"    both of a pair {both_of_a_pair(answers):.3f}"
            continue
        yield from (
            line(f"  {group}", held)
            for group, held in grouped(answers).items()
            if group
        )
        if two := grouped(answers).get("two"):
            yield f"    both in the first two {mean([one.both_in_two for one in two]):.3f}"
    yield from _strangers(bench)
    yield from _halves(bench)


def _halves(bench: Bench) -> Iterator[str]:
    """The second sets, their open and their sealed half apart."""
    for name in HALVED:
        answers = told(bench, second_set(name))
        for half, sealed in (("open", False), ("sealed", True)):
            held = [one for one in answers if is_sealed(one.heard) is sealed]
            if "lacking" in name or name.startswith("off-topic"):
                yield _stranger(f"{name} {half}", held)
            else:
                yield line(f"{name} {half}", held)
            if "pairs" in name:
                yield f"    both of a pair {both_of_a_pair(held):.3f}"


def _stranger(name: str, answers: Sequence[Told]) -> str:
    """How often it is told that nothing fits, and how often the first sheet is believed all the same."""
    return (
        f"{name}: told so {refused(answers):.3f}, first sheet believed at least .5 "
        f"{sure_of(answers, 0.5):.3f}, .8 {sure_of(answers, 0.8):.3f}"
    )


def _pairs(answers: Sequence[Told]) -> Iterator[str]:
    """The pairs that may be looked at and those that may not, apart."""
    seen = [one for one in answers if int(one.heard.group) <= LAST_OPEN_PAIR]
    for name, held in (
        ("  open", seen),
        ("  never looked at", [one for one in answers if one not in seen]),
    ):
        yield line(name, held)
        yield f"    both of a pair {both_of_a_pair(held):.3f}"
    yield f"    both of a pair, all {both_of_a_pair(answers):.3f}"


def _strangers(bench: Bench) -> Iterator[str]:
    """What is said of the shortest complaints, of faults that the library lacks, and of other subjects."""
    for name in ("short", "names-short"):
        short = told(bench, heard(name))
        held = sum(one.three for one in short)
        yield f"{name}: {held} of {len(short)} among three, refused {refused(short):.3f}"
    lacking = {
        name: told(bench, second_set(name))
        for name in ("lacking", "stop28-lacking", "stop29-lacking", "names-lacking")
    }
    for name, answers in (*lacking.items(), ("off topic", told(bench, off_topic()))):
        yield _stranger(name, answers)
