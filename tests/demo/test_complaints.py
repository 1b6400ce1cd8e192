"""Complaints of the demo: some mistyped, some that tell nothing."""

from __future__ import annotations

from random import Random

import pytest

from kb.demo.complaints import mistyped
from kb.model import Entry, Job


@pytest.mark.slow
def test_some_words_are_mistyped_and_some_tell_nothing(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    known = {
        text.lower() for entry in entries for text in (*entry.wordings, *entry.symptoms)
    }
    as_written = sum(job.words.lower() in known for job in jobs) / len(jobs)
    general = sum(
        job.words.lower().startswith(("does not work", "broken", "kaput"))
        for job in jobs
    )

    assert 0.4 < as_written < 0.7
    assert general > 20
    assert all(job.words for job in jobs)


def test_a_slip_changes_one_place_of_one_word() -> None:
    rng = Random(1)
    text = "the battery does not charge"
    for _ in range(200):
        slipped = mistyped(text, rng).split(" ")
        changed = [
            pair
            for pair in zip(text.split(" "), slipped, strict=True)
            if pair[0] != pair[1]
        ]
        assert len(changed) <= 1
        assert all(
            abs(len(right) - len(wrong)) <= 1 and right[0] == wrong[0]
            for right, wrong in changed
        )
