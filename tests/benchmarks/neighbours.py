"""Neighbours: how many steps longer a fault takes that is told in the words of another sheet than in its own.

Run `PYTHONPATH=.:tests python tests/benchmarks/neighbours.py` (see --help). Every sheet that an outcome of another
one leads to is the right one; a likely cause of it is the fault. It is told once by a symptom of its own sheet, once
by a symptom of the sheet with that outcome, and played by the advice step by step. A test shows what its sheet says of
that fault; one that knows nothing of it clears what it can. Where the program asks which of two pictures it is and one
of them is the right one, that is answered in the words of the question, which counts as a step.
"""

from __future__ import annotations

import argparse
import hashlib
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random
from statistics import mean

from helpers.playing import clearing

from kb.bench.front import Bench
from kb.diagnosis.case import UNTOUCHED
from kb.library.outcomes import outcome_probabilities, pointing_probabilities
from kb.library.shelf import Shelf, stock_folder
from kb.model import WEIGHT_ODDS, Entry, Finding, Test

#: A fault that is not found by then is given up; so many steps more than by its own words may be taken.
MOST_STEPS, MORE = 15, 2


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause of a sheet, and the sheet in whose words it is told."""

    sheet: str
    cause: str
    told_as: str


@dataclass(frozen=True, slots=True)
class Found:
    """After how many steps the right sheet led, and the fix was proposed; more than MOST_STEPS where never."""

    led: int
    mended: int


def half_of(fault: Fault) -> int:
    """The half, 0 or 1, to which the pair of sheets belongs: what was looked at, and what was not."""
    name = f"{fault.told_as}|{fault.sheet}"
    return int(hashlib.sha1(name.encode()).hexdigest(), 16) % 2


def faults(sheets: Sequence[Entry], chance: Random) -> Iterator[Fault]:
    """A fault for each pair of sheets of which an outcome of one leads to the other."""
    by_slug = {entry.slug: entry for entry in sheets}
    for entry in sheets:
        for slug in entry.leads_to:
            causes = by_slug[slug].causes
            (cause,) = chance.choices(
                causes, [WEIGHT_ODDS[one.weight] for one in causes]
            )
            yield Fault(slug, cause.slug, entry.slug)


def played(bench: Bench, words: str, fault: Fault, chance: Random) -> Found:
    """The steps that the advice takes from these words to the fix."""
    at, findings, led = UNTOUCHED, list[Finding](), MOST_STEPS + 1
    said = _asked_back(bench, words, fault)
    for steps in range(1 if said else 0, MOST_STEPS + 1):
        answer = bench.asking.search(
            f"{words}, {said}" if said else words,
            findings=tuple(findings),
            at=at,
            limit=2,
        )
        if answer.entries[0].entry == fault.sheet:
            led = min(led, steps)
        step = answer.next_step
        sheet = bench.entries.entry(step.entry) if step and step.entry else None
        if step is None or sheet is None:
            break
        if step.kind == "fix":
            fix = sheet.fix_for(step.name)
            if sheet.slug == fault.sheet and fix and fault.cause in fix.causes:
                return Found(min(led, steps), steps)
            at = replace(at, failed=(*at.failed, f"{step.entry}/{step.name}"))
        elif test := sheet.test(step.name):
            findings.append(
                Finding(f"{step.entry}/{step.name}", _shown(sheet, test, fault, chance))
            )
    return Found(led, MOST_STEPS + 1)


def _asked_back(bench: Bench, words: str, fault: Fault) -> str:
    """What is seen of the right picture where the program asks whether it is that or another; else empty."""
    asked = bench.asking.search(words, limit=1).parting
    if asked is None or fault.sheet not in (asked.first, asked.second):
        return ""
    return asked.seen[fault.sheet == asked.second]


def _shown(sheet: Entry, test: Test, fault: Fault, chance: Random) -> str:
    """What a test shows with the fault: drawn from what its sheet says of it, else the outcome that clears most."""
    if sheet.slug == fault.sheet:
        likely = outcome_probabilities(test, fault.cause)
    else:
        likely = pointing_probabilities(test, fault.sheet, fault.cause)
    if not likely:
        return clearing(test)
    (outcome,) = chance.choices(test.outcomes, likely)
    return outcome.text


def _line(pairs: Sequence[tuple[Found, Found]]) -> str:
    """The line of the table: steps by own words and the neighbour's, shares within two more, and those given up."""
    own, other = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    within = sum(
        there.mended <= here.mended + MORE
        for here, there in pairs
        if there.mended <= MOST_STEPS
    )
    leads = sum(
        there.led <= here.led + MORE for here, there in pairs if there.led <= MOST_STEPS
    )
    ended = [
        sum(found.mended > MOST_STEPS for found in found_by) / len(pairs)
        for found_by in (own, other)
    ]
    steps = mean(found.mended for found in own), mean(found.mended for found in other)
    return (
        f"| {len(pairs)} | {steps[0]:.1f} | {steps[1]:.1f} | {leads / len(pairs):.1%} | {within / len(pairs):.1%} "
        f"| {ended[0]:.1%} | {ended[1]:.1%} |"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument(
        "--one-in", type=int, default=1, help="play only one fault in so many"
    )
    parser.add_argument(
        "--played-in",
        type=Path,
        help="another library to play the same faults in, such as an older one",
    )
    parser.add_argument(
        "--pairs-of",
        type=Path,
        default=stock_folder(),
        help="the library whose pairs are played",
    )
    parser.add_argument("--half", type=int, choices=(0, 1), help="only these pairs")
    given = parser.parse_args()
    chance = Random(given.seed)
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder) / "shop", stock=given.played_in)
        sheets = tuple(
            sheet.entry for sheet in Shelf(given.pairs_of, None).sheets() if sheet.entry
        )
        by_slug = {entry.slug: entry for entry in sheets}
        pairs = []
        for fault in list(faults(sheets, chance))[:: given.one_in]:
            if given.half not in (None, half_of(fault)):
                continue
            own = Random(f"{given.seed} {fault}")
            words = [
                own.choice(by_slug[slug].symptoms)
                for slug in (fault.sheet, fault.told_as)
            ]
            here, there = (played(bench, one, fault, own) for one in words)
            pairs.append((here, there))
        bench.close()
    print(
        "| faults | steps, own words | neighbour's | leads by 2 more | mended by 2 more | given up, own | neighbour's |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- |")
    print(_line(pairs))


if __name__ == "__main__":
    main()
