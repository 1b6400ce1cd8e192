"""A sheet as fields (sheet fields): title, causes, tests, fixes, and back to Markdown so that nothing is lost.

The fields are laid over a text: what they do not know (sections, marks, comments) stays as it stands there. Causes are
named by their numbers among the fields, so that one that is told otherwise is still meant.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, count
from typing import TypeVar, get_args

from kb.base.trouble import Refusal
from kb.base.worded import Worded, worded
from kb.library import markdown, unwritten, writing
from kb.library.brackets import names
from kb.library.customs import Customs
from kb.model import Cause, Entry, Fix, Outcome, Remark, Test, Weight

#: What the empty sheet says where its title, symptom and wordings are to stand.
_DOTS = "..."
Row = TypeVar("Row")
_MINUTES = re.compile(r"\d{1,4}(?:\.\d{1,2})?")


class SheetUnfinished(Refusal):
    """The fields cannot be written as a sheet yet; the message says which, and nothing of them is lost."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseFields:
    """What may be wrong, and how often; `was` is its number in the text, 0 for a new one."""

    text: str = ""
    weight: str = "sometimes"
    was: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeFields:
    """What a test shows, with the numbers of the causes it points to and speaks against."""

    text: str = ""
    to: tuple[int, ...] = ()
    against: tuple[int, ...] = ()
    was: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TestFields:
    """A test as it is typed; `marks` are those that have no field of their own and stay."""

    __test__ = False  # not a test case

    title: str = ""
    minutes: str = ""
    detail: str = ""
    needs: str = ""
    cover_off: bool = False
    outcomes: tuple[OutcomeFields, ...] = ()
    was: int = 0
    marks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FixFields:
    """A fix as it is typed, with the numbers of the causes that it cures."""

    causes: tuple[int, ...] = ()
    minutes: str = ""
    text: str = ""
    parts: str = ""
    needs: str = ""
    cover_off: bool = False
    was: int = 0
    marks: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFields:
    """The whole sheet; symptoms, cautions and wordings stand one a line, `was` is the text that the fields lie over."""

    title: str = ""
    area: str = ""
    symptoms: str = ""
    causes: tuple[CauseFields, ...] = ()
    tests: tuple[TestFields, ...] = ()
    fixes: tuple[FixFields, ...] = ()
    safety: str = ""
    wordings: str = ""
    was: str = ""

    def with_more(self, what: str) -> SheetFields:
        """The same with one more empty cause, test or fix, or with `outcome-2` one more outcome of the second test."""
        kind, _, number = what.partition("-")
        if kind == "cause":
            return replace(self, causes=(*self.causes, CauseFields()))
        if kind == "test":
            return replace(
                self,
                tests=(
                    *self.tests,
                    TestFields(outcomes=(OutcomeFields(), OutcomeFields())),
                ),
            )
        if kind == "fix":
            return replace(self, fixes=(*self.fixes, FixFields()))
        tests = list(self.tests)
        for place, test in enumerate(tests):
            if str(place + 1) == number:
                tests[place] = replace(test, outcomes=(*test.outcomes, OutcomeFields()))
        return replace(self, tests=tuple(tests))


@dataclass(frozen=True, slots=True)
class _Laid:
    """What fields are laid over: the entry of the text, and what of it nobody has written yet."""

    entry: Entry
    begun: frozenset[str] = field(default_factory=frozenset)
    keeps_begun: bool = False

    def keeps(self, text: str) -> bool:
        """Whether that text of the empty sheet is to stay where nothing was written over it."""
        return self.keeps_begun and text in self.begun


def fields_of(text: str, slug: str, customs: Customs) -> SheetFields | None:
    """The fields of a text; None for one of which they would lose something, or tell it otherwise."""
    entry, remarks = markdown.read_through(text, slug, customs)
    again, told = markdown.read_through(
        writing.write(replace(entry, sections=())), slug, customs
    )
    if again != entry or _problems(remarks) != _problems(told):
        return None
    numbers = {cause.slug: number for number, cause in enumerate(entry.causes, 1)}
    rows = _ToFields(entry, numbers, unwritten.begun(customs))
    return SheetFields(
        title="" if entry.title == _DOTS else entry.title,
        area=entry.area,
        symptoms=_lines(entry.symptoms),
        causes=tuple(
            rows.cause(number, cause) for number, cause in enumerate(entry.causes, 1)
        ),
        tests=tuple(
            rows.test(number, test) for number, test in enumerate(entry.tests, 1)
        ),
        fixes=tuple(rows.fix(number, fix) for number, fix in enumerate(entry.fixes, 1)),
        safety=_lines(entry.safety),
        wordings=_lines(entry.wordings),
        was=text,
    )


