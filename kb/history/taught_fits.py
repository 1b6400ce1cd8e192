"""Taught fits: what the jobs that a donor's part ended teach of parts of one model in another, for other shops."""

from __future__ import annotations

from collections.abc import Iterator

from kb.history import History, kinds
from kb.history.ids import derived_id
from kb.history.intake import tag_key
from kb.history.jobs import body_of, job_of
from kb.history.record import TAKEN_IN, Record, canonical
from kb.history.standing import models_told, standing
from kb.history.units import is_of_another, is_unknown
from kb.model import Job


def fit_id(job: str) -> str:
    """The id that the fit taught by a job has as a record, the same in every shop.

    >>> fit_id("a1") == fit_id("a1") != fit_id("a2")
    True
    """
    return derived_id(f"fit {job}")


def taught_fits(history: History) -> Iterator[Record]:
    """A fit that worked for each standing job of this shop with a donor's part, as a record that stands nowhere yet.

    Models are as they were written; of a donor whose model nobody has told, nothing is taught. No tag is in it.
    """
    own = history.own_shops()
    told = standing(
        one
        for one in history.as_written().records_since()
        if not is_of_another(one, own)
    )
    closed = [job_of(one) for one in told if one.kind == kinds.CLOSE.name]
    jobs = [job for job in closed if job.donor and job.part]
    models = models_told(told) if jobs else {}
    for job in jobs:
        giver = models.get(tag_key(job.donor), "")
        if not is_unknown(giver) and not is_unknown(job.model):
            yield _taught(job, giver)


def _taught(job: Job, giver: str) -> Record:
    body = {
        "part": job.part,
        "from_model": giver,
        "to_model": job.model,
        "shown": "worked",
    }
    return Record(
        0,
        fit_id(job.job),
        "",
        job.shop,
        job.closed_at,
        kinds.FIT.name,
        canonical(body),
        None,
        "",
    )


def strike_taught(history: History, job: str, why: str) -> None:
    """Strike the fit that a job of another shop taught here, since that job is retracted; nothing if none came in."""
    if taught := history.written_with(f"{TAKEN_IN}{fit_id(job)}"):
        history.note(
            kinds.STRUCK,
            "",
            {"record": taught.id, "why": why},
            f"untaught {fit_id(job)}",
        )


def known_by_jobs(history: History) -> frozenset[str]:
    """The ids of all fits that jobs of this shop teach or taught: none of them comes in from elsewhere."""
    own = history.own_shops()
    closed = (
        one for one in history.records_since(0, kinds.CLOSE.name) if one.shop in own
    )
    return frozenset(fit_id(one.job) for one in closed if body_of(one).get("donor"))
