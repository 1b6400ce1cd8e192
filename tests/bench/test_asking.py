"""The desk for asking: the model in the words, and warming up."""

from __future__ import annotations

import threading

from helpers.floors import PLUG, came_in

from kb.bench.front import Bench
from kb.index import remembered
from kb.index.remembered import Kept
from kb.model import Confirmation

BOARD = "no-battery/light-board"


def test_the_model_named_in_the_complaint_is_taken_for_the_model(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))

    answer = bench.asking.search("tern 13 batt missing")

    assert answer.model == "Tern 13"
    assert answer.entries == bench.asking.search(" batt missing", "Tern 13").entries


def test_warming_up_takes_in_every_entry_and_changes_no_answer(bench: Bench) -> None:
    before = bench.asking.search("batt missing").entries
    worker = threading.Thread(target=bench.asking.warm)

    worker.start()
    worker.join()

    with bench.shop.files.reading() as (index, _):
        slugs = index.slugs().values()
    heard = {(Kept.HEARD, slug) for slug in slugs}
    assert any(heard <= held.keys() for held in remembered._OF_ENTRIES._held.values())
    assert bench.asking.search("batt missing").entries == before


def test_a_model_of_which_there_are_machines_alone_is_the_nearest_to_a_mistyped_one_and_none_is_to_itself(
    bench: Bench,
) -> None:
    came_in(bench, model="Petrel 15")
    bench.jobs.confirm(Confirmation(PLUG, "Petrol 15"))

    assert (
        bench.asking.new_model("Petroll 15")
        == "no job on Petroll 15 yet; nearest: Petrol 15"
    )
    assert bench.asking.new_model("petrel 15") == "no job on petrel 15 yet"
    assert (
        bench.asking.new_model("Petreel 15")
        == "no job on Petreel 15 yet; nearest: Petrel 15"
    )
