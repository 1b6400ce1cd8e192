"""Names that mean the same model: told in order, followed in chains, never round, and read so everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from helpers.histories import counted_ids, minute_by_minute

from kb.history import History, kinds
from kb.history.jobs import job_of
from kb.history.same import ALL_APART, Merge, SameModels
from kb.history.trouble import NotAccepted
from kb.model import Confirmation

CAUSE = "no-battery/pack"


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with History.open(
        tmp_path / "history.db", minute_by_minute(), counted_ids()
    ) as made:
        yield made


def merge(history: History, name: str, kept: str) -> str:
    return history.note(kinds.SAME_MODEL, "", {"model": name, "as": kept}).id


def models(history: History) -> list[str]:
    return [job.model for job in history.closed_jobs()]


def test_the_first_telling_of_a_name_counts_and_a_ring_says_nothing() -> None:
    same = SameModels(
        [
            Merge("a", "b"),
            Merge("A", "c"),
            Merge("b", "c"),
            Merge("c", "a"),
            Merge("d", "d"),
        ]
    )

    assert [same.kept(name) for name in "abcdA"] == ["c", "c", "c", "d", "c"]
    assert same.merges == (Merge("a", "b"), Merge("b", "c"))
    assert (same.is_settled("C"), same.is_settled("d"), same.by_name) == (
        True,
        False,
        {"a": "c", "b": "c"},
    )


@pytest.mark.parametrize(
    ("name", "kept", "told"),
    [
        (
            "Tern 13",
            "Tern13",
            "Tern 13 is already the same as Tern13; nothing is to be done",
        ),
        ("T13", " TERN 13 ", "T13 is already the same as TERN 13"),
        (
            "Tern13",
            "Skua 14",
            "Tern13 is the same as Tern 13 already; take that back first, or merge Tern 13",
        ),
        ("Skua 14", "skua 14", "are one name already"),
        ("Skua 14", "unknown", "`unknown` names no model"),
        ("", "Skua 14", "`` names no model"),
    ],
)
def test_a_merge_that_says_nothing_or_contradicts_is_refused_with_what_to_do(
    name: str, kept: str, told: str
) -> None:
    same = SameModels([Merge("T13", "Tern13"), Merge("Tern13", "Tern 13")])

    with pytest.raises(NotAccepted) as refused:
        same.checked(name, kept)

    assert told in str(refused.value)


def test_what_turned_is_told_by_the_name_it_is_held_under() -> None:
    before, now = (
        SameModels([Merge("a", "b")]),
        SameModels([Merge("a", "b"), Merge("b", "c")]),
    )

    assert before.turned(now) == {"b"}
    assert now.turned(before) == {"c"}
    assert ALL_APART.turned(before) == {"a"}
    assert before.turned(before) == ALL_APART.turned(ALL_APART) == frozenset()


def test_everything_recalled_has_the_kept_name_until_the_merge_is_struck(
    history: History,
) -> None:
    history.close_job(Confirmation(CAUSE, "Tern13"))
    job = history.open_job("TERN13")
    history.note(
        kinds.FIT,
        "",
        {
            "part": "fan",
            "from_model": "Tern13",
            "to_model": "Skua 14",
            "shown": "worked",
        },
    )
    sealed = [record.chain for record in history.records_since()]

    struck = merge(history, "Tern13", "Tern 13")

    assert models(history) == ["Tern 13"]
    assert [history.job_state(job).model, history.open_jobs()[0].model] == [
        "Tern 13",
        "Tern 13",
    ]
    assert (
        [job_of(one).model for one in history.records([1])]
        == [history.last_closed(1)[0].model]
        == ["Tern 13"]
    )
    assert (
        '"from_model":"Tern 13"' in next(history.records_since(0, kinds.FIT.name)).body
    )
    assert [record.chain for record in history.records_since()][:3] == sealed
    assert [job.model for job in history.as_written().closed_jobs()] == ["Tern13"]
    history.note(kinds.STRUCK, "", {"record": struck, "why": "two models"})
    assert (models(history), history.job_state(job).model) == (["Tern13"], "TERN13")


def test_a_job_closed_while_its_model_is_merged_keeps_the_name_it_was_opened_with(
    history: History,
) -> None:
    job = history.open_job("Tern13")
    struck = merge(history, "Tern13", "Tern 13")
    history.close_job(Confirmation(CAUSE, job=job))
    again = history.open_again(job)
    assert (models(history), history.job_state(again).model) == (["Tern 13"], "Tern 13")

    history.note(kinds.STRUCK, "", {"record": struck, "why": "two models"})

    assert (models(history), history.job_state(again).model) == (["Tern13"], "Tern13")


def test_a_merge_that_was_not_kept_is_forgotten_with_its_block(
    history: History,
) -> None:
    history.close_job(Confirmation(CAUSE, "Tern13"))
    with suppress(KeyError), history.together():
        merge(history, "Tern13", "Skua 14")
        assert models(history) == ["Skua 14"]
        raise KeyError

    assert models(history) == ["Tern13"]
    merge(history, "Tern13", "Tern 13")
    assert models(history) == ["Tern 13"]


def test_another_connection_sees_a_merge_at_once(history: History) -> None:
    history.close_job(Confirmation(CAUSE, "Tern13"))
    with History.open(history.path) as other:
        assert models(other) == ["Tern13"]
        merge(history, "Tern13", "Tern 13")
        assert models(other) == ["Tern 13"]
