"""Two names that mean one model are counted as one, by a record that can be taken back; nothing written is changed."""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import timedelta
from random import Random

import pytest
from helpers.clocks import Clock
from helpers.histories import START
from helpers.merging import Told, deeds, figures, with_kept_names, without_its_index
from helpers.places import CORPUS
from helpers.shops import quick_folder

from kb.base.trouble import NotThere, Refusal
from kb.bench.front import Bench
from kb.bench.models import Moving
from kb.bench.past import PastAsked
from kb.history import kinds
from kb.history.same import Merge
from kb.index.floor import FloorTable
from kb.index.jobs import JobTable
from kb.model import Confirmation, Job

PACK = "no-battery/pack"

SHOPS = range(300) if os.environ.get("BENCHLORE_LONG") == "1" else (18,)


@pytest.mark.parametrize("seed", SHOPS)
def test_every_figure_is_that_of_a_history_with_the_kept_names_from_the_start(
    seed: int,
) -> None:
    clock = Clock()
    clock.now = START
    with quick_folder() as folder:
        told = Told(Bench(folder / "shop", stock=CORPUS, clock=clock))
        for deed in deeds(Random(seed), 40):
            told.happen(deed)
            clock.now += timedelta(minutes=1)
        written, anew = (
            with_kept_names(told, folder / "written"),
            without_its_index(told.bench, folder / "anew"),
        )

        found = figures(told.bench)

        assert found == figures(anew)
        assert found == figures(written, told.kept)
        for bench in (told.bench, written, anew):
            bench.close()


@pytest.fixture
def doubled(in_memory: Bench) -> Bench:
    """A shop with two jobs on a Tern 13, one on a Tern13, and a machine and an open job of the latter."""
    for model, words in (
        ("Tern 13", "batt missing"),
        ("Tern 13", "batt missing"),
        ("Tern13", "no battery is listed"),
    ):
        in_memory.history().close_job(
            Confirmation(PACK, model, unit="P7-1", words=words)
        )
    in_memory.history().open_job("Tern13", "P7-2")
    in_memory.machines.write(
        kinds.UNIT_IN, {"tag": "P7-2", "model": "Tern13", "lot": "P7"}
    )
    return in_memory


def test_what_would_move_is_told_before_anything_is_saved(doubled: Bench) -> None:
    moving = doubled.models.moving("tern13", "tern 13")

    # P7-1 by its last job
    assert moving == Moving(
        merge=Merge("Tern13", "Tern 13"), jobs=1, open_jobs=1, machines=2
    )
    assert doubled.models.merges() == ()
    assert doubled.models.alike() == (("Tern 13", "Tern13"),)


def test_a_merge_is_saved_once_and_typing_the_merged_name_gives_the_kept_one(
    doubled: Bench,
) -> None:
    doubled.models.merge("Tern13", "Tern 13", token="once")
    doubled.models.merge("Tern13", "Tern 13", token="once")

    assert [(one.name, one.kept) for one in doubled.models.merges()] == [
        ("Tern13", "Tern 13")
    ]
    assert doubled.asking.models() == ["Tern 13"]
    assert (doubled.models.alike(), doubled.models.known()) == ((), ("Tern 13",))
    assert [doubled.asking.spelt("Tern13"), doubled.asking.near_model("TERN13")] == [
        "Tern 13",
        "",
    ]
    assert doubled.asking.search("tern13 no battery").model == "Tern 13"
    assert doubled.asking.look("tern13: no battery").named == "Tern 13"
    assert doubled.looking_back.overview("Tern13").review.machines == 1
    assert {unit.line.model for unit in doubled.machines.units()} == {"Tern 13"}


def test_the_words_lose_the_name_they_were_told_with(doubled: Bench) -> None:
    doubled.models.merge("Tern13", "Tern 13")
    plain = doubled.asking.search("no battery is listed", "Tern 13")

    for words in ("Tern13 no battery is listed", "no battery is listed Tern 13"):
        found = doubled.asking.search(words)
        assert (found.model, found.entries) == ("Tern 13", plain.entries)


def test_a_list_that_has_the_merged_name_is_asked_nothing(doubled: Bench) -> None:
    doubled.models.merge("T-13", "Tern 13")

    pallet = doubled.arrivals.take_in("tag,model\nP8-1,T-13\n", "P8")
    past = doubled.past.read(
        f"model,day,cause\nT-13,2024-04-03,{PACK}\n".encode(), PastAsked(), "old.csv"
    )

    assert (pallet.remarks, pallet.new_models, pallet.arriving[0].model) == (
        (),
        {},
        "Tern 13",
    )
    assert (past.report.added, past.near_models) == (1, {})


@pytest.mark.parametrize(
    ("name", "kept", "told"),
    [
        (
            "Tern13",
            "Trn 13",
            "no job and no machine is of a Trn 13; did you mean Tern 13?",
        ),
        ("Tern13", "zzz", "name a model that was here"),
    ],
)
def test_a_name_that_nothing_is_of_is_not_kept(
    doubled: Bench, name: str, kept: str, told: str
) -> None:
    with pytest.raises(Refusal, match=told.replace("?", r"\?")):
        doubled.models.merge(name, kept)

    assert doubled.models.merges() == ()


def test_what_was_never_merged_cannot_be_parted(doubled: Bench) -> None:
    with pytest.raises(NotThere, match="Tern13 is not counted as another model"):
        doubled.models.part("Tern13")


def test_parted_again_every_figure_is_as_before(doubled: Bench) -> None:
    before = figures(doubled)
    doubled.models.merge("Tern13", "Tern 13")
    assert figures(doubled) != before

    assert doubled.models.part("tern13").kept == "Tern 13"

    assert figures(doubled) == before


def test_of_a_merge_only_the_jobs_of_that_name_are_read_again(
    doubled: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    doubled.asking.models()
    renamed: list[int] = []
    whole = JobTable.rename

    def rename(table: JobTable, named: Mapping[int, Job]) -> None:
        renamed.extend(named)
        whole(table, named)

    monkeypatch.setattr(JobTable, "rename", rename)
    monkeypatch.setattr(
        JobTable, "put", lambda *_: pytest.fail("a job was taken in again")
    )
    doubled.models.merge("Tern13", "Tern 13")

    assert doubled.asking.models() == ["Tern 13"]
    assert renamed == [3]


def test_which_models_are_known_is_told_without_reading_every_machine(
    doubled: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    doubled.machines.write(
        kinds.UNIT_IN, {"tag": "P7-3", "model": "Skua 14", "lot": "P7"}
    )
    doubled.machines.write(
        kinds.UNIT_IN, {"tag": "P7-4", "model": "unknown", "lot": "P7"}
    )
    monkeypatch.setattr(FloorTable, "lines", None)

    assert doubled.models.known() == ("Tern 13", "Tern13", "Skua 14")
