"""The records that stand: neither struck nor of a retracted job, and the model that they tell of a machine last."""

from __future__ import annotations

from kb.history import History, kinds
from kb.history.standing import models_told, standing
from kb.model import Confirmation


def test_what_was_struck_or_belongs_to_a_retracted_job_does_not_stand(
    history: History,
) -> None:
    kept = history.close_job(Confirmation("no-battery/pack", "Tern 13", unit="T-1"))
    wrong = history.close_job(Confirmation("no-battery/plug", "Tern 13", unit="T-2"))
    history.retract(wrong.job, "it was the pack")
    moved = history.note(kinds.UNIT_IN, "", {"tag": "T-3", "model": "Skua 14"})
    history.note(kinds.STRUCK, "", {"record": moved.id, "why": "typed twice"})

    left = standing(history.records_since())

    assert kept.id in {record.id for record in left}
    assert not {wrong.id, moved.id} & {record.id for record in left}


def test_what_an_arrival_says_of_a_model_wins_over_a_job(history: History) -> None:
    history.note(kinds.UNIT_IN, "", {"tag": "T-1", "model": "Skua 14"})
    history.close_job(Confirmation("no-battery/pack", "Tern 13", unit="t-1"))
    history.close_job(Confirmation("no-battery/pack", "Tern 13", unit="T-2"))

    assert sorted(models_told(history.records_since()).values()) == [
        "Skua 14",
        "Tern 13",
    ]
