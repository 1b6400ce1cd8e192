"""Sums of jobs: added to portion by portion they are those of all jobs at once."""

from __future__ import annotations

from helpers.working import works
from hypothesis import given
from hypothesis import strategies as st

from kb.index.jobs import Works
from kb.review.failures import review
from kb.review.models import compared
from kb.review.sums import FailureSums, ModelSums, failures_of, models_of

JOBS = st.lists(
    st.tuples(
        st.sampled_from(("", "a", "b", "c")),
        st.sampled_from((None, 0.1, 0.2, 0.3, 7, 12.5)),
        st.sampled_from(("", "fan", "battery")),
    ),
    min_size=1,
    max_size=25,
)


def part_of(told: Works, begin: int, end: int) -> Works:
    """The jobs from one place to another."""
    return told.only([begin <= place < end for place in range(len(told))])


@given(JOBS, st.integers(0, 25))
def test_portions_add_up_to_the_figures_of_all_jobs(
    jobs: list[tuple[str, float | None, str]], cut: int
) -> None:
    told = works(*jobs)
    told.causes[:] = [("x/a", "x/b")[place % 2] for place in range(len(told))]
    failures, models = FailureSums(), ModelSums()
    for portion in (part_of(told, 0, cut), part_of(told, cut, len(told))):
        failures.add(portion)
        models.add(portion)

    assert review(failures, {}) == review(failures_of(told), {})
    assert compared(models) == compared(models_of(told))
