"""The shipped sheets are believed as a bench would believe them; mend the sheet, not the gate.

What points to a cause leads, what cures convinces, what clears leaves no stranger in its place, and nothing is asked
of a machine that it cannot do.
"""

from __future__ import annotations

from functools import cache

import pytest
from helpers.believing import Told, pointing
from helpers.playing import Played, played_clearing, related

from kb.bench.front import Bench
from kb.diagnosis.shown import all_shown, says_state
from kb.library import states
from kb.model import Entry, Finding, Fix, Test

#: Outcomes that point to a cause after which another one may lead.
MOST_LED_ASTRAY = 5
#: What a good part that cured leaves for its cause; less only where its weight and the test's trust allow no more.
CURED, OF_WHAT_IT_MIGHT = 0.85, 0.75
#: A sheet that the complaint never meant is not believed more than this while all tests clear.
STRANGER = 0.3


@cache
def _told(library: tuple[Entry, ...]) -> list[Told]:
    return [told for entry in library for told in pointing(entry)]


def test_after_an_outcome_that_points_to_a_cause_it_leads(
    library: tuple[Entry, ...],
) -> None:
    astray = [
        str(told) for told in _told(library) if told.leads not in told.outcome.points_to
    ]

    assert len(_told(library)) > 1_000
    assert len(astray) <= MOST_LED_ASTRAY, "\n".join(astray)


def test_a_good_part_that_cured_convinces_as_far_as_its_weight_allows(
    library: tuple[Entry, ...],
) -> None:
    """A part that is rarely at fault stays in doubt after one cure: seating the plug anew cures as well."""
    cures = [
        told
        for told in _told(library)
        if told.swapped == set(told.outcome.points_to) != set()
    ]
    weak = []
    for told in cures:
        share = sum(told.belief[cause] for cause in told.swapped)
        if share < CURED and share < OF_WHAT_IT_MIGHT * told.might(told.swapped):
            weak.append(f"{share:.2f} {told}")

    assert len(cures) > 60
    assert not weak, "\n".join(weak)


def test_an_outcome_that_points_to_another_sheet_brings_it_to_the_front(
    stock_bench: Bench, library: tuple[Entry, ...]
) -> None:
    """Asked by the title of the sheet that points: after that one outcome the other sheet leads, or stands by it."""
    asked = [
        (entry, test, outcome)
        for entry in library
        for test in entry.tests
        for outcome in test.outcomes
    ]
    leads = []
    for entry, test, outcome in asked:
        if outcome.see and not outcome.points_to:
            finding = Finding(f"{entry.slug}/{test.slug}", outcome.text)
            ranking = [
                one.entry
                for one in stock_bench.asking.search(
                    entry.title, findings=[finding], limit=3
                ).entries
            ]
            meant = {name.partition("/")[0] for name in outcome.see}
            assert meant.intersection(ranking), f"{entry.slug}: {outcome.text}"
            leads.append(ranking[0] in meant)

    assert len(leads) >= 40
    assert sum(leads) >= 0.95 * len(leads)


@pytest.fixture(scope="module")
def games(stock_bench: Bench, library: tuple[Entry, ...]) -> dict[str, list[Played]]:
    """Every sheet played from its title with every test clearing."""
    return {entry.slug: list(played_clearing(stock_bench, entry)) for entry in library}


def test_while_all_tests_clear_no_stranger_takes_the_belief(
    games: dict[str, list[Played]], library: tuple[Entry, ...]
) -> None:
    strangers = [
        f"{entry.slug}: {one.entry} {one.probability:.2f}"
        for entry in library
        for played in games[entry.slug]
        for one in played.answer.entries
        if one.entry not in related(entry) and one.probability > STRANGER
    ]

    assert not strangers, "\n".join(strangers)


def test_nothing_is_asked_of_a_machine_that_it_cannot_do(
    games: dict[str, list[Played]], stock_bench: Bench
) -> None:
    """By what an outcome said last, else by the likeliest sheet."""
    asked = []
    for slug, game in games.items():
        for played in game:
            step = _step(played, stock_bench)
            known = _states(played, stock_bench)
            if step is not None and not states.can_be_done(step, known):
                asked.append(
                    f"{slug}: {played.answer.next_step} on a machine that is {known}"
                )

    assert not asked, "\n".join(asked[:5])


def _step(played: Played, bench: Bench) -> Test | Fix | None:
    step = played.answer.next_step
    entry = bench.entries.entry(step.entry) if step and step.entry else None
    if step is None or entry is None:
        return None
    return entry.test(step.name) if step.kind == "test" else entry.fix_for(step.name)


def _states(played: Played, bench: Bench) -> tuple[str, ...]:
    last = says_state(all_shown(played.findings, bench.entries.entry))
    if last:
        return last.outcome.machine
    top = (
        bench.entries.entry(played.answer.entries[0].entry)
        if played.answer.entries
        else None
    )
    return top.machine if top else ()
