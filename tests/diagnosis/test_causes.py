"""Belief over causes, its intervals, and what findings on other sheets move of it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from helpers.states import CHARGER, TORCH, stated_bench
from helpers.taught import APPEARS, PACK, PLUG, UNCHANGED, WORDS, believed, odds

from kb.bench.front import Bench
from kb.diagnosis import causes
from kb.diagnosis.belief import (
    CAUSE_MODEL_JOBS,
    ENTRY_MODEL_JOBS,
    ENTRY_PRIOR_JOBS,
    UNLISTED_SHARE,
)
from kb.diagnosis.causes import (
    LEADING,
    LED_TO,
    LESS_MEANT,
    Candidate,
    Counts,
    Diagnosis,
    Weighed,
    cause_shares,
    diagnose,
    entry_belief,
    of_entries,
)
from kb.diagnosis.knowledge import OneEntry
from kb.model import SOMETHING_ELSE, WEIGHT_ODDS, Cause, Confirmation, Entry, Finding

#: Of a cause of another sheet a test is believed 4 times in 5 (decision 11 of DEVELOPERS).
FOREIGN = 0.8

# What a test says of causes of other sheets

BOTH = "no battery is listed, typing fails, keys dead"


@pytest.mark.parametrize(
    ("finding", "own", "foreign"),
    [(UNCHANGED, 0.95, FOREIGN), (APPEARS, 0.05, 1 - FOREIGN)],
)
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
        jobs = {"plug": plug, "pack": pack}.get(slug, 0) + CAUSE_MODEL_JOBS * weights[
            slug
        ] / sum(weights.values())
        others = plug + pack + CAUSE_MODEL_JOBS - jobs
        expected = scipy.stats.beta.ppf([0.025, 0.975], jobs, others)
        assert [one.low, one.high] == pytest.approx(list(expected), abs=1e-6), slug


#: P(disease | no birth asphyxia) of the child network (Spiegelhalter, Dawid, Lauritzen & Cowell 1993, Statistical
#: Science 8(3), from memory; the numbers as pgmpy 1.1.2 ships them, read): PFC, TGA, Fallot, PAIVS, TAPVD, lung.
CHILD = {
    "pfc": 0.03061224,
    "tga": 0.33673469,
    "fallot": 0.29591837,
    "paivs": 0.23469388,
    "tapvd": 0.05102041,
    "lung": 0.05102041,
}


@pytest.mark.parametrize("jobs", [50, 200])
def test_intervals_hold_the_true_share_in_nine_of_ten_cases_or_more(
    jobs: int, library: tuple[Entry, ...]
) -> None:
    """On jobs drawn from a published distribution of causes, over 100 draws; 95 % is what they are said to hold."""
    listed = tuple(Cause(name, "sometimes", name) for name in CHILD)
    entry = replace(library[0], slug="child", causes=listed, fixes=(), tests=())
    chance, held, shown = np.random.default_rng(20261129), 0, 0
    for _ in range(100):
        drawn = chance.multinomial(
            jobs, np.array(list(CHILD.values())) / sum(CHILD.values())
        )
        counts = Counts(here=dict(zip(CHILD, map(float, drawn), strict=True)))
        weighed = Weighed(cause_shares(entry, counts), counts)
        believed = Diagnosis(
            (), {f"child/{name}": share for name, share in weighed.shares.items()}, {}
        )
        for cause in entry_belief(believed, entry, weighed, Counts()).causes:
            shown += 1
            held += cause.low <= CHILD[cause.name] <= cause.high
    print(json.dumps({"jobs": jobs, "coverage": held / shown}))
    assert held / shown >= 0.90


def test_an_interval_is_as_wide_as_the_jobs_say_on_which_a_share_rests(
    library: tuple[Entry, ...],
) -> None:
    entry = replace(library[0], fixes=(), tests=())
    counts = Counts(here={entry.causes[0].slug: 4.0})
    shares = cause_shares(entry, counts)
    believed = Diagnosis(
        (), {f"{entry.slug}/{name}": share for name, share in shares.items()}, {}
    )

    def width(rests_on: dict[str, float]) -> float:
        weighed = Weighed(shares, counts, rests_on=rests_on)
        causes = {
            one.cause: one
            for one in entry_belief(believed, entry, weighed, Counts()).causes
        }
        first = causes[f"{entry.slug}/{entry.causes[0].slug}"]
        return first.high - first.low

    assert width({entry.causes[0].slug: 4.0 + CAUSE_MODEL_JOBS}) == width({})
    assert width({entry.causes[0].slug: 1_000.0}) < width({}) / 5


# Of the belief over all candidates


def diagnosis(**shares: float) -> Diagnosis:
    """A belief: `x_y` is the cause y of the entry x, `x_` something else in its picture, `_` none of the entries."""
    parts = {name: name.partition("_") for name in shares}
    candidates = [
        Candidate(entry, cause or SOMETHING_ELSE, 0.1)
        for entry, _, cause in parts.values()
    ]
    posterior = {
        one.name: share for one, share in zip(candidates, shares.values(), strict=True)
    }
    return Diagnosis(tuple(candidates), posterior, {})


def test_something_else_is_what_no_entry_lists_and_the_rest_belongs_to_the_entries() -> (
    None
):
    found = diagnosis(_=0.1, a_x=0.3, a_y=0.2, a_=0.05, z_x=0.25, z_=0.1)

    assert found.something_else == pytest.approx(0.25)
    assert found.unlisted == {"a": 0.05, "z": 0.1}
    assert found.by_entry == pytest.approx({"a": 0.5, "z": 0.25})


@pytest.mark.parametrize(
    ("none", "a", "z", "picture"),
    [
        (0.1, 0.05, 0.2, "z"),
        (0.1, 0.2, 0.05, "a"),
        (0.1, 0.0, 0.1, ""),
        (0.1, 0, 0, ""),
    ],
)
def test_a_picture_is_named_for_more_than_half_of_what_is_not_listed(
    none: float, a: float, z: float, picture: str
) -> None:
    assert diagnosis(_=none, a_=a, z_=z, a_x=0.5).unlisted_picture == picture


def test_few_entries_fit_that_are_believed_clearly_more_than_something_else() -> None:
    """The five likeliest together are held against 4.2 times as much: .84 against .2 is just enough, .83 is not."""
    five = {f"{name}_x": 0.16 for name in "abcde"}

    assert diagnosis(_=0.2, **five | {"a_x": 0.2}, f_x=0.01).anything_fits
    assert not diagnosis(_=0.2, **five | {"a_x": 0.19}, f_x=0.01).anything_fits
    assert diagnosis(_=0.1, a_x=0.43).anything_fits
    assert not diagnosis(_=0.1, a_x=0.41).anything_fits


def test_entries_are_believed_by_their_words_and_by_how_often_they_came_up_on_both_levels() -> (
    None
):
    """By hand, two of four entries being excluded by the words; the counts of those go with none of them."""
    counts = Counts(
        here={"a": 2.0, "c": 4.0}, elsewhere={"a": 8.0, "b": 2.0, "d": 10.0}
    )
    jobs, few = 4 * ENTRY_PRIOR_JOBS, 4 * ENTRY_MODEL_JOBS
    elsewhere = {"a": (8 + jobs / 4) / (20 + jobs), "b": (2 + jobs / 4) / (20 + jobs)}
    prior = {
        "a": (2 + few * elsewhere["a"]) / (6 + few),
        "b": few * elsewhere["b"] / (6 + few),
    }
    weights = {
        "a": 4 * prior["a"] * math.exp(0.62 * 3),
        "b": 4 * prior["b"] * math.exp(0.62 * -1),
        "": 1.0,
    }

    found = of_entries({"a": 3.0, "b": -1.0}, counts, 2)

    assert found == pytest.approx(
        {slug: weight / sum(weights.values()) for slug, weight in weights.items()}
    )


def test_without_history_and_words_that_exclude_nothing_each_entry_is_as_likely_as_none() -> (
    None
):
    assert of_entries({"a": 0.0, "b": 0.0}, Counts()) == pytest.approx(
        {"a": 1 / 3, "b": 1 / 3, "": 1 / 3}
    )


def test_each_cause_of_an_entry_has_its_share_of_it_and_the_minutes_of_its_fix(
    bench: Bench,
) -> None:
    entry = bench.entries.entry("no-battery")
    assert entry
    found = bench.asking.search(WORDS, "Tern 13").entries[0]

    assert found.entry == entry.slug
    for one in found.causes:
        fix = entry.fix_for(one.slug)
        assert fix
        assert one.fix_minutes == fix.minutes
        assert one.within == pytest.approx(one.probability / found.probability)


def test_a_cause_without_a_fix_takes_no_minutes_and_one_of_an_entry_that_is_out_keeps_its_share(
    library: tuple[Entry, ...],
) -> None:
    listed = (Cause("x", "sometimes", "x"), Cause("y", "sometimes", "y"))
    entry = replace(library[0], slug="a", causes=listed, fixes=(), tests=())
    weighed = Weighed(cause_shares(entry, Counts()), Counts())

    found = entry_belief(diagnosis(a_x=0.0, a_y=0.0), entry, weighed, Counts())

    assert [one.fix_minutes for one in found.causes] == [0.0, 0.0]
    assert [one.within for one in found.causes] == [
        weighed.shares["x"],
        weighed.shares["y"],
    ]


def test_of_one_entry_alone_history_says_nothing_while_no_other_is_excluded(
    library: tuple[Entry, ...],
) -> None:
    """There is nothing it could be more frequent than; with one that the words exclude it is."""
    entry = replace(
        library[0], slug="a", causes=(Cause("x", "sometimes", "x"),), fixes=(), tests=()
    )
    knowledge = OneEntry(entry, cause_shares(entry, Counts()), Counts(here={"a": 5.0}))

    assert diagnose({"a": 0.0}, knowledge).something_else == pytest.approx(
        0.5 + 0.5 * UNLISTED_SHARE
    )
    assert diagnose({"a": 0.0}, knowledge, others=1).something_else < 0.5


@pytest.mark.parametrize("beside", [{}, {"dark-panel": -9.0}, {"dark-panel": 2.0}])
def test_a_sheet_that_an_outcome_points_to_was_a_quarter_as_likely_before_as_the_one_that_points_there(
    tmp_path: Path, beside: dict[str, float]
) -> None:
    """Unless its own words made it likelier; a complaint in four is told in the words of a neighbour."""
    bench = stated_bench(tmp_path)
    scores = {"stone-dead": 1.0, **beside}
    finding = Finding(TORCH, "faint picture")
    with bench.shop.knowing() as knowledge:
        shares = of_entries(scores, knowledge.counts)
        found = diagnose(scores, knowledge, findings=[finding])
    bench.close()

    before = sum(one.prior for one in found.candidates if one.entry == "dark-panel")
    assert before == pytest.approx(
        max(0.25 * shares["stone-dead"], shares.get("dark-panel", 0.0))
    )


def test_once_a_test_was_answered_the_sheets_to_which_tests_lead_are_believed_a_little(
    tmp_path: Path,
) -> None:
    """Only so is the test that leads on worth its minutes; before, words alone say what it may be."""
    bench = stated_bench(tmp_path)
    scores = {"stone-dead": 1.0}
    finding = Finding(CHARGER, "still nothing")
    with bench.shop.knowing() as knowledge:
        share = of_entries(scores, knowledge.counts)["stone-dead"]
        untouched = diagnose(scores, knowledge)
        begun = [
            diagnose(scores, knowledge, findings=[finding]),
            diagnose(scores, knowledge, failed=["stone-dead/charger"]),
        ]
    bench.close()

    assert {one.entry for one in untouched.candidates} == {"", "stone-dead"}
    for found in begun:
        led_to = sum(one.prior for one in found.candidates if one.entry == "dark-panel")
        assert led_to == pytest.approx(LED_TO * share)


def test_a_sheet_that_is_hardly_believed_lends_nothing_to_those_its_tests_lead_to(
    tmp_path: Path,
) -> None:
    bench = stated_bench(tmp_path)
    scores = {"stone-dead": -6.0}
    finding = Finding(CHARGER, "still nothing")
    with bench.shop.knowing() as knowledge:
        assert of_entries(scores, knowledge.counts)["stone-dead"] < LEADING
        found = diagnose(scores, knowledge, findings=[finding])
    bench.close()

    assert {one.entry for one in found.candidates} == {"", "stone-dead"}


def test_a_habit_of_the_model_is_not_given_up_for_one_outcome_that_points_elsewhere(
    tmp_path: Path,
) -> None:
    """What the shop has had more seldom on the model is told in the words of its habit as much more seldom."""
    bench = stated_bench(tmp_path)
    for _ in range(90):
        bench.jobs.confirm(Confirmation("stone-dead/board", "Tern 13"))
    scores = {"stone-dead": 1.0}
    finding = Finding(TORCH, "faint picture")
    before = {}
    for model in ("Tern 13", "Skua 14"):
        with bench.shop.knowing(model) as knowledge:
            share = of_entries(scores, knowledge.counts)["stone-dead"]
            found = diagnose(scores, knowledge, findings=[finding])
        led_to = [one.prior for one in found.candidates if one.entry == "dark-panel"]
        before[model] = sum(led_to) / share
    bench.close()

    assert before["Tern 13"] < before["Skua 14"] / 4 < 0.25 / 4


def test_of_several_sheets_to_which_an_outcome_points_the_words_choose(
    tmp_path: Path,
) -> None:
    bench = stated_bench(tmp_path)
    sheet = tmp_path / "stock" / "stone-dead.md"
    both = sheet.read_text().replace("see dark-panel", "see dark-panel, no-network")
    sheet.write_text(both)
    scores = {"stone-dead": 1.0, "dark-panel": -4.0, "no-network": -14.0}
    finding = Finding(TORCH, "faint picture")
    with bench.shop.knowing() as knowledge:
        share = of_entries(scores, knowledge.counts)["stone-dead"]
        found = diagnose(scores, knowledge, findings=[finding])
    bench.close()

    led_to = {
        slug: sum(one.prior for one in found.candidates if one.entry == slug) / share
        for slug in ("dark-panel", "no-network")
    }
    assert led_to["dark-panel"] == pytest.approx(0.25)
    assert led_to["no-network"] == pytest.approx(0.25 * LESS_MEANT)
