"""The most frequent failures of a model, with how sure their rates are."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, render_template

from webui import asked

pages = Blueprint("review", __name__)


@pages.get("/review")
def review() -> str:
    """Failures of the model in the address, or of all, since a day."""
    model, since = asked.in_address("model"), _day(asked.in_address("since"))
    found = asked.bench().review(model, since)
    top = max((failure.high for failure in found.failures), default=1.0)
    return render_template("review.html", review=found, models=asked.bench().models(), reach=_round_up(top))


def _day(given: str) -> str:
    """A day as YYYY-MM-DD, empty for anything else."""
    try:
        return date.fromisoformat(given).isoformat()
    except ValueError:
        return ""


def _round_up(share: float) -> float:
    """The end of the scale: the next of 5, 10, 20, 50 and 100 %.

    >>> _round_up(0.13), _round_up(0.7)
    (0.2, 1.0)
    """
    return next((end for end in (0.05, 0.1, 0.2, 0.5) if share <= end), 1.0)
