"""What was taught comes first when the same words are said again on the same model, and only there."""

from __future__ import annotations

import pytest
from helpers.teaching import MODEL, TIMES, Lesson, shares, taught
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.diagnosis.recall import (
    CAUSE_JOBS,
    ENTRY_JOBS,
    NAMED_JOBS,
    Recalled,
    leaning,
    names_of,
)
from kb.index import jobs
from kb.model import Confirmation

#: Complaints whose words point elsewhere: two that puzzled the search, and two that are another sheet's own wording.
LESSONS = (
    Lesson(
        "type-c port gives picture but does not charge",
        "plugged-in-not-charging/mainboard",
    ),
    Lesson("glass reacts when not touched", "touchscreen-ghost-touches/earth-contact"),
    Lesson("VGA dead", "analogue-or-older-video-output/output-chip"),
    Lesson("touchpad dead", "touchpad-wont-click/driver"),
)
WORDS = "shows no battery"


def test_a_sheet_that_was_taught_once_is_first_and_the_cause_after_three_times(
    stock_bench: Bench,
) -> None:
    """All sheets: tests/benchmarks/teach_back.py."""
    stock_bench.asking.models()

    learned = list(taught(stock_bench.folder, LESSONS))

    assert [shares(learned, after)[0] for after in range(1, TIMES + 1)] == [
        100.0
    ] * TIMES
    assert shares(learned, TIMES)[1] == 100.0


@given(st.lists(st.floats(0.001, 1.0), min_size=2, max_size=8), st.integers(0, 7))
def test_one_job_outweighs_any_likeness_and_three_any_share_of_causes(
    weights: list[float], place: int
) -> None:
    total = sum(weights)
    before = {str(number): weight / total for number, weight in enumerate(weights)}
    name = str(place % len(weights))

    for known_as, times in ((ENTRY_JOBS, 1), (CAUSE_JOBS, 3)):
        after = leaning(before, {name: times}, known_as)
        assert sum(after.values()) == pytest.approx(1.0)
        assert max(after, key=after.__getitem__) == name


def believed(bench: Bench, words: str = WORDS, model: str = MODEL) -> dict[str, float]:
    """The belief in each entry."""
    return {
        entry.entry: entry.probability
        for entry in bench.asking.search(words, model, limit=9).entries
    }


def test_other_words_other_models_and_no_model_are_not_held_to_it(bench: Bench) -> None:
    for _ in range(3):
        bench.jobs.confirm(Confirmation("keys-dead/ribbon", model=MODEL, words=WORDS))

    assert max(believed(bench), key=believed(bench).__getitem__) == "keys-dead"
    for words, model in (
        (f"{WORDS} at all, none of it", MODEL),
        (WORDS, "Skua 14"),
        (WORDS, ""),
    ):
        found = believed(bench, words, model)
        assert found.get("keys-dead", 0.0) < 0.5, (words, model)


def test_a_confirmation_that_is_retracted_is_recalled_no_more(bench: Bench) -> None:
    before = believed(bench)
    saved = bench.jobs.confirm(
        Confirmation("keys-dead/ribbon", model=MODEL, words=WORDS)
    )
    bench.jobs.retract(saved.job, "it was the plug")

    assert believed(bench) == before


def test_words_under_which_everything_was_confirmed_are_not_recalled(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(3):
        bench.jobs.confirm(Confirmation("keys-dead/ribbon", model=MODEL, words=WORDS))
    recalled = believed(bench)["keys-dead"]

    monkeypatch.setattr(jobs, "MOST_UNDER", 2)

    with bench.shop.knowing(MODEL) as knowledge:
        assert knowledge.recalled(WORDS).entries == {}
    assert recalled > 0.5


def test_what_was_taught_under_the_name_of_a_sheet_counts_and_not_the_name() -> None:
    assert Recalled().naming("odour").entries == {"odour": NAMED_JOBS}
    assert Recalled({"pen": 1.0}).naming("odour").entries == {"pen": 1.0}
    assert Recalled().naming("") == Recalled()


def test_a_name_beats_a_title_that_is_the_same() -> None:
    assert names_of({"fan-noisy": "Odour", "odour": "It smells"}) == {
        "fan noisy": "fan-noisy",
        "odour": "odour",
        "it smells": "odour",
    }
