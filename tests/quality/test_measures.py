"""The measures themselves against published and recomputed figures."""

from __future__ import annotations

import math

import numpy as np
import pytest
from helpers.measures import (
    bins,
    brier,
    brier_of_classes,
    calibration_error,
    dcg,
    log_loss,
    log_loss_of_classes,
    mean,
    murphy,
    ndcg,
    reciprocal_rank,
    success_at,
    worst_gap,
)
from hypothesis import given
from hypothesis import strategies as st

#: Grades of six results in the order shown: the worked example in the usual encyclopaedia article (from memory).
GRADES = (3, 2, 3, 0, 1, 2)
#: Three queries whose first relevant result stands at rank 3, 2 and 1 (the encyclopaedia's example for the mean).
QUERIES = ((False, False, True), (False, True, False), (True, False, False))

#: 20 forecasts in three groups, computed by hand: .1 with 1 event in 5, .4 with 2 in 5, .8 with 7 in 10.
FORECASTS = (0.1,) * 5 + (0.4,) * 5 + (0.8,) * 10
HAPPENED = (
    (True,) + (False,) * 4 + (True,) * 2 + (False,) * 3 + (True,) * 7 + (False,) * 3
)

#: Three classes, computed by hand: the summed squares are .14, .86 and .24.
CLASSES = (
    {"a": 0.7, "b": 0.2, "c": 0.1},
    {"a": 0.3, "b": 0.6, "c": 0.1},
    {"a": 0.2, "b": 0.2, "c": 0.6},
)
TRUTHS = ("a", "a", "c")

#: Nine points of a public tutorial on calibration error, three bins.
NINE = (0.22, 0.64, 0.92, 0.42, 0.51, 0.15, 0.70, 0.37, 0.83)
NINE_HAPPENED = tuple(bool(hit) for hit in (0, 1, 0, 0, 0, 1, 1, 0, 1))


def test_ndcg_divides_by_the_best_order_of_the_same_grades() -> None:
    assert dcg(GRADES) == pytest.approx(6.861127, abs=1e-6)
    assert dcg(sorted(GRADES, reverse=True)) == pytest.approx(7.140995, abs=1e-6)
    assert ndcg(GRADES, GRADES) == pytest.approx(0.960808, abs=1e-6)


def test_ndcg_charges_for_relevant_items_that_were_never_shown() -> None:
    """Figures of ir-measures and ranx for the same grades with a 3 and a 2 missed."""
    judged = (*GRADES, 3, 2)

    assert dcg(sorted(judged, reverse=True)[:6]) == pytest.approx(8.740262, abs=1e-6)
    assert ndcg(GRADES, judged, at=6) == pytest.approx(0.785002, abs=1e-6)


def test_the_best_order_scores_one_and_nothing_relevant_scores_nothing() -> None:
    assert ndcg([3, 2, 0], [0, 2, 3]) == pytest.approx(1.0)
    assert ndcg([0, 0], [0, 0]) == 0.0


def test_success_and_reciprocal_rank_follow_the_first_relevant_result() -> None:
    assert mean([reciprocal_rank(query) for query in QUERIES]) == pytest.approx(
        0.611111, abs=1e-6
    )
    assert mean([reciprocal_rank(query, at=2) for query in QUERIES]) == pytest.approx(
        0.5
    )
    assert [
        mean([success_at(k, query) for query in QUERIES]) for k in (1, 2, 3)
    ] == pytest.approx([1 / 3, 2 / 3, 1])
    assert mean([ndcg(query, query, at=3) for query in QUERIES]) == pytest.approx(
        0.710310, abs=1e-6
    )


def test_a_query_without_any_relevant_result_scores_nothing() -> None:
    assert success_at(10, [False, False]) == 0.0
    assert reciprocal_rank([False, False]) == 0.0
    assert reciprocal_rank([]) == 0.0


