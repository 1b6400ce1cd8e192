"""What an entry must have beyond its form: known names, tests that part the causes and say something of each."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from kb.base.worded import worded
from kb.library.acts import Acts
from kb.library.customs import FOLDER, Customs, shipped_customs
from kb.library.outcomes import expected_outcomes, is_silent
from kb.library.procedures import Procedures
from kb.library.shelf import Sheet, Shelf, read_sheet
from kb.library.stock import GUIDE
from kb.library.trade import Trade
from kb.library.translations import (
    mismatches,
    original_of,
    translation_remarks,
    unreadable,
)
from kb.model import Entry, Fix, Remark, Test

#: Groups of causes up to this size may stay undivided without a word.
LARGEST_SILENT_GROUP = 2
#: What is done at once is read in a moment or not at all.
MOST_DEEDS, LONGEST_DEED = 3, 120
#: A deed begins with what to do, with "do not", or with the condition under which to do it.
_NO_DEED = re.compile(
    r"[^A-Z]|(?:The|A|An|It|Its|This|That|These|There|They|You|We)\b|[A-Z][a-z]+ing\b"
)
#: What a `first` test had better not ask for, in a sentence that does not forbid it.
_HARMFUL = re.compile(
    r"\b(?:press|push|squeeze|charge|charging)\b|\bmeasure\b.*\b(?:live|running|under load|on the charger|powered)\b",
    re.IGNORECASE,
)
_FORBIDS = re.compile(r"\b(?:not|never|no|without|nor)\b", re.IGNORECASE)
#: How many healthy statements a sheet with any should hold.
LEAST_HEALTHY, MOST_HEALTHY = 3, 5
#: By how much a test's own figures may differ from those of the standard act that it is: a third.
ACT_DIFFERS = 1 / 3
LEAST_SYMPTOMS, LEAST_CAUSES, LEAST_TESTS, LEAST_WORDINGS = 4, 3, 3, 24


def inspect(entry: Entry, customs: Customs | None = None) -> list[Remark]:
    """Wishes for one entry: stray spellings, thin sections, groups of causes that no test parts."""
    file = f"{entry.slug}.md"
    named = (customs or shipped_customs()).trade()
    found = [
        *_thin(entry, file),
        *_stray_spellings(entry, named, file),
        *_undivided(entry, file),
        *_order(entry, file),
    ]
    found += [
        *_deeds(entry, file),
        *_first_tests(entry, file),
        *_silent(entry, file),
        *_healthy(entry, file),
    ]
    return [replace(remark, wish=True) for remark in found]


def inspect_customs(entry: Entry, customs: Customs) -> list[Remark]:
    """What an entry says otherwise than the house files: deeds that nobody cautions of, minutes of standard acts."""
    file = f"{entry.slug}.md"
    known = customs.cautions().names
    steps: list[Test | Fix] = [*entry.tests, *entry.fixes]
    remarks: list[Remark] = []
    for step in steps:
        for deed in step.does:
            if deed not in known:
                told = worded(
                    "there is no deed `{deed}` among the house cautions", deed=deed
                )
                remarks.append(Remark(file, step.line, told, _one_of(deed, known)))
    for test in entry.tests:
        remarks += _unlike_act(test, file, customs.acts())
    return [*remarks, *_without_procedure(entry, file, customs.procedures())]


def inspect_library(entries: Iterable[Entry]) -> list[Remark]:
    """Remarks that need all entries: a wording that stands twice (a wish), a neighbour that does not exist."""
    entries = list(entries)
    slugs = {entry.slug for entry in entries}
    owner: dict[str, str] = {}
    remarks = []
    for entry in entries:
        file = f"{entry.slug}.md"
        for wording in (*entry.wordings, *entry.symptoms):
            key = " ".join(wording.casefold().split())
            if owner.setdefault(key, entry.slug) != entry.slug:
                told = worded(
                    "`{wording}` stands in {owner} too",
                    wording=wording[:60],
                    owner=owner[key],
                )
                remarks.append(
                    Remark(
                        file,
                        1,
                        told,
                        worded("say in it what tells the two apart"),
                        wish=True,
                    )
                )
        for near in entry.neighbours:
            if near.slug not in slugs:
                told = worded("there is no entry `{slug}`", slug=near.slug)
                remarks.append(
                    Remark(file, near.line, told, worded("name an existing entry"))
                )
    return [*remarks, *_strangers(entries)]


def _strangers(entries: Sequence[Entry]) -> Iterator[Remark]:
    """Sheets and causes to which an outcome points and which are not there."""
    causes = {entry.slug: {cause.slug for cause in entry.causes} for entry in entries}
    for entry in entries:
        for test in entry.tests:
            for outcome in test.outcomes:
                for name in outcome.see:
                    told = _strange(name, entry, causes)
                    if told:
                        yield Remark(f"{entry.slug}.md", outcome.line, *told)


def _strange(
    name: str, entry: Entry, causes: Mapping[str, Collection[str]]
) -> tuple[str, str] | None:
    """What is wrong with a name that an outcome of an entry gives, and what to write instead; None if it is right."""
    slug, _, cause = name.partition("/")
    if slug not in causes:
        return worded("there is no entry `{slug}`", slug=slug), worded(
            "name an existing entry"
        )
    if cause and cause not in causes[slug]:
        instead = worded("use one of {names}", names=", ".join(sorted(causes[slug])))
        return worded(
            "`{slug}` has no cause `{cause}`", slug=slug, cause=cause
        ), instead
    if slug == entry.slug:
        return worded("`see {name}` is this sheet", name=name), worded(
            "name the causes without `see`"
        )
    return None


def of_files(paths: Sequence[Path], customs: Customs) -> list[Remark]:
    """Every problem in those files and in the entries of those folders, and in the house files beside them, by line."""
    files: list[Path] = []
    remarks: list[Remark] = []
    for path in paths:
        files += _sheets_at(path)
        if (path / FOLDER).is_dir():
            remarks += Customs(path, None).remarks()
    sheets = [read_sheet(file, own=True, customs=customs) for file in files]
    for sheet in sheets:
        original = original_of(sheet.path)
        remarks += (
            _of_translation(sheet, read_sheet(original, own=True))
            if original
            else _of_sheets([sheet], customs)
        )
    return _by_line(remarks)


def _sheets_at(path: Path) -> list[Path]:
    """The sheets of a folder, but for its guide; a file is taken for a sheet whatever its name."""
    if not path.is_dir():
        return [path]
    return [file for file in sorted(path.glob("*.md")) if file.name != GUIDE]


def _of_translation(sheet: Sheet, original: Sheet) -> list[Remark]:
    """What is wrong in a translation: what cannot be read, and where it is not built as its original."""
    if sheet.entry is None or original.entry is None:
        return list(sheet.parsed.remarks)
    return [
        *unreadable(sheet),
        *mismatches(original.entry, sheet.entry, sheet.path.name),
    ]


def of_shelf(shelf: Shelf) -> list[Remark]:
    """Every problem in all entries that a shop sees and in its house files, by file and line."""
    sheets = list(shelf.sheets())
    served = [sheet.entry for sheet in sheets if sheet.entry]
    translated = translation_remarks(shelf, {entry.slug: entry for entry in served})
    house = shelf.customs.remarks()
    return _by_line(
        [
            *house,
            *_of_sheets(sheets, shelf.customs),
            *inspect_library(served),
            *translated,
        ]
    )


def _of_sheets(sheets: Iterable[Sheet], customs: Customs) -> list[Remark]:
    remarks: list[Remark] = []
    for sheet in sheets:
        remarks += sheet.parsed.remarks
        if sheet.parsed.entry:
            remarks += [
                *inspect(sheet.parsed.entry, customs),
                *inspect_customs(sheet.parsed.entry, customs),
            ]
    return remarks


def _by_line(remarks: Iterable[Remark]) -> list[Remark]:
    return sorted(
        remarks, key=lambda remark: (remark.file, remark.line, remark.problem)
    )


def ambiguity_groups(entry: Entry) -> list[tuple[str, ...]]:
    """The groups of causes that all listed tests together leave untold apart, in the entry's order.

    Two causes are told apart when some test expects different outcomes of them.
    """
    patterns: dict[tuple[frozenset[int], ...], list[str]] = {}
    for cause in entry.causes:
        pattern = tuple(expected_outcomes(test, cause.slug) for test in entry.tests)
        patterns.setdefault(pattern, []).append(cause.slug)
    return [tuple(group) for group in patterns.values() if len(group) > 1]


def _thin(entry: Entry, file: str) -> Iterator[Remark]:
    """Sections in which too little stands, and wordings that stand twice."""
    counted = (
        ("Symptom", len(entry.symptoms), LEAST_SYMPTOMS),
        ("Likely causes", len(entry.causes), LEAST_CAUSES),
        ("Cheapest test first", len(entry.tests), LEAST_TESTS),
        ("Also heard as", len(entry.wordings), LEAST_WORDINGS),
    )
    for heading, count, least in counted:
        if count < least:
            told = worded("`{heading}` has {count}", heading=heading, count=count)
            instead = worded(
                "write {least} or more{why}", least=least, why=_why(heading)
            )
            yield Remark(file, _line_of(entry, heading), told, instead)
    before: set[str] = set()
    for wording in entry.wordings:
        if wording in before:
            told = worded("`{wording}` stands twice", wording=wording[:60])
            yield Remark(
                file,
                _line_of(entry, "Also heard as"),
                told,
                worded("keep one of the two"),
            )
        before.add(wording)


def _why(heading: str) -> str:
    """Why so many wordings: measured on 24 stock sheets that were cut down (tests/benchmarks/FIGURES.md)."""
    if heading != "Also heard as":
        return ""
    return worded(
        ": with 3, other people's words find a sheet in 33 of 100 searches, with 12 in 52, with 24 in 60"
    )


def _stray_spellings(entry: Entry, named_here: Trade, file: str) -> list[Remark]:
    parts, tools = named_here.parts, named_here.tools
    named = [(part, fix.line, parts) for fix in entry.fixes for part in fix.parts]
    named += [(need, fix.line, tools) for fix in entry.fixes for need in fix.needs]
    named += [
        (need, test.line, parts | tools) for test in entry.tests for need in test.needs
    ]
    remarks = []
    for name, line, known in named:
        if name not in known:
            near = difflib.get_close_matches(name, sorted(known), 1)
            instead = (
                worded("write `{near}`", near=near[0])
                if near
                else worded("use a name from house/trade.toml")
            )
            remarks.append(
                Remark(
                    file,
                    line,
                    worded("`{name}` is not a known part or tool", name=name),
                    instead,
                )
            )
    return remarks


def _undivided(entry: Entry, file: str) -> Iterator[Remark]:
    """Groups of causes that no test parts, beyond those that are small or of which the entry says why."""
    excused = [set(group.causes) for group in entry.undivided]
    for group in ambiguity_groups(entry):
        is_excused = any(excuse.issuperset(group) for excuse in excused)
        if len(group) > LARGEST_SILENT_GROUP and not is_excused:
            told = worded("no test tells {group} apart", group=", ".join(group))
            instead = worded(
                "add an outcome that does, or say why under `Not told apart`"
            )
            yield Remark(file, _line_of(entry, "Cheapest test first"), told, instead)


def _order(entry: Entry, file: str) -> Iterator[Remark]:
    """Tests that are cheaper than the one before them and could stand before it."""
    for earlier, later in pairwise(entry.tests):
        is_cheaper = (
            later.minutes < earlier.minutes and later.cover_off <= earlier.cover_off
        )
        is_held = earlier.first or earlier.slug in later.after
        if is_cheaper and not is_held:
            told = worded(
                "`{title}` is cheaper than the test before it", title=later.title[:50]
            )
            yield Remark(file, later.line, told, worded("put the cheaper test first"))


def _deeds(entry: Entry, file: str) -> Iterator[Remark]:
    """What is to be done at once: few lines, short, each saying what to do."""
    heading, count = _line_of(entry, "At once"), len(entry.deeds)
    if entry.at_once and not count:
        told = worded("`At once` says nothing to do")
        yield Remark(
            file, heading, told, worded("write one to three short imperatives")
        )
    if count > MOST_DEEDS:
        told = worded("`At once` has {count} deeds", count=count)
        yield Remark(
            file,
            heading,
            told,
            worded("keep the {most_deeds} that matter most", most_deeds=MOST_DEEDS),
        )
    for one in entry.at_once:
        if len(one.deed) > LONGEST_DEED:
            told = worded("a deed has {deed} characters", deed=len(one.deed))
            yield Remark(
                file,
                one.line,
                told,
                worded("say it in {longest_deed}", longest_deed=LONGEST_DEED),
            )
        if one.deed and _NO_DEED.match(one.deed):
            told = worded("`{deed}` does not say what to do", deed=one.deed[:60])
            yield Remark(
                file,
                one.line,
                told,
                worded("begin with the deed, such as `Pull the charger.`"),
            )


def _first_tests(entry: Entry, file: str) -> Iterator[Remark]:
    """What comes before everything else is to be safe by itself."""
    for test in entry.tests:
        harm = _harm(test) if test.first else ""
        if harm:
            told = worded("a `first` test {harm}", harm=harm)
            yield Remark(
                file, test.line, told, worded("let a look or a question come first")
            )


def _harm(test: Test) -> str:
    """What a test asks for that may do harm: a cover off, or words in a sentence that forbids nothing; else empty."""
    if test.cover_off:
        return worded("asks for the cover off")
    for sentence in re.split(r"[.;:]\s", f"{test.title}. {test.detail}"):
        found = _HARMFUL.search(sentence)
        if found and not _FORBIDS.search(sentence):
            return worded("says `{found}`", found=found[0][:40])
    return ""


def _silent(entry: Entry, file: str) -> list[Remark]:
    """Tests of which nobody knows what they show with some cause."""
    remarks = []
    for test in entry.tests:
        causes = [cause.slug for cause in entry.causes if is_silent(test, cause.slug)]
        if causes and len(test.outcomes) > 1:
            listed = ", ".join(causes)
            told = worded(
                "`{title}` does not say what it shows with {listed}",
                title=test.title[:50],
                listed=listed,
            )
            instead = worded(
                "name each after an outcome, clear it with `not`, or put `says nothing of {listed}` in brackets",
                listed=listed,
            )
            remarks.append(Remark(file, test.line, told, instead))
    return remarks


def _healthy(entry: Entry, file: str) -> Iterator[Remark]:
    """A number of healthy statements that is too small or too great; a sheet may have none."""
    count = len(entry.not_this_if)
    if count and not LEAST_HEALTHY <= count <= MOST_HEALTHY:
        told = worded("`Not this if` has {count}", count=count)
        instead = worded(
            "write {least_healthy} to {most_healthy}",
            least_healthy=LEAST_HEALTHY,
            most_healthy=MOST_HEALTHY,
        )
        yield Remark(file, _line_of(entry, "Not this if"), told, instead)


def _unlike_act(test: Test, file: str, acts: Acts) -> Iterator[Remark]:
    """A test that is a standard act by its title, and whose minutes or trust are not like those of the act."""
    act = None if test.act else acts.alike(test.title)
    if act is None or test.minutes <= 0:
        return
    pairs = ((test.minutes, act.minutes), (1 - test.reliability, 1 - act.trust))
    if all(abs(own - usual) <= ACT_DIFFERS * usual for own, usual in pairs):
        return
    told = worded(
        "`{title}` takes {minutes:g} min and is trusted {reliability:.2f}, the standard act `{name}` "
        "{usual:g} and {trust:.2f}",
        title=test.title[:50],
        minutes=test.minutes,
        reliability=test.reliability,
        name=act.name,
        usual=act.minutes,
        trust=act.trust,
    )
    yield Remark(
        file,
        test.line,
        told,
        worded("write `act {name}` in the brackets", name=act.name),
        wish=True,
    )


def _without_procedure(
    entry: Entry, file: str, procedures: Procedures
) -> Iterator[Remark]:
    """Fixes that fit a part for which the house has a procedure, and do not refer to it."""
    for fix in entry.fixes:
        causes = ", ".join(fix.causes)
        for name in procedures.left_out(fix):
            told = worded(
                "`{causes}` does not refer to the procedure `{name}`",
                causes=causes,
                name=name,
            )
            instead = worded(
                "write `act {name}` in the brackets; minutes of its own may stand beside it",
                name=name,
            )
            yield Remark(file, fix.line, told, instead, wish=True)


def _one_of(name: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(name, sorted(known), 4, 0.3)
    return worded("use one of {names}", names=", ".join(near or sorted(known)))


def _line_of(entry: Entry, heading: str) -> int:
    return next(
        (section.line for section in entry.sections if section.heading == heading), 1
    )
