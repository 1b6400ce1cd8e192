"""Machines on the pages: found by tag, taken in, worked on and handed over, lot by lot, without any script."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.visiting import HOME, Visitor

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.cli.machines import of_lot
from kb.machines.units import FloorState
from kb.model import Confirmation
from webui.app import create_app
from webui.commands import fill_with_invented_jobs

PLUG = "no-battery/plug"


def came_in(
    bench: Bench, tag: str = "P7-001", model: str = "Tern 13", words: str = "no battery", place: str = ""
) -> None:
    bench.arrivals.arrive(Arrived(tag=tag, lot="P7", model=model, words=words, place=place))


def address(visitor: Visitor, path: str) -> str:
    """Where a path leads in the end."""
    answer = visitor.client.get(path, base_url=HOME, follow_redirects=True)
    return str(answer.request.path)


def test_a_tag_alone_in_the_field_leads_to_its_machine(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)

    for typed in ("P7-001", "p7-001", " P7-001 ", "HTTP://BENCH:8377/U/P7-001"):
        assert address(visitor, f"/?q={typed}") == "/u/P7-001", typed
    assert address(visitor, "/scan?tag=http://bench:8377/u/P7-001") == "/u/P7-001"
    assert "no battery" in visitor.go("/U/P7-001").text
    assert address(visitor, "/?q=no+battery+7") == "/"
    assert address(visitor, "/?q=P7-002") == "/"


def test_a_tag_that_nobody_knows_can_be_taken_in_from_its_page(bench: Bench, visitor: Visitor) -> None:
    page = visitor.go("/u/P7-009")
    assert page.status == 404
    assert "No record names this tag" in page.text

    visitor.follow("Take it in")
    visitor.press("Take it in", lot="P7", other_model="Tern 13", q="no battery")

    assert bench.machines.unit("P7-009").words == "no battery"


def test_a_job_opened_from_a_machine_has_its_model_words_and_tag(bench: Bench, visitor: Visitor) -> None:
    came_in(bench, place="A3")
    visitor.go("/u/P7-001")
    assert "place A3" in visitor.page.text

    visitor.press("Open a job")

    (job,) = bench.machines.unit("P7-001").open_jobs
    assert (job.model, job.words, job.unit) == ("Tern 13", "no battery", "P7-001")


def test_an_open_job_is_shown_before_a_second_one_is_made(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)
    bench.jobs.begin("no battery", "Tern 13", "P7-001")
    visitor.go("/?q=no+battery+found&model=Tern+13&unit=p7-001")
    outcome = next(text for form in visitor.page.forms for name, _, text in form.buttons if name == "outcome")

    page = visitor.press(outcome)

    assert page.status == 409
    assert "This machine has an open job" in page.text
    assert len(bench.machines.unit("P7-001").open_jobs) == 1
    visitor.press("It is another fault")
    jobs = bench.machines.unit("P7-001").open_jobs
    assert [job.words for job in jobs] == ["no battery", "no battery found"]
    assert len(jobs[1].findings) == 1


def test_the_tag_on_the_first_page_fills_in_what_is_known(bench: Bench, visitor: Visitor) -> None:
    came_in(bench, place="B2")

    page = visitor.go("/?unit=p7-001")

    asked = page.forms[0].fields
    assert (asked["q"], asked["model"], asked["unit"]) == ("no battery", "Tern 13", "P7-001")
    assert "place B2" in page.text


def test_notes_places_hand_overs_and_needs_are_written_down_from_its_page(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")

    visitor.press("Write it down", text="lid scratched", by="AW")
    visitor.press("Save the place", place="C9")
    visitor.press("Hand over", to="JT")
    page = visitor.press("It waits for this", part="battery")

    unit = bench.machines.unit("P7-001")
    assert ([note.text for note in unit.notes], unit.place, unit.with_) == (["lid scratched"], "C9", "JT")
    assert "Get the battery; it waits for that." in page.text
    assert "with JT" in page.text
    assert "waiting for a part" not in visitor.press("Not needed").text


def test_a_machine_is_given_up_kept_after_all_and_sold(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")

    assert "donor" in visitor.press("It is a donor", why="board dead").text
    assert not bench.machines.unit("P7-001").is_donor or visitor.press("Back to the pile", why="board mended")
    visitor.press("It is gone", how="sold", price="119,50")

    unit = bench.machines.unit("P7-001")
    assert (unit.is_donor, unit.gone, unit.gone_cents) == (False, "sold", 11950)


def test_a_model_that_was_unknown_is_corrected_on_the_same_machine(bench: Bench, visitor: Visitor) -> None:
    came_in(bench, model="unknown")
    visitor.go("/u/P7-001")
    assert "model not read yet" in visitor.page.text

    visitor.press("Correct it", model="Skua 14")

    assert [one.line.model for one in bench.machines.units()] == ["Skua 14"]


def test_a_swollen_pack_and_a_lock_are_told_at_once(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/arrival?lot=P7")

    page = visitor.press(
        "Take it in", model="Tern 13", **{"bad-pack-flat": "1", "bad-locks-absent": "1", "looked": "1"}
    )

    assert "P7-001 is in" in page.text
    assert page.text.index("Swollen pack: switch off") < page.text.index("goes back to its owner")
    lines = bench.machines.unit("P7-001").lines
    assert lines["pack-flat"].shown == lines["locks-absent"].shown == "bad"
    assert lines["screen"].shown == "good"


def test_the_next_machine_of_a_lot_keeps_lot_place_and_model(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/arrival")
    visitor.press("Take it in", lot="P7", other_model="Tern 13", place="A1", tag="P7-100")

    visitor.press("Take it in", tag="P7-101")

    unit = bench.machines.unit("P7-101")
    assert (unit.model, unit.lot, unit.place) == ("Tern 13", "P7", "A1")
    assert "came in already" in visitor.press("Take it in", tag="p7-101").text


def test_a_list_is_looked_through_first_and_then_its_good_lines_come_in(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/arrival?lot=P7")
    text = "tag;model;fault\nP7-001;Tern 13;dead\nP7-001;Tern 13;loud\nP7-003;;hot\n"

    page = visitor.press("Look through it", text=text)
    assert "1 machine would come in" in page.text
    assert "Line 3: the tag P7-001 stands on line 2 too" in page.text
    assert "Line 4: the model is missing" in page.text
    assert bench.machines.units() == ()

    assert "1 machine came in." in visitor.press("Take in the good lines").text
    assert [one.line.tag for one in bench.machines.units()] == ["P7-001"]


def test_a_file_from_a_spreadsheet_is_taken(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/arrival?lot=P7")
    token = next(form for form in visitor.page.forms if form.action == "/arrival/list").fields["token"]
    data = {
        "token": token,
        "lot": "P7",
        "take": "1",
        "file": (io.BytesIO("Model;Remark\nTern 13;Gehäuse\n".encode("cp1252")), "p.csv"),
    }

    answer = visitor.client.post("/arrival/list", data=data, base_url=HOME, headers={"Origin": HOME})

    assert answer.status_code == 200
    assert bench.machines.unit("P7-001").words == "Gehäuse"


def test_two_hundred_open_jobs_are_two_taps_away_each(bench: Bench, visitor: Visitor) -> None:
    with bench.history().together():
        for number in range(200):
            bench.jobs.begin(f"no battery {number}", "Tern 13", f"P7-{number:03d}")
        bench.jobs.begin("hums", "Tern 13")

    page = visitor.follow("Machines")

    links = {to for to, _ in page.links}
    assert {f"/u/P7-{number:03d}" for number in range(200)} <= links
    assert "hums" in page.text
    home = visitor.go("/")
    assert "all 201 open jobs" in home.text


def test_a_lot_is_narrowed_by_state_model_next_step_and_who(bench: Bench, visitor: Visitor) -> None:
    for number, model in enumerate(("Tern 13", "Skua 14", "Skua 14"), 1):
        came_in(bench, f"P7-00{number}", model=model)
    bench.machines.hand_over("P7-002", "AW")
    bench.jobs.begin("dead", "Skua 14", "P7-003")

    def listed(query: str) -> set[str]:
        page = visitor.go(f"/lot/P7?{query}")
        return {to.removeprefix("/u/") for to, _ in page.links if to.startswith("/u/")}

    assert listed("") == {"P7-001", "P7-002", "P7-003"}
    assert listed("model=skua+14") == {"P7-002", "P7-003"}
    assert listed("who=AW") == {"P7-002"}
    assert listed("state=on+the+bench") == {"P7-003"}
    assert listed("step=find+the+fault") == {"P7-001", "P7-002"}
    assert listed("text=P7-001") == {"P7-001"}


def test_labels_are_laid_out_in_the_millimetres_that_are_asked_for(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)

    page = visitor.go("/labels?lot=P7&tag=X-1%0AX-2&width=60&height=30.5")

    assert "3 labels" in page.text
    style = re.search(r'href="(/labels\.css[^"]+)"', page.html)
    assert style
    sheet = visitor.client.get(style[1].replace("&amp;", "&"), base_url=HOME)
    assert "grid-auto-rows: 30.5mm" in sheet.text
    assert sheet.mimetype == "text/css"
    assert visitor.go("/labels?lot=P7&width=fish").status == 400
    assert visitor.go("/labels?lot=P7&width=900").status == 400


def test_a_picture_is_kept_with_the_machine(bench: Bench, visitor: Visitor) -> None:
    from PIL import Image

    came_in(bench)
    visitor.go("/u/P7-001")
    drawn = io.BytesIO()
    Image.new("RGB", (80, 60), "red").save(drawn, "PNG")
    form = next(form for form in visitor.page.forms if form.action == "/u/P7-001/picture")
    data = {
        "token": form.fields["token"],
        "caption": "lid [left]",
        "picture": (io.BytesIO(drawn.getvalue()), "lid.png"),
    }

    answer = visitor.client.post(
        "/u/P7-001/picture", data=data, base_url=HOME, headers={"Origin": HOME}, follow_redirects=True
    )

    shown = re.findall(r'<img src="(/entry/pictures/machine-[^"]+)"', answer.text)
    assert len(shown) == 1
    assert visitor.client.get(shown[0], base_url=HOME).status_code == 200
    assert 'alt="lid  left"' in answer.text


# The demo


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    made = Bench(Path(tmp_path_factory.mktemp("demo")))
    fill_with_invented_jobs(made, 13)
    yield made
    made.close()


def test_rack_list_csv_and_command_say_the_same_of_every_lot_of_the_demo(demo: Bench) -> None:
    visitor = Visitor(create_app(demo))
    lots = demo.machines.lots()
    assert [len(lot.units) for lot in sorted(lots, key=lambda lot: lot.name)] == [18, 24, 30, 12, 40, 28, 36, 32]
    for lot in lots:
        counted = {state.value: number for state, number in lot.states.items() if number}
        page = visitor.go(f"/lot/{lot.name}")
        boxes = Counter(re.findall(r'class="box is-(\w+)"', page.html))
        here = {FloorState[name.upper()].value: number for name, number in boxes.items()}
        gone = counted.get("gone", 0)
        assert here == {state: number for state, number in counted.items() if state != "gone"}
        assert page.html.count('<ul class="units">') == 1
        listed = re.findall(r'<li><a href="/u/[^"]+"><span class="mark is-(\w+)"', page.html)
        assert Counter(FloorState[name.upper()].value for name in listed) == counted
        sheet = visitor.client.get(f"/lot/{lot.name}/machines.csv", base_url=HOME).text
        table = list(csv.DictReader(io.StringIO(sheet)))
        assert Counter(row["state"] for row in table) == counted
        assert {state: number for state, number in of_lot(lot)["states"].items() if number} == counted
        assert lot.way[0].reached == len(table) == sum(boxes.values()) + gone
        assert sum(number for drop in lot.way for number in drop.left.values()) == len(table)


def test_the_lot_in_the_middle_stands_as_it_was_meant_to(demo: Bench) -> None:
    lot = demo.machines.lot("P7")

    assert {state.value: number for state, number in lot.states.items()} == {
        "waiting": 11, "on the bench": 2, "waiting for a part": 5, "to be checked": 3, "ready": 7, "donor": 5,
        "gone": 3,
    }  # fmt: skip
    assert sum(one.step.value == "first look" for one in lot.units) == 3
    gone = Counter(demo.machines.unit(one.line.tag).gone for one in lot.units if one.state is FloorState.GONE)
    assert gone == {"sold": 2, "returned": 1}


def test_no_donor_of_the_demo_gives_a_part_twice_and_parts_cross_models_within_families_alone(demo: Bench) -> None:
    from kb.demo.jobs import fits_across

    given: Counter[tuple[str, str]] = Counter()
    for job in demo.history().closed_jobs():
        if job.donor:
            given[job.donor, job.part] += 1
            model = demo.machines.unit(job.donor).model
            assert not model or model == job.model or fits_across(job.part, model, job.model), job
    assert len(given) > 300
    assert set(given.values()) == {1}


def test_confirming_on_a_machine_makes_it_one_to_be_checked(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7 - 001"))

    assert "Go through the check-out." in visitor.go("/u/P7-001").text


def test_the_clock_of_a_job_is_stopped_and_started_on_its_page(bench: Bench, visitor: Visitor) -> None:
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