def text_of(
    fields: SheetFields, slug: str, customs: Customs, to_look_at: bool = False
) -> str:
    """The Markdown of the fields over the text that they began with; a section that says the same stays as it stood.

    `to_look_at` keeps what an empty sheet says where nothing was written over it. Raises SheetUnfinished.
    """
    entry, _ = markdown.read_through(fields.was, slug, customs)
    laid = _Laid(entry, unwritten.begun(customs), to_look_at)
    named = _named(fields, laid)
    slugs = {number: cause.slug for number, cause in named.items()}
    no_title = entry.title if to_look_at else ""
    meant = replace(
        entry,
        title=_in_one_line(fields.title) or no_title,
        area=fields.area or entry.area,
        symptoms=_items(fields.symptoms, entry.symptoms, laid),
        causes=tuple(named.values()),
        tests=_tests(fields.tests, laid, slugs),
        fixes=_fixes(fields.fixes, laid, slugs),
        safety=_items(fields.safety, entry.safety, laid),
        wordings=_items(fields.wordings, entry.wordings, laid),
    )
    text = writing.write(meant)
    if to_look_at:
        return text
    read_again, _ = markdown.read_through(text, slug, customs)
    if _said(read_again) != _said(meant):
        raise SheetUnfinished(
            worded(
                "something in these fields would be read as Markdown; look at it as text"
            )
        )
    return text


def _in_one_line(text: str) -> str:
    return " ".join(text.split())


def _problems(remarks: Iterable[Remark]) -> list[str]:
    return sorted(remark.problem for remark in remarks)


def _lines(items: Iterable[str]) -> str:
    return "\n".join(item for item in items if item != _DOTS)


@dataclass(frozen=True, slots=True)
class _ToFields:
    """Makes fields of what an entry says; what stands in the empty sheet is not told in them."""

    entry: Entry
    numbers: Mapping[str, int]
    begun: frozenset[str]

    def cause(self, number: int, cause: Cause) -> CauseFields:
        """The cause of that number."""
        return CauseFields(
            text="" if cause.text in self.begun else cause.text,
            weight=cause.weight,
            was=number,
        )

    def test(self, number: int, test: Test) -> TestFields:
        """The test of that number."""
        if test.title in self.begun:
            return TestFields(outcomes=(OutcomeFields(), OutcomeFields()), was=number)
        return TestFields(
            title=test.title,
            minutes=f"{test.minutes:g}",
            detail=test.detail,
            needs=", ".join(test.needs),
            cover_off=test.cover_off,
            outcomes=tuple(
                self._outcome(place, outcome)
                for place, outcome in enumerate(test.outcomes, 1)
            ),
            was=number,
            marks="; ".join(
                writing.marks_of(replace(test, needs=(), cover_off=False), self.entry)
            ),
        )

    def _outcome(self, place: int, outcome: Outcome) -> OutcomeFields:
        to, against = self._numbers(outcome.points_to), self._numbers(outcome.clears)
        return OutcomeFields(text=outcome.text, to=to, against=against, was=place)

    def fix(self, number: int, fix: Fix) -> FixFields:
        """The fix of that number."""
        causes = self._numbers(fix.causes)
        if fix.text in self.begun:
            return FixFields(causes=causes, was=number)
        return FixFields(
            causes=causes,
            minutes=f"{fix.minutes:g}",
            text=fix.text,
            parts=", ".join(fix.parts),
            needs=", ".join(fix.needs),
            cover_off=fix.cover_off,
            was=number,
            marks="; ".join(
                writing.marks_of(
                    replace(fix, parts=(), needs=(), cover_off=False), self.entry
                )
            ),
        )

    def _numbers(self, causes: Iterable[str]) -> tuple[int, ...]:
        """The numbers of causes, by their slugs."""
        return tuple(self.numbers[slug] for slug in causes)


def _items(typed: str, before: tuple[str, ...], laid: _Laid) -> tuple[str, ...]:
    """What stands one a line; of a list that was begun and left alone, what the empty sheet says if that is kept."""
    items = tuple(filter(None, map(_in_one_line, typed.split("\n"))))
    is_left_alone = not items and before == (_DOTS,)
    return before if is_left_alone and laid.keeps_begun else items


def _named(fields: SheetFields, laid: _Laid) -> dict[int, Cause]:
    """The causes that have a text, by their numbers among the fields; a new one is named after what it says."""
    before = laid.entry.causes
    taken = {cause.slug for cause in before}
    found: dict[int, Cause] = {}
    for number, row in enumerate(fields.causes, 1):
        old = _of_number(row.was, before)
        text, weight = _in_one_line(row.text), _weight(row.weight)
        if not text:
            if old and laid.keeps(old.text):
                found[number] = old
        elif old and old.text not in laid.begun:
            found[number] = replace(old, text=text, weight=weight)
        else:
            found[number] = Cause(_fresh(text, taken), weight, text)
    return found


def _of_number(number: int, rows: Sequence[Row]) -> Row | None:
    """The one of that number, counted from 1; None for 0, which names a new one, and for numbers that none has."""
    return rows[number - 1] if 0 < number <= len(rows) else None


def _weight(given: str) -> Weight:
    known: dict[str, Weight] = {weight: weight for weight in get_args(Weight)}
    return known.get(given, "sometimes")


def _fresh(text: str, taken: set[str]) -> str:
    """A name for a new cause that no other has."""
    base = markdown.to_slug(text, 32) or "cause"
    numbered = (f"{base}-{number}" for number in count(2))
    slug = next(name for name in chain([base], numbered) if name not in taken)
    taken.add(slug)
    return slug


