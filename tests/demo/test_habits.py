"""Habits of the invented models, and that the review discovers them."""

from __future__ import annotations

import pytest
from helpers.shops import quick_folder

from kb.bench.front import Bench
from kb.demo import jobs as demo
from kb.demo.scenario import Habit, shipped_scenario
from kb.model import Entry, Job
from kb.review.failures import Failure, Review

HABITS, MODELS = shipped_scenario().habits, shipped_scenario().models


@pytest.fixture(scope="module")
def reviews(jobs: tuple[Job, ...]) -> dict[str, Review]:
    with quick_folder() as folder:
        bench = Bench(folder)
        demo.fill(bench.history(), jobs)
        found = {model: bench.looking_back.overview(model).review for model in MODELS}
        bench.close()
    return found


@pytest.mark.slow
def test_a_shop_that_lacks_the_entries_of_the_habits_still_has_jobs(
    entries: list[Entry],
) -> None:
    few = [entry for entry in entries if entry.slug in ("fan-noisy", "runs-hot")]

    jobs = demo.invented_jobs(few, count=60)

    assert {job.entry for job in jobs} == {"fan-noisy", "runs-hot"}
    assert len(jobs) == 60
    assert demo.invented_jobs([]) == ()


@pytest.mark.slow
@pytest.mark.parametrize(
    "habit", HABITS, ids=lambda habit: f"{habit.model} {habit.cause}"
)
def test_the_review_discovers_every_habit(
    reviews: dict[str, Review], habit: Habit
) -> None:
    found = _failure(reviews[habit.model], habit.cause)
    strangers = [review for model, review in reviews.items() if model != habit.model]
    others = [
        failure for review in strangers if (failure := _failure(review, habit.cause))
    ]

    assert found is not None
    assert all(
        found.rate > 4 * other.rate and found.low > other.rate for other in others
    )


@pytest.mark.parametrize("model", MODELS)
def test_a_habit_heads_the_review_of_every_model(
    reviews: dict[str, Review], model: str
) -> None:
    habits = {habit.cause for habit in HABITS if habit.model == model}

    first = reviews[model].failures[0]
    strangers = [
        failure for failure in reviews[model].failures if failure.cause not in habits
    ]

    assert first.cause in habits
    assert first.jobs > strangers[0].jobs


def _failure(review: Review, cause: str) -> Failure | None:
    return next(
        (failure for failure in review.failures if failure.cause == cause), None
    )
