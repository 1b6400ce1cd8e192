"""Fits that jobs teach: another shop learns each once, with the models and without a tag."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.histories import NOON, counted_ids, import_jobs

from kb.history import History, kinds
from kb.history.exchange import export_everything, export_jobs
from kb.history.taught_fits import fit_id
from kb.model import Confirmation


@pytest.fixture
def shops(tmp_path: Path) -> Iterator[tuple[History, History, History]]:
    """Three shops; in the first a donor D-1 stands."""
    with (
        History.open(tmp_path / "a.db", new_id=counted_ids("a")) as one,
        History.open(tmp_path / "b.db", new_id=counted_ids("b")) as two,
        History.open(tmp_path / "c.db", new_id=counted_ids("c")) as three,
    ):
        one.note(kinds.UNIT_IN, "", {"tag": "D-1", "model": "Skua 14"})
        yield one, two, three


def ended(history: History, donor: str = "d - 1", model: str = "Tern 13") -> str:
    """The id of a job on P7-1 that a donor's fan ended."""
    return history.close_job(
        Confirmation(NOON.cause, model, unit="P7-1", part="fan", donor=donor)
    ).job


def fits(history: History) -> list[tuple[str, str, str]]:
    """The fits that stand in a history as records: giver, receiver and how it came out."""
    struck = {
        json.loads(one.body)["record"]
        for one in history.records_since(0, kinds.STRUCK.name)
    }
    told = [
        json.loads(one.body)
        for one in history.records_since(0, kinds.FIT.name)
        if one.id not in struck
    ]
    return [(one["from_model"], one["to_model"], one["shown"]) for one in told]


def test_another_shop_learns_it_once_and_without_a_tag(
    shops: tuple[History, History, History],
) -> None:
    one, two, _ = shops
    job = ended(one)
    import_jobs(two, [line for line in export_jobs(one) if '"kind"' not in line])
    lines = list(export_jobs(one, since="2999-01-01T00:00:00Z"))

    (line,) = map(json.loads, lines)
    assert (line["record"], "P7-1" in lines[0], "D-1" in lines[0]) == (
        fit_id(job),
        False,
        False,
    )
    assert import_jobs(two, lines).floor == 1
    assert import_jobs(two, export_jobs(one)).floor == 0
    assert fits(two) == [("Skua 14", "Tern 13", "worked")]


def test_what_is_retracted_or_came_from_elsewhere_or_from_an_unknown_model_teaches_nothing(
    shops: tuple[History, History, History],
) -> None:
    one, two, _ = shops
    one.retract(ended(one), "it was the cable")
    ended(one, donor="D-2")
    ended(one, model="unknown")
    two.note(kinds.UNIT_IN, "", {"tag": "D-2", "model": "Auk 15"})
    import_jobs(two, export_jobs(one))

    assert [
        line for shop in (one, two) for line in export_jobs(shop) if '"kind"' in line
    ] == []


def test_what_was_learned_goes_on_to_a_third_shop_and_home_again_without_being_learned_twice(
    shops: tuple[History, History, History],
) -> None:
    one, two, three = shops
    ended(one)
    one.note(
        kinds.FIT,
        "",
        {
            "part": "fan",
            "from_model": "Auk 15",
            "to_model": "Tern 13",
            "shown": "claimed",
        },
    )
    import_jobs(two, export_jobs(one))

    assert import_jobs(three, export_jobs(two)).floor == 2
    assert import_jobs(three, export_jobs(one)).floor == 0
    assert import_jobs(one, export_jobs(three)).floor == 0


def test_a_job_that_turned_out_wrong_teaches_no_longer_where_that_is_told(
    shops: tuple[History, History, History],
) -> None:
    one, two, three = shops
    job = ended(one)
    import_jobs(two, export_jobs(one))
    one.retract(job, "it was the cable")

    import_jobs(two, export_jobs(one, with_retracted=True))
    import_jobs(one, export_jobs(two))

    assert (fits(two), fits(one)) == ([], [])
    assert import_jobs(three, export_jobs(two)).floor == 0


def test_a_record_that_moved_twice_is_struck_where_it_came_from_elsewhere_too(
    shops: tuple[History, History, History],
) -> None:
    one, two, three = shops
    claim = {
        "part": "fan",
        "from_model": "Auk 15",
        "to_model": "Tern 13",
        "shown": "claimed",
    }
    one.note(kinds.FIT, "", claim)
    import_jobs(three, export_jobs(one))
    import_jobs(two, export_everything(one))
    (moved,) = two.records_since(0, kinds.FIT.name)
    two.note(kinds.STRUCK, "", {"record": moved.id, "why": "nobody claims it"})

    import_jobs(three, export_everything(two))

    assert fits(three) == []
