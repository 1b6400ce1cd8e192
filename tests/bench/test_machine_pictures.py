"""Pictures of machines: in their order, marked on a copy in their place, each deed once and whole."""

from __future__ import annotations

import pytest
from helpers.floors import came_in
from helpers.photographs import files, photo

from kb.bench import machine_pictures
from kb.bench.front import Bench
from kb.history.trouble import NotAccepted
from kb.library.drawing import Mark

TAG = "P7-001"
MIDDLE = Mark("ring", 0.5, 0.5)


@pytest.fixture
def taken(bench: Bench) -> str:
    """The record of a picture on a machine that has a note beside it."""
    came_in(bench, TAG)
    bench.machines.note(TAG, "the lid is scratched")
    return bench.machines.add_picture(TAG, photo(), "the [lid]").id


def shown(bench: Bench) -> list[tuple[str, bool]]:
    """The words of each picture, and whether it is marked."""
    of_it = machine_pictures.of_machine(bench.machines.unit(TAG), bench)
    return [(picture.caption, bool(note.of)) for note, picture in of_it]


def test_a_marked_picture_stands_in_place_of_its_original_once_and_a_second_mark_too(
    bench: Bench, taken: str
) -> None:
    for token in ("tap", "tap"):
        machine_pictures.mark(TAG, bench, taken, MIDDLE, by="JT", token=token)
    assert shown(bench) == [("the lid", True)]
    ((note, _),) = machine_pictures.of_machine(bench.machines.unit(TAG), bench)
    original = note.of

    machine_pictures.mark(TAG, bench, note.record, Mark("arrow", 0.2, 0.2))
    ((note, _),) = machine_pictures.of_machine(bench.machines.unit(TAG), bench)
    assert (note.of, len(files(bench))) == (original, 3)
    machine_pictures.unmark(TAG, bench, note.record, token="back")

    assert shown(bench) == [("the lid", False)]
    assert [
        one.text
        for one in bench.machines.unit(TAG).notes
        if not one.text.startswith("![")
    ] == ["the lid is scratched"]


def test_a_picture_that_was_replaced_or_has_no_marks_is_refused_and_nothing_is_written(
    bench: Bench, taken: str
) -> None:
    with pytest.raises(NotAccepted, match="without marks is not here"):
        machine_pictures.unmark(TAG, bench, taken)
    machine_pictures.mark(TAG, bench, taken, MIDDLE)
    before = bench.history().tip()

    with pytest.raises(NotAccepted, match="not on this machine"):
        machine_pictures.mark(TAG, bench, taken, MIDDLE)

    assert bench.history().tip() == before
