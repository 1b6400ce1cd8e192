"""The fields of a job: a body read back is the job, and everything wrong with it is said at once."""

from __future__ import annotations

import pytest

from kb.history import fields
from kb.history.trouble import NotAccepted
from kb.model import Finding, Job

WHOLE = Job(
    job="j1",
    model="Tern 13",
    cause="no-battery/pack",
    closed_at="2026-01-01T09:00:00Z",
    unit="T-1",
    words="no battery",
    minutes=7.5,
    part="battery",
    donor="T-9",
    outcomes=(Finding("no-battery/reseat", "no change"),),
    note="ripped ribbon",
    by="Ada",
    place="B3",
)


def test_a_body_reads_back_as_the_job_it_was() -> None:
    assert fields.from_json(fields.to_json(WHOLE), WHOLE.job, WHOLE.shop) == WHOLE


def test_a_later_field_is_left_out_while_it_is_empty_and_what_stays_here_is_in_no_line() -> (
    None
):
    bare = Job("j2", "Tern 13", "no-battery/pack", "2026-01-01T09:00:00Z")

    assert "place" not in fields.to_json(bare)
    assert fields.to_json(bare)["note"] == ""
    assert "place" in fields.to_json(WHOLE)
    assert "place" not in fields.to_json(WHOLE, fields.SHARED)


def test_all_that_is_wrong_with_a_job_is_said_at_once() -> None:
    with pytest.raises(NotAccepted) as refused:
        fields.accepted(Job("j3", "", "no cause", "yesterday", minutes=-1))

    assert refused.value.problem.count(";") == 3