def test_the_brier_score_of_an_event_falls_into_murphys_three_parts() -> None:
    parts = murphy(FORECASTS, HAPPENED)

    assert brier(FORECASTS, HAPPENED) == pytest.approx(0.2125)
    assert (parts.reliability, parts.resolution, parts.uncertainty) == pytest.approx(
        (0.0075, 0.045, 0.25)
    )
    assert log_loss(FORECASTS, HAPPENED) == pytest.approx(0.623970, abs=1e-6)


@given(
    st.lists(
        st.tuples(st.sampled_from([0.0, 0.1, 0.35, 0.5, 0.8, 1.0]), st.booleans()),
        min_size=1,
        max_size=60,
    )
)
def test_murphys_parts_always_add_up_to_the_brier_score(
    cases: list[tuple[float, bool]],
) -> None:
    forecasts, happened = [p for p, _ in cases], [hit for _, hit in cases]

    assert murphy(forecasts, happened).score == pytest.approx(
        brier(forecasts, happened), abs=1e-12
    )


def test_the_brier_score_of_classes_sums_over_all_of_them() -> None:
    single = [
        brier_of_classes([forecast], [truth])
        for forecast, truth in zip(CLASSES, TRUTHS, strict=True)
    ]

    assert single == pytest.approx([0.14, 0.86, 0.24])
    assert brier_of_classes(CLASSES, TRUTHS) == pytest.approx(0.413333, abs=1e-6)


def test_for_two_classes_the_score_of_classes_is_twice_that_of_the_event() -> None:
    both = [{"yes": p, "no": 1 - p} for p in FORECASTS]
    truths = ["yes" if hit else "no" for hit in HAPPENED]

    assert brier_of_classes(both, truths) == pytest.approx(
        2 * brier(FORECASTS, HAPPENED)
    )
    assert log_loss_of_classes(both, truths) == pytest.approx(
        log_loss(FORECASTS, HAPPENED)
    )


def test_a_true_class_that_was_not_named_counts_as_forecast_at_nothing() -> None:
    assert brier_of_classes([{"a": 1.0}], ["b"]) == pytest.approx(2.0)
    assert 30 < log_loss_of_classes([{"a": 1.0}], ["b"]) < 40


def test_the_calibration_error_weighs_each_bin_by_its_cases() -> None:
    assert calibration_error(FORECASTS, HAPPENED) == pytest.approx(0.075)
    assert worst_gap(FORECASTS, HAPPENED) == pytest.approx(0.1)


def test_the_calibration_error_compares_with_the_frequency_of_the_event() -> None:
    """The tutorial itself prints .23778: it compares with how often calling everything above .5 an event is right."""
    called_rightly = [
        (p > 0.5) == hit for p, hit in zip(NINE, NINE_HAPPENED, strict=True)
    ]

    assert calibration_error(NINE, NINE_HAPPENED, number=3) == pytest.approx(
        0.22444, abs=1e-5
    )
    assert calibration_error(NINE, called_rightly, number=3) == pytest.approx(
        0.23778, abs=1e-5
    )


def test_a_certain_forecast_falls_into_the_last_bin() -> None:
    found = bins([0.0, 0.95, 1.0], [False, True, True])

    assert [(one.count, one.observed) for one in found] == [(1, 0.0), (2, 1.0)]


def test_even_perfect_forecasts_show_a_gap_of_a_tenth_over_a_hundred_cases() -> None:
    """The noise floor that every limit on a calibration error has to leave room for, found by drawing 2,000 times."""
    random = np.random.default_rng(1)
    errors = []
    for _ in range(2000):
        forecasts = random.random(100)
        errors.append(
            calibration_error(
                forecasts.tolist(), (random.random(100) < forecasts).tolist()
            )
        )

    assert np.mean(errors) == pytest.approx(0.100, abs=0.003)
    assert np.quantile(errors, 0.95) == pytest.approx(0.141, abs=0.005)


def test_the_mean_of_nothing_is_not_a_number() -> None:
    assert math.isnan(mean([]))
