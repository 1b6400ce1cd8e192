"""The page of retracted jobs: what counts no longer, and why, latest first."""

from __future__ import annotations

from flask import Blueprint, render_template

from webui import fields

pages = Blueprint("retracted", __name__)

#: Jobs shown at most.
SHOWN = 100


@pages.get("/retracted")
def retracted() -> str:
    """The jobs that were retracted or put away, each with the reason and a way to it."""
    history, entries = fields.bench().history(), fields.bench().entries
    latest = list(history.retracted_jobs())[::-1][:SHOWN]
    jobs = [history.job_state(job) for job in latest]
    causes = entries.cause_texts([job.closed.cause for job in jobs if job.closed])
    return render_template("retracted.html", jobs=jobs, causes=causes)
