"""The page for confirming: everything that is known is filled in, and nothing is saved twice."""

from __future__ import annotations

import pytest
from helpers.pressing import PLUG, WORDS, jobs, plain, press_outcome, search
from helpers.visiting import Visitor

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench

pytestmark = pytest.mark.shop("stocked")


def test_a_job_hands_its_words_machine_findings_and_minutes_to_the_form(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13", unit="T-07")
    outcome = press_outcome(visitor)

    page = visitor.follow("It was this")
    assert 'name="minutes"' in page.html
    assert page.forms[0].fields["minutes"] != ""
    visitor.press("Save")

    (job,) = jobs(bench)
    assert (job.unit, [plain(finding.outcome) for finding in job.outcomes]) == (
        "T-07",
        [outcome],
    )
    assert bench.jobs.open_jobs() == ()


def test_the_part_of_the_fix_is_offered_and_kept(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause=battery-not-detected/pack&q={WORDS}&model=Tern+13")
    assert visitor.page.forms[0].fields["part"] == "battery"

    visitor.press("Save", minutes="7,5", donor="T-02", by="AW", note="clips were gone")

    (job,) = jobs(bench)
    assert (job.part, job.minutes, job.donor, job.by, job.note) == (
        "battery",
        7.5,
        "T-02",
        "AW",
        "clips were gone",
    )


def test_a_known_machine_brings_its_model_unless_another_is_said(
    bench: Bench, visitor: Visitor
) -> None:
    bench.arrivals.arrive(Arrived(tag="P7-012", lot="P7", model="Tern 13"))
    bench.arrivals.arrive(Arrived(tag="P7-013", lot="P7", model="unknown"))

    def offered(asked: str) -> tuple[str, str]:
        held = visitor.go(f"/confirm?cause={PLUG}&{asked}").forms[0].fields
        return held["model"], held["unit"]

    assert offered("unit=p7-012") == ("Tern 13", "P7-012")
    assert offered("unit=P7-012&model=Skua+14") == ("Skua 14", "P7-012")
    assert offered("unit=P7-013") == ("", "P7-013")
    assert offered("unit=T-77") == ("", "T-77")


def test_the_same_form_sent_twice_saves_one_job(bench: Bench, visitor: Visitor) -> None:
    form = visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    first = visitor.press("Save", form)
    again = visitor.press("Save", form)

    assert len(jobs(bench)) == 1
    assert first.text == again.text


def test_without_a_model_nothing_is_saved_and_what_was_typed_is_kept(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause={PLUG}")

    page = visitor.press("Save", note="pin 3 bent")
    assert page.status == 400
    assert "model is missing" in page.text
    assert page.forms[0].fields["note"] == "pin 3 bent"

    page = visitor.press("Send it again", model="Tern 13")
    assert page.status == 200
    assert [job.note for job in jobs(bench)] == ["pin 3 bent"]


def test_a_tag_scanned_into_the_minutes_is_refused_with_the_text_kept(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause={PLUG}&q=no+battery&model=Tern+13")

    page = visitor.press("Save", minutes="4006381333931")

    assert page.status == 400
    assert "minutes cannot be 4006381333931" in page.text.replace(".0", "")
    assert list(bench.history().closed_jobs()) == []


def test_minutes_that_are_no_number_are_refused_with_the_text_kept(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    page = visitor.press("Save", minutes="twelve")

    assert (page.status, page.forms[0].fields["minutes"]) == (400, "twelve")
    assert "such as 12" in page.text
    assert jobs(bench) == []
