"""The front door: a confirmation changes the next answer, a retraction takes it back."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis import counts
from kb.diagnosis.case import SoFar
from kb.model import Confirmation, Finding

BOARD = "no-battery/light-board"


def _causes(bench: Bench, words: str, model: str) -> list[str]:
    return [cause.slug for cause in bench.asking.search(words, model).entries[0].causes]


def test_without_history_the_order_is_the_entrys_own(bench: Bench) -> None:
    assert _causes(bench, "batt missing", "Tern 13") == ["pack", "plug", "light-board"]


def test_an_unlikely_cause_confirmed_a_few_times_comes_first_on_that_model_only(
    bench: Bench,
) -> None:
    for number in range(6):
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13", unit=f"T-{number}"))

    assert _causes(bench, "batt missing", "Tern 13")[0] == "light-board"
    cause = bench.asking.search("batt missing", "Tern 13").entries[0].causes[0]
    assert (cause.confirmed_here, cause.confirmed_elsewhere) == (6, 0)
    other = bench.asking.search("batt missing", "Skua 14").entries[0].causes
    assert {c.slug: c.confirmed_elsewhere for c in other}["light-board"] == 6


def test_two_of_two_is_not_called_certain(bench: Bench) -> None:
    for _ in range(2):
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))

    cause = next(
        c
        for c in bench.asking.search("batt missing", "Tern 13").entries[0].causes
        if c.slug == "light-board"
    )

    assert cause.within < 0.6
    assert cause.high < 0.95


def test_one_more_confirmation_never_lowers_its_cause(bench: Bench) -> None:
    before = 0.0
    for _ in range(4):
        shares = {
            c.slug: c.within
            for c in bench.asking.search("batt missing", "Tern 13").entries[0].causes
        }
        assert shares["light-board"] > before
        before = shares["light-board"]
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))


def test_jobs_under_words_said_of_everything_say_less_of_how_often_an_entry_is_it(
    bench: Bench,
) -> None:
    """Four told "dead", two of them of one entry; told nothing, or words of its own, a job counts whole."""
    other = "starts-no-charge/charger"
    for cause, words in (
        (BOARD, "dead"),
        (BOARD, "dead"),
        (other, "dead"),
        (other, "dead"),
        (BOARD, ""),
    ):
        bench.jobs.confirm(Confirmation(cause, "Tern 13", words=words))
    bench.jobs.confirm(
        Confirmation(other, "Tern 13", words="dark as a cellar, that jack")
    )

    with bench.shop.files.reading() as (index, _):
        counted = counts.confirmed(index.jobs.alike("Tern 13", by_day=False))

    assert counted.entries.here == {
        "no-battery": 0.5 + 0.5 + 1,
        "starts-no-charge": 0.5 + 0.5 + 1,
    }
    assert counted.entries.told.here == {"no-battery": 3, "starts-no-charge": 3}
    assert counted.causes["no-battery"].here == {"light-board": 3}
    assert {
        one.slug: one.jobs for one in bench.entries.catalogue().listed if one.jobs
    } == counted.entries.told.here


def test_an_outcome_moves_the_belief_and_taking_it_back_restores_it(
    bench: Bench,
) -> None:
    before = bench.asking.search("batt missing")
    found = Finding("no-battery/fit-a-battery-known-to-be-good", "battery appears")

    after = bench.asking.search("batt missing", findings=[found])

    assert after.entries[0].causes[0].slug == "pack"
    assert after.entries[0].causes[0].within > 0.85
    assert bench.asking.search("batt missing").entries == before.entries


def test_outcomes_that_clear_everything_make_something_else_grow(bench: Bench) -> None:
    findings = [
        Finding("no-battery/reseat-the-battery-plug", "no change"),
        Finding("no-battery/unplug-the-charge-light-board", "no change"),
        Finding("no-battery/fit-a-battery-known-to-be-good", "no change"),
    ]

    shares = [
        bench.asking.search("batt missing", findings=findings[:done]).something_else
        for done in range(4)
    ]

    assert shares[3] > max(shares[:3])
    assert shares[3] > 0.75  # the rest: the neighbours of which nothing was tested


def test_a_fix_that_did_not_help_takes_its_causes_out_of_the_belief(
    bench: Bench,
) -> None:
    tried = SoFar(failed=("no-battery/pack",))

    causes = {
        c.slug: c.probability
        for c in bench.asking.search("batt missing", at=tried).entries[0].causes
    }

    assert causes["pack"] == 0.0
    assert (
        causes["plug"]
        > {
            c.slug: c.probability
            for c in bench.asking.search("batt missing").entries[0].causes
        }["plug"]
    )


def test_the_order_of_outcomes_is_irrelevant(bench: Bench) -> None:
    findings = [
        Finding("no-battery/reseat-the-battery-plug", "no change"),
        Finding("no-battery/fit-a-battery-known-to-be-good", "no change"),
    ]

    one, other = (
        bench.asking.search("batt", findings=findings),
        bench.asking.search("batt", findings=findings[::-1]),
    )

    for a, b in zip(one.entries, other.entries, strict=True):
        assert a.probability == pytest.approx(b.probability)
