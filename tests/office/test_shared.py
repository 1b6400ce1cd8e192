"""Shared lines hold a shop's own jobs, tests, fits and gaps, and never a word of whose machines they were."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict

import pytest
from helpers.histories import NOON, import_jobs, note_finding
from helpers.places import CORPUS
from helpers.shops import quick_folder
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.history import History, kinds
from kb.history.exchange import export_everything, export_jobs
from kb.library.shelf import Shelf
from kb.model import Confirmation, Finding
from kb.office.shared import COLUMNS, Seen, SharedLine, office_id, shared_lines

TEST = "no-battery/reseat-the-battery-plug"
SHEETS = tuple(sheet.entry for sheet in Shelf(CORPUS, None).sheets() if sheet.entry)
SEEN = Seen(entries=SHEETS)


@pytest.fixture
def history() -> Iterator[History]:
    with quick_folder() as folder, History.open(folder / "a.db") as opened:
        yield opened


def told(history: History, seen: Seen = SEEN) -> list[SharedLine]:
    return list(shared_lines(history, seen))


def of_kind(history: History, kind: str) -> list[SharedLine]:
    return [line for line in told(history) if line.kind == kind]


def closed(
    history: History,
    cause: str,
    *shown: Finding,
    unit: str = "",
    part: str = "",
    donor: str = "",
) -> str:
    """The id of a closed job on a Tern 13, with what its tests showed."""
    job = history.open_job("Tern 13", unit, "dead")
    for found in shown:
        note_finding(history, job, found)
    history.close_job(
        Confirmation(
            cause, job=job, minutes=12, part=part, donor=donor, closed_at=NOON.closed_at
        )
    )
    return job


def test_a_job_is_told_with_its_machine_as_a_number_and_whether_a_sheet_lists_its_cause(
    history: History,
) -> None:
    closed(history, "no-battery/plug", unit="P7-1")
    closed(history, "no-battery/gone", unit="p7 - 1", part="battery")
    closed(history, "no-battery/pack")

    lines = [
        (one.job, one.machine, one.entry, one.cause, one.listed, one.part)
        for one in told(history)
    ]

    assert lines == [
        (1, 1, "no-battery", "plug", True, ""),
        (2, 1, "no-battery", "gone", False, "battery"),
        (3, 2, "no-battery", "pack", True, ""),
    ]
    (first, *_) = told(history)
    assert (first.shop, first.day, first.model, first.minutes, first.format) == (
        office_id(history.shop),
        "2026-11-24",
        "Tern 13",
        12,
        1,
    )


def test_a_test_is_right_or_wrong_by_the_cause_and_words_of_somebodys_own_stay_at_home(
    history: History,
) -> None:
    shown = [
        Finding(TEST, text) for text in ("battery appears", "no change", "ask Ada")
    ]
    closed(history, "no-battery/plug", shown[0])
    closed(history, "no-battery/plug", shown[1], Finding("Ada's own test", "it works"))
    closed(history, "no-battery/pack", shown[2])
    closed(history, "other/plug", shown[0])

    assert {one.day for one in of_kind(history, "test")} == {"2026-11-24"}
    assert [
        (one.job, one.test, one.outcome, one.shown) for one in of_kind(history, "test")
    ] == [
        (1, TEST, "battery appears", "right"),
        (2, TEST, "no change", "wrong"),
        (3, TEST, "", ""),
        (4, TEST, "battery appears", ""),
    ]


def test_fits_are_those_tried_here_and_those_that_own_jobs_teach(
    history: History,
) -> None:
    tried = {
        "part": "fan",
        "from_model": "Skua 14",
        "to_model": "Tern 13",
        "shown": "failed",
        "why": "ribbon",
    }
    history.note(kinds.FIT, "", tried)
    wrong = history.note(kinds.FIT, "", tried | {"part": "lid"})
    history.note(kinds.STRUCK, "", {"record": wrong.id, "why": "a slip"})
    history.note(kinds.FIT, "", tried | {"part": "panel"}, "from elsewhere")
    history.note(kinds.UNIT_IN, "", {"tag": "D-1", "model": "Auk 15"})
    closed(history, "no-battery/pack", part="battery", donor="D-1")

    assert [
        (one.part, one.from_model, one.model, one.shown)
        for one in of_kind(history, "fit")
    ] == [
        ("fan", "Skua 14", "Tern 13", "failed"),
        ("battery", "Auk 15", "Tern 13", "worked"),
    ]


def test_gaps_are_told_without_the_complaint(history: History) -> None:
    history.note(kinds.NO_FIT, "", {"words": "Ada's is dead", "model": "Skua 14"})
    history.retract(history.open_job("Tern 13", "P7-1", "hums"), "went back to Ada")

    assert [(one.model, one.shown, one.machine) for one in of_kind(history, "gap")] == [
        ("Skua 14", "no-fit", None),
        ("Tern 13", "put-away", 1),
    ]


def test_jobs_that_were_retracted_or_are_of_other_shops_are_not_told_but_those_moved_in_are(
    history: History,
) -> None:
    history.retract(closed(history, "no-battery/plug"), "it was the cable")
    with quick_folder() as folder, History.open(folder / "b.db") as other:
        closed(other, "no-battery/pack", unit="Q3-1")
        import_jobs(history, export_jobs(other))
        assert told(history) == []

        import_jobs(history, export_everything(other))
        assert [(one.shop, one.cause) for one in told(history)] == [
            (office_id(history.shop), "pack")
        ]


def test_a_model_has_one_spelling_and_what_a_machine_turned_out_to_be(
    history: History,
) -> None:
    for model in ("Tern 13", "TERN 13", "unknown"):
        history.close_job(
            Confirmation(
                "no-battery/plug", model, unit="P7-9" if model == "unknown" else ""
            )
        )

    lines = told(history, Seen(entries=SHEETS, came_in={"p7-9": "Skua 14"}))

    assert [one.model for one in lines] == ["Tern 13", "Tern 13", "Skua 14"]


def test_a_line_as_json_has_the_columns_and_nothing_else() -> None:
    line = SharedLine(
        kind="job",
        shop="a",
        day="2026-11-24",
        model="Auk",
        job=1,
        machine=2,
        listed=False,
        minutes=0.0,
    )

    read = json.loads(line.to_json())

    assert list(COLUMNS) == list(asdict(line))
    assert read == {name: value for name, value in asdict(line).items() if name in read}
    assert {"listed", "minutes"} <= read.keys()


words = st.text(st.characters(exclude_categories=("C", "Z")), min_size=9, max_size=12)


@settings(max_examples=15)
@given(st.lists(words, min_size=8, max_size=8, unique_by=str.casefold))
def test_whatever_stands_in_tags_sellers_notes_words_initials_and_places_is_not_in_the_file(
    private: list[str],
) -> None:
    tag, seller, note, complaint, initials, place, serial, lot = private
    with quick_folder() as folder, History.open(folder / "a.db") as history:
        history.note(kinds.LOT, "", {"lot": lot, "seller": seller, "note": note})
        arrival = {
            "tag": tag,
            "model": "Tern 13",
            "lot": lot,
            "words": complaint,
            "place": place,
            "serial": serial,
        }
        history.note(kinds.UNIT_IN, "", arrival | {"look": note})
        history.note(kinds.NO_FIT, "", {"words": complaint, "model": "Tern 13"})
        fit = {
            "part": "fan",
            "from_model": "Auk 15",
            "to_model": "Tern 13",
            "shown": "failed",
        }
        history.note(kinds.FIT, "", fit | {"why": note, "source": tag})
        job = history.open_job("Tern 13", tag, complaint)
        note_finding(history, job, Finding(TEST, complaint))
        note_finding(history, job, Finding(note, "battery appears"))
        history.note(kinds.NOTE, job, {"text": note, "by": initials})
        closing = Confirmation(
            "no-battery/plug",
            job=job,
            part="fan",
            donor=tag,
            note=note,
            by=initials,
            place=place,
        )
        history.close_job(closing)
        history.retract(history.open_job("Tern 13", tag, complaint), note, initials)

        lines = told(history)

    text = "\n".join(
        str(value) for line in lines for value in asdict(line).values()
    ).casefold()
    assert {line.kind for line in lines} == {"job", "test", "fit", "gap"}
    assert [one for one in private if one.casefold() in text] == []
