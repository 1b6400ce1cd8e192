"""Old jobs on a page: shown as they would be saved, saved when that is pressed, and taken back as one."""

from __future__ import annotations

import io

import pytest
from helpers.visiting import HOME, Page, Visitor

from kb.bench.front import Bench
from kb.model import Confirmation

pytestmark = pytest.mark.shop("stocked")

PACK = "battery-not-detected/pack"
LIST = f"""\
Finished on;Machine;Complaint;Found;Colour
24.11.2024;Tern 13;größer Akku, battery not detected;{PACK};red
13.02.2025;Tern 31;no battery;{PACK};red
30.02.2025;Tern 13;no battery;{PACK};blue
14.02.2025;Tern 13;the system shows no battery although one is fitted;worn pack;blue
"""
CHOSEN = {
    "column-day": "Finished on",
    "column-model": "Machine",
    "column-words": "Complaint",
    "column-cause": "Found",
}


def jobs(bench: Bench) -> list[str]:
    return [job.cause for job in bench.jobs.last_saved(50)]


@pytest.fixture
def known(bench: Bench) -> Bench:
    """A shop in which one Tern 13 was mended."""
    bench.jobs.confirm(Confirmation("no-sound/muted", model="Tern 13"))
    return bench


def test_columns_that_do_not_tell_themselves_are_chosen_from_the_headings(
    known: Bench, visitor: Visitor
) -> None:
    visitor.go("/past")

    asked = visitor.press("Look through it", text=LIST)
    shown = visitor.press("Look through it", **CHOSEN)

    assert "Say which column gives the model" in asked.text
    assert "1 job would be saved; nothing is saved yet." in shown.text
    assert len(jobs(known)) == 1


def test_the_first_jobs_are_shown_as_they_would_be_saved_with_all_that_is_strange(
    known: Bench, visitor: Visitor
) -> None:
    visitor.go("/past")

    shown = visitor.press("Look through it", text=LIST, **CHOSEN).text

    assert "line 2 · 2024-11-24" in shown
    assert "größer Akku, battery not detected" in shown
    assert "3 lines are left out" in shown
    assert "No job was ever on a Tern 31 ; the nearest is Tern 13 ." in shown
    assert "No sheet lists the cause worn pack : 1 line" in shown
    assert "1 line has a day that cannot be read." in shown
    assert "Line 4: `30.02.2025` is no day" in shown
    assert "--" not in shown, "no sentence names an option of the command line"
    assert len(jobs(known)) == 1


def test_what_was_shown_is_saved_and_taken_back_as_one(
    known: Bench, visitor: Visitor
) -> None:
    visitor.go("/past")
    visitor.press("Look through it", text=LIST, **CHOSEN)
    visitor.press("Look through it", **CHOSEN, sure="1", new_models="1")

    saved = visitor.press("Save these 3 jobs", **CHOSEN, sure="1")
    here = len(jobs(known))
    again = visitor.go("/past")
    back = visitor.press("Take all of it back")

    assert "3 jobs are saved." in saved.text
    assert here == 4
    assert "the list" in again.text
    assert "3 jobs count" in again.text
    assert len(jobs(known)) == 1
    assert back.text.count("the whole list was taken back") == 3


def test_a_file_is_read_in_its_own_letters_and_what_is_no_text_is_refused(
    known: Bench, visitor: Visitor
) -> None:
    visitor.go("/past")
    token = visitor.page.forms[0].fields["token"]

    def sent(data: bytes) -> Page:
        form = {"token": token, "file": (io.BytesIO(data), "old.csv"), **CHOSEN}
        return Page(
            visitor.client.post(
                "/past", data=form, base_url=HOME, headers={"Origin": HOME}
            )
        )

    assert "größer Akku" in sent(LIST.encode("cp1252")).text
    assert "cannot be read cleanly" in sent(bytes(range(256))).text
    assert "nothing was pasted or chosen" in sent(b"").text
    assert len(jobs(known)) == 1


def test_an_import_that_nobody_made_is_not_taken_back(
    known: Bench, visitor: Visitor
) -> None:
    token = visitor.go("/past").forms[0].fields["token"]

    form = {"token": token, "import": "nosuchimport"}
    answer = Page(
        visitor.client.post(
            "/past/back", data=form, base_url=HOME, headers={"Origin": HOME}
        )
    )

    assert answer.status == 400
    assert "no import has that id" in answer.text
    assert len(jobs(known)) == 1
