"""Doubles: jobs of just now that most likely mean the same machine again."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from helpers.places import CORPUS

from kb.bench import doubles
from kb.bench.front import Bench
from kb.model import Confirmation

NOON = datetime(2026, 6, 30, 12, tzinfo=UTC)
GIVEN = Confirmation("no-battery/pack", "Tern 13", words="no battery")


def test_the_same_words_on_the_same_model_are_doubted_for_a_quarter_of_an_hour(
    tmp_path: Path,
) -> None:
    now = [NOON]
    bench = Bench(tmp_path / "shop", stock=CORPUS, clock=lambda: now[0])
    opened, saved = (
        bench.jobs.begin("No  battery", "tern 13"),
        bench.jobs.confirm(GIVEN).job,
    )

    assert [one.job for one in doubles.just_opened(bench, "no battery", "Tern 13")] == [
        opened
    ]
    again = doubles.just_saved(bench, GIVEN)
    assert again
    assert again.job == saved
    for other in (
        replace(GIVEN, unit="T-1"),
        replace(GIVEN, words="dead"),
        replace(GIVEN, cause="no-battery/plug"),
    ):
        assert doubles.just_saved(bench, other) is None, other

    now[0] += doubles.JUST_NOW + timedelta(seconds=1)
    assert doubles.just_opened(bench, "no battery", "Tern 13") == ()
    assert doubles.just_saved(bench, GIVEN) is None
    bench.close()


def test_the_same_form_again_is_no_double(bench: Bench) -> None:
    bench.jobs.confirm(GIVEN, token="form")

    assert doubles.just_saved(bench, GIVEN, "form") is None
    assert doubles.just_saved(bench, GIVEN, "another")
