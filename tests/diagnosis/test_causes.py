"""Belief over causes, its intervals, and what findings on other sheets move of it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
import scipy.stats
from helpers.taught import APPEARS, PACK, PLUG, UNCHANGED, WORDS, believed, odds

from kb.bench.front import Bench
from kb.diagnosis import causes
from kb.diagnosis.belief import CAUSE_MODEL_JOBS
from kb.diagnosis.causes import Counts, Diagnosis, Weighed, cause_shares, entry_belief
from kb.model import WEIGHT_ODDS, Cause, Confirmation, Entry, Finding

#: Of a cause of another sheet a test is believed 4 times in 5 (decision 11 of DEVELOPERS).
FOREIGN = 0.8

# What a test says of causes of other sheets

BOTH = "no battery is listed, typing fails, keys dead"


@pytest.mark.parametrize(("finding", "own", "foreign"), [(UNCHANGED, 0.95, FOREIGN), (APPEARS, 0.05, 1 - FOREIGN)])
def test_a_finding_on_one_sheet_moves_the_causes_of_another_by_four_in_five(
    bench: Bench, finding: Finding, own: float, foreign: float
) -> None:
    before, after = believed(bench, words=BOTH), believed(bench, finding, words=BOTH)

    for cause in ("keys-dead/ribbon", "keys-dead/spill", "keys-dead/keyboard"):
        moved = odds(after, cause, PACK) / odds(before, cause, PACK)
        assert moved == pytest.approx(foreign / own, rel=1e-9), cause


def test_the_sheet_of_a_test_that_was_done_stays_whatever_the_words_say(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In so small a library no sheet is negligible beside the best, unless that begins higher."""
    monkeypatch.setattr(causes, "NEGLIGIBLE", 0.3)
    words = "typing fails, keys dead"
    assert PLUG not in believed(bench, words=words)

    assert PLUG in believed(bench, APPEARS, words=words)


# How sure a share is


@pytest.mark.parametrize(("plug", "pack"), [(0, 0), (4, 1), (30, 10)])
def test_the_interval_beside_a_cause_is_that_of_its_jobs_and_of_the_sheets_own_weights(
    bench: Bench, plug: int, pack: int
) -> None:
    """Beta (scipy): the jobs on this model, and the sheet's weights as so many jobs more."""
    for cause, number in ((PLUG, plug), (PACK, pack)):
        for _ in range(number):
            bench.jobs.confirm(Confirmation(cause, "Tern 13"))
    entry = bench.entries.entry("no-battery")
    assert entry
    weights = {cause.slug: WEIGHT_ODDS[cause.weight] for cause in entry.causes}

    found = bench.asking.search(WORDS, "Tern 13").entries[0]

    assert found.entry == "no-battery"
    for one in found.causes:
        slug = one.cause.partition("/")[2]
        jobs = {"plug": plug, "pack": pack}.get(slug, 0) + CAUSE_MODEL_JOBS * weights[slug] / sum(weights.values())
        others = plug + pack + CAUSE_MODEL_JOBS - jobs
        expected = scipy.stats.beta.ppf([0.025, 0.975], jobs, others)
        assert [one.low, one.high] == pytest.approx(list(expected), abs=1e-6), slug


#: P(disease | no birth asphyxia) of the child network (Spiegelhalter, Dawid, Lauritzen & Cowell 1993, Statistical
#: Science 8(3), from memory; the numbers as pgmpy 1.1.2 ships them, read): PFC, TGA, Fallot, PAIVS, TAPVD, lung.
CHILD = {
    "pfc": 0.03061224, "tga": 0.33673469, "fallot": 0.29591837, "paivs": 0.23469388, "tapvd": 0.05102041,
    "lung": 0.05102041,
}  # fmt: skip


@pytest.mark.parametrize("jobs", [50, 200])
def test_intervals_hold_the_true_share_in_nine_of_ten_cases_or_more(jobs: int, library: tuple[Entry, ...]) -> None:
    """On jobs drawn from a published distribution of causes, over 100 draws; 95 % is what they are said to hold."""
    listed = tuple(Cause(name, "sometimes", name) for name in CHILD)
    entry = replace(library[0], slug="child", causes=listed, fixes=(), tests=())
    chance, held, shown = np.random.default_rng(20261129), 0, 0
    for _ in range(100):
        drawn = chance.multinomial(jobs, np.array(list(CHILD.values())) / sum(CHILD.values()))
        counts = Counts(here=dict(zip(CHILD, map(float, drawn), strict=True)))
        weighed = Weighed(cause_shares(entry, counts), counts)
        believed = Diagnosis((), {f"child/{name}": share for name, share in weighed.shares.items()}, {})
        for cause in entry_belief(believed, entry, weighed, Counts()).causes:
            shown += 1
            held += cause.low <= CHILD[cause.name] <= cause.high
    print(json.dumps({"jobs": jobs, "coverage": held / shown}))
    assert held / shown >= 0.90


def test_an_interval_is_as_wide_as_the_jobs_say_on_which_a_share_rests(library: tuple[Entry, ...]) -> None:
    entry = replace(library[0], fixes=(), tests=())
    counts = Counts(here={entry.causes[0].slug: 4.0})
    shares = cause_shares(entry, counts)
    believed = Diagnosis((), {f"{entry.slug}/{name}": share for name, share in shares.items()}, {})

    def width(rests_on: dict[str, float]) -> float:
        weighed = Weighed(shares, counts, rests_on=rests_on)
        causes = {one.cause: one for one in entry_belief(believed, entry, weighed, Counts()).causes}
        first = causes[f"{entry.slug}/{entry.causes[0].slug}"]
        return first.high - first.low

    assert width({entry.causes[0].slug: 4.0 + CAUSE_MODEL_JOBS}) == width({})
    assert width({entry.causes[0].slug: 1_000.0}) < width({}) / 5