def _tests(
    rows: Sequence[TestFields], laid: _Laid, slugs: Mapping[int, str]
) -> tuple[Test, ...]:
    found = []
    for number, row in enumerate(rows, 1):
        old = _of_number(row.was, laid.entry.tests)
        title = _in_one_line(row.title)
        outcomes = tuple(
            _outcomes(row.outcomes, old, slugs, worded("test {number}", number=number))
        )
        if title:
            found.append(_test(replace(row, title=title), old, outcomes, number))
        elif old and laid.keeps(old.title):
            found.append(_with_known(old, slugs))
        elif row.was == 0 and (outcomes or row.detail.strip()):
            raise SheetUnfinished(
                worded("test {number} has no name: say what is done", number=number)
            )
    return tuple(found)


def _with_known(test: Test, slugs: Mapping[int, str]) -> Test:
    """The test with what it says of causes that are there."""
    known = set(slugs.values())
    outcomes = []
    for one in test.outcomes:
        points_to = tuple(slug for slug in one.points_to if slug in known)
        clears = tuple(slug for slug in one.clears if slug in known)
        outcomes.append(replace(one, points_to=points_to, clears=clears))
    return replace(test, outcomes=tuple(outcomes))


def _test(
    row: TestFields, old: Test | None, outcomes: tuple[Outcome, ...], number: int
) -> Test:
    given = old or Test(slug=f"new-{number}", title=row.title, minutes=5.0, outcomes=())
    return replace(
        given,
        title=row.title,
        minutes=_minutes(
            row.minutes, given.minutes, worded("test {number}", number=number)
        ),
        detail=row.detail.strip(),
        needs=names(row.needs),
        cover_off=row.cover_off,
        outcomes=outcomes,
    )


def _outcomes(
    rows: Sequence[OutcomeFields],
    old: Test | None,
    slugs: Mapping[int, str],
    where: Worded,
) -> Iterator[Outcome]:
    before = old.outcomes if old else ()
    for row in rows:
        text = _in_one_line(row.text)
        if not text:
            if row.was == 0 and (row.to or row.against):
                raise SheetUnfinished(
                    worded(
                        "an outcome of {where} does not say what is seen", where=where
                    )
                )
        else:
            kept = _of_number(row.was, before) or Outcome(text)
            to = _chosen(row.to, slugs, kept.points_to)
            against = _chosen(row.against, slugs, kept.clears)
            yield replace(
                kept,
                text=text,
                points_to=to,
                clears=tuple(one for one in against if one not in to),
            )


def _chosen(
    numbers: Sequence[int], slugs: Mapping[int, str], before: Sequence[str]
) -> tuple[str, ...]:
    """The causes of those numbers that are there; a list to choose from has an order of its own, so theirs stays."""
    chosen = [slugs[number] for number in numbers if number in slugs]
    still = [slug for slug in before if slug in chosen]
    return tuple(dict.fromkeys([*still, *chosen]))


def _fixes(
    rows: Sequence[FixFields], laid: _Laid, slugs: Mapping[int, str]
) -> tuple[Fix, ...]:
    before, found = laid.entry.fixes, []
    for number, row in enumerate(rows, 1):
        old = _of_number(row.was, before)
        causes = _chosen(row.causes, slugs, old.causes if old else ())
        if row.text.strip():
            found.append(_fix(row, old, causes, number))
        elif old and laid.keeps(old.text) and causes:
            found.append(replace(old, causes=causes))
    return tuple(found)


def _fix(row: FixFields, old: Fix | None, causes: tuple[str, ...], number: int) -> Fix:
    if not causes:
        told = worded(
            "fix {number} cures nothing: choose what it cures, or empty it",
            number=number,
        )
        raise SheetUnfinished(told)
    given = old or Fix(causes, 5.0, "")
    return replace(
        given,
        causes=causes,
        minutes=_minutes(
            row.minutes, given.minutes, worded("fix {number}", number=number)
        ),
        text=row.text.strip(),
        parts=names(row.parts),
        needs=names(row.needs),
        cover_off=row.cover_off,
    )


def _minutes(typed: str, before: float, where: Worded) -> float:
    """The minutes as typed, a comma may stand for the point; what stood there before if nothing was typed."""
    given = typed.strip().replace(",", ".")
    if given and not _MINUTES.fullmatch(given):
        raise SheetUnfinished(
            worded(
                "the minutes of {where} are no number: write it as in 3 or 2.5",
                where=where,
            )
        )
    return float(given) if given else before


def _said(entry: Entry) -> tuple[object, ...]:
    """What the fields say of an entry, to be held against what is read of it again."""
    return (
        entry.title,
        entry.symptoms,
        entry.causes,
        [
            (
                test.title,
                test.minutes,
                test.detail,
                test.needs,
                test.cover_off,
                test.outcomes,
            )
            for test in entry.tests
        ],
        [
            (fix.causes, fix.minutes, fix.text, fix.parts, fix.needs, fix.cover_off)
            for fix in entry.fixes
        ],
        entry.safety,
        entry.wordings,
    )
