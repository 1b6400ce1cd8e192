"""The page of a machine: worked on, handed over, given up."""

from __future__ import annotations

from helpers.floors import PLUG, address, came_in
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation
from webui.app import create_app


def test_a_job_opened_from_a_machine_has_its_model_words_and_tag(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, place="A3")
    visitor.go("/u/P7-001")
    assert "place A3" in visitor.page.text

    visitor.press("Open a job")

    (job,) = bench.machines.unit("P7-001").open_jobs
    assert (job.model, job.words, job.unit) == ("Tern 13", "no battery", "P7-001")
    fields = visitor.go(f"/confirm?cause={PLUG}&job={job.job}").forms[0].fields
    assert (fields["model"], fields["place"], fields["unit"]) == (
        "Tern 13",
        "A3",
        "P7-001",
    )


def test_an_open_job_is_shown_before_a_second_one_is_made(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    bench.jobs.begin("no battery", "Tern 13", "P7-001")
    visitor.go("/?q=no+battery+found&model=Tern+13&unit=p7-001")
    outcome = next(
        text
        for form in visitor.page.forms
        for name, _, text in form.buttons
        if name == "outcome"
    )

    page = visitor.press(outcome)

    assert page.status == 409
    assert "This machine has an open job" in page.text
    assert len(bench.machines.unit("P7-001").open_jobs) == 1
    visitor.press("It is another fault")
    jobs = bench.machines.unit("P7-001").open_jobs
    assert [job.words for job in jobs] == ["no battery", "no battery found"]
    assert len(jobs[1].findings) == 1


def test_notes_places_hand_overs_and_needs_are_written_down_from_its_page(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")

    visitor.press("Write it down", text="lid scratched", by="AW")
    visitor.press("Save the place", place="C9")
    visitor.press("Hand over", to="JT")
    page = visitor.press("It waits for this", part="battery")

    unit = bench.machines.unit("P7-001")
    assert ([note.text for note in unit.notes], unit.place, unit.with_) == (
        ["lid scratched"],
        "C9",
        "JT",
    )
    assert "Get the battery; it waits for that." in page.text
    assert "with JT" in page.text
    assert "waiting for a part" not in visitor.press("Not needed").text


def test_a_machine_is_given_up_kept_after_all_and_sold(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")

    assert "donor" in visitor.press("It is a donor", why="board dead").text
    assert not bench.machines.unit("P7-001").is_donor or visitor.press(
        "Back to the pile", why="board mended"
    )
    visitor.press("It is gone", how="sold", price="119,50")

    unit = bench.machines.unit("P7-001")
    assert (unit.is_donor, unit.gone, unit.gone_cents) == (False, "sold", 11950)


def test_a_model_that_was_unknown_is_corrected_on_the_same_machine(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, model="unknown")
    visitor.go("/u/P7-001")
    assert "model not read yet" in visitor.page.text

    visitor.press("Correct it", model="Skua 14")

    assert [one.line.model for one in bench.machines.units()] == ["Skua 14"]


def test_a_swollen_pack_and_a_lock_are_told_at_once(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/arrival?lot=P7")

    page = visitor.press(
        "Take it in",
        model="Tern 13",
        **{"bad-pack-flat": "1", "bad-locks-absent": "1", "looked": "1"},
    )

    assert "P7-001 is in" in page.text
    assert page.text.index("Swollen pack: switch off") < page.text.index(
        "goes back to its owner"
    )
    lines = bench.machines.unit("P7-001").lines
    assert lines["pack-flat"].shown == lines["locks-absent"].shown == "bad"
    assert lines["screen"].shown == "good"


def test_a_danger_that_a_first_look_has_told_is_not_told_again_by_the_complaint(
    stocked: Bench,
) -> None:
    visitor = Visitor(create_app(stocked))
    visitor.go("/arrival?lot=P7")
    looked = {"looked": "1", "bad-pack-flat": "1"}
    visitor.press(
        "Take it in", other_model="Tern 13", tag="P7-1", q="battery swollen", **looked
    )
    visitor.press("Take it in", other_model="Tern 13", tag="P7-2", q="battery swollen")

    assert visitor.go("/u/P7-1").text.count("At once") == 1
    assert visitor.go("/u/P7-2").text.count("At once") == 1


def test_the_next_machine_of_a_lot_keeps_lot_place_and_model(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/arrival")
    visitor.press(
        "Take it in", lot="P7", other_model="Tern 13", place="A1", tag="P7-100"
    )

    visitor.press("Take it in", tag="P7-101")

    unit = bench.machines.unit("P7-101")
    assert (unit.model, unit.lot, unit.place) == ("Tern 13", "P7", "A1")
    assert "came in already" in visitor.press("Take it in", tag="p7-101").text


def test_confirming_on_a_machine_makes_it_one_to_be_checked(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7 - 001"))

    assert "Go through the check-out." in visitor.go("/u/P7-001").text


def test_a_tag_alone_in_the_field_leads_to_its_machine(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)

    for typed in ("P7-001", "p7-001", " P7-001 ", "HTTP://BENCH:8377/U/P7-001"):
        assert address(visitor, f"/?q={typed}") == "/u/P7-001", typed
    assert address(visitor, "/scan?tag=http://bench:8377/u/P7-001") == "/u/P7-001"
    assert "no battery" in visitor.go("/U/P7-001").text
    assert address(visitor, "/?q=no+battery+7") == "/"
    assert address(visitor, "/?q=P7-002") == "/"


def test_the_tag_on_the_first_page_fills_in_what_is_known(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, place="B2")

    page = visitor.go("/?unit=p7-001")

    asked = page.forms[0].fields
    assert (asked["q"], asked["model"], asked["unit"]) == (
        "no battery",
        "Tern 13",
        "P7-001",
    )
    assert "place B2" in page.text


def test_the_clock_of_a_job_is_stopped_and_started_on_its_page(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")
    visitor.press("Open a job")
    (job,) = bench.machines.unit("P7-001").open_jobs

    page = visitor.press("A long test runs")
    assert "the clock stands: a long test runs" in page.text
    assert bench.jobs.job(job.job).run_by == frozenset()

    assert "the clock stands" not in visitor.press("Go on with it").text
    visitor.go("/u/P7-001")
    visitor.press("It waits for this", part="battery")
    assert bench.jobs.job(job.job).run_by == frozenset()


def test_a_machine_that_was_sold_comes_back_with_what_the_buyer_says(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench)
    assert "check-out is not signed" in visitor.go("/u/P7-001").text
    visitor.press("It is gone", how="sold", price="120")
    assert "Give it up" not in visitor.page.text

    visitor.press("It is here again", q="switches off after ten minutes")

    (job,) = bench.machines.unit("P7-001").open_jobs
    assert job.words == "switches off after ten minutes"
    assert "on the bench" in visitor.go("/u/P7-001").text


def test_a_label_that_was_misread_leads_to_the_machine_and_is_not_taken_in_first(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, "H-003")

    assert address(visitor, "/scan?tag=HOO3") == "/u/HOO3"
    page = visitor.go("/u/HOO3")

    assert page.status == 404
    assert page.link("H-003") == "/u/H-003"
    assert page.text.index("H-003") < page.text.index("Take it in")


def test_a_machine_that_was_entered_twice_is_taken_out_from_its_page(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, "P7-001")
    came_in(bench, "P7-002")
    visitor.go("/u/P7-002")

    page = visitor.press("Take it out")

    assert "1 machine" in page.text
    assert visitor.go("/u/P7-002").status == 404
    bench.jobs.begin("no battery", "Tern 13", "P7-001")
    assert "Entered by mistake" not in visitor.go("/u/P7-001").text


def test_why_it_was_given_up_and_for_how_much_it_left_stands_on_the_page(
    bench: Bench, visitor: Visitor
) -> None:
    for tag in ("P7-001", "P7-002"):
        came_in(bench, tag)
    bench.machines.give_up("P7-001", "board dead")
    bench.machines.let_go("P7-002", "sold", 18500)

    assert "Given up for its parts: board dead" in visitor.go("/u/P7-001").text
    assert "185.00" in visitor.go("/u/P7-002").text
