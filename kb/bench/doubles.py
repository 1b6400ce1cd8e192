"""Doubles: the jobs of just now that a second opening or saving most likely means again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from kb.base.clock import stamp
from kb.bench.front import Bench
from kb.history.jobs import OpenJob
from kb.model import Confirmation, Job

#: Within this time the same words or the same cause are taken for the same machine until somebody says otherwise.
JUST_NOW = timedelta(minutes=15)
#: So many of the jobs saved last are looked through for that.
LATELY = 20


def just_opened(bench: Bench, words: str, model: str) -> tuple[OpenJob, ...]:
    """The open jobs without a tag, of just now, for the same words on the same model."""
    since = stamp(bench.shop.clock() - JUST_NOW)
    lately = (job for job in bench.jobs.open_jobs() if job.opened_at >= since)
    return tuple(
        job
        for job in lately
        if _told(job) == _folded(words, bench.asking.spelt(model), "")
    )


def just_saved(bench: Bench, given: Confirmation, token: str = "") -> Job | None:
    """The job of just now that this confirmation would count a second time; None for the same form again."""
    history = bench.history()
    if given.job or history.written_with(token):
        return None
    since = stamp(bench.shop.clock() - JUST_NOW)
    given = replace(given, model=bench.asking.spelt(given.model))
    for job in history.last_closed(LATELY):
        if (
            job.closed_at >= since
            and job.cause == given.cause
            and _told(job) == _told(given)
        ):
            return job
    return None


def _told(given: OpenJob | Job | Confirmation) -> tuple[str, ...]:
    """What tells one machine at the bench from another: the words, the model and the tag, however they are spelt."""
    return _folded(given.words, given.model, given.unit)


def _folded(*texts: str) -> tuple[str, ...]:
    return tuple(" ".join(text.split()).casefold() for text in texts)
