"""Jobs put away without a cause, each under the model that its machine turned out to be."""

from __future__ import annotations

from pathlib import Path

from kb.history import History
from kb.model import Confirmation
from kb.review.period import Period
from kb.review.putaway import put_away


def test_only_jobs_without_a_cause_count_under_the_model_that_came_in(tmp_path: Path) -> None:
    with History.open(tmp_path / "history.db") as history:
        left = history.open_job("", "T-1", "dead")
        history.retract(left, "owner took it home")
        closed = history.close_job(Confirmation("no-battery/pack", "Tern 13"))
        history.retract(closed.job, "it was the plug")

        (found,) = put_away(history, {"t-1": "Skua 14"})
        assert (found.job, found.model, found.words, found.why) == (left, "Skua 14", "dead", "owner took it home")
        assert put_away(history, period=Period("", "2000-01-01", None)) == ()
