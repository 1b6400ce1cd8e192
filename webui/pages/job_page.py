"""A job on the bench: what was shown and tried so far, the answer after it, and how it ended."""

from __future__ import annotations

from functools import partial

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.bench import job_pictures
from kb.bench.doubles import just_opened
from kb.bench.doubts import in_doubt, settled
from kb.history.jobs import JobPicture, OpenJob
from kb.library.album import Picture, PictureRefused
from kb.model import Finding, named_test
from webui import failures, fields, marking
from webui.board import board, with_parts, with_pictures
from webui.fields import TypedComplaint
from webui.guard.safety import TOKEN_FIELD, once
from webui.pages.checkout_page import address_of
from webui.pages.models_page import which_model

pages = Blueprint("job", __name__)


@pages.post("/job")
def note() -> Response | tuple[str, int]:
    """Note an outcome, a test that could not be done or a fix that did not help; opens the job if there is none.

    A model that is new and near a known one is asked about before a job is opened on it. A machine that has an open
    job, by its tag or by the same words of just now, is shown with it before a second one is made.
    """
    bench = fields.bench()
    job, unit = fields.in_form("job"), fields.in_form("unit")
    if not job and (asked := _asked_which_model(fields.model_meant())):
        return asked
    if not job and not fields.in_form("another") and (open_jobs := _open_already(unit)):
        return _asked_which(open_jobs, unit), 409
    job = job or bench.jobs.begin(
        fields.in_form("q"), fields.model_meant(), unit, once()
    )
    step = fields.in_form("step")
    with bench.history().together():  # one flush, and no power cut keeps the half of it
        if outcome := fields.in_form("outcome"):
            _found(job, Finding(step, outcome))
        elif fields.in_form("aside"):
            bench.jobs.could_not_do(job, step, token=f"{once()}-1")
        elif failed := fields.in_form("failed"):
            bench.jobs.did_not_help(job, failed, f"{once()}-1")
        bench.jobs.take_up(job, fields.at_this_bench(), once())
    return redirect(fields.job_address(job), 303)


@pages.post("/job/<path:job>/clock")
def clock(job: str) -> Response:
    """Somebody takes the job up, or leaves it, and why."""
    if why := fields.in_form("why"):
        fields.bench().jobs.leave(job, fields.at_this_bench(), why, once())
    else:
        fields.bench().jobs.take_up(job, fields.at_this_bench(), once())
    return redirect(fields.job_address(job), 303)


def _asked_which_model(model: str) -> tuple[str, int] | None:
    """The page that asks which model is meant; None if that is clear, or if an open job is on that very model."""
    if any(
        job.model.casefold() == model.casefold()
        for job in fields.bench().jobs.open_jobs()
    ):
        return None
    return which_model(model, "/job")


def _asked_which(open_jobs: tuple[OpenJob, ...], unit: str) -> str:
    """The page with the jobs that may be meant; the form as it was sent is in it, for one of them or for a new one."""
    kept = [
        (name, value)
        for name, value in fields.form_fields()
        if name not in (TOKEN_FIELD, "job")
    ]
    names = {name for name, _ in kept}
    notes = not names.isdisjoint(("outcome", "aside", "failed"))
    return render_template(
        "another.html", jobs=open_jobs, unit=unit, kept=kept, notes=notes
    )


def _open_already(unit: str) -> tuple[OpenJob, ...]:
    """The open jobs that may be meant, but for the one that this very form has opened."""
    jobs = fields.bench().machines.open_jobs(unit)
    if not unit:
        jobs = just_opened(fields.bench(), fields.in_form("q"), fields.model_meant())
    written = fields.bench().history().written_with(once())
    return tuple(job for job in jobs if written is None or job.job != written.job)


def _found(job: str, finding: Finding) -> None:
    """Note an outcome; one that another tab or hand noted already would count twice."""
    if finding not in fields.bench().jobs.job(job).outcomes:
        fields.bench().jobs.found(job, finding, f"{once()}-1")


@pages.get("/job/<path:job>")
def show(job: str) -> str:
    """The job with the answer as of now; a closed one with what was saved."""
    bench = fields.bench()
    state = bench.jobs.job(job)
    if state.closed or state.retracted:
        return _over(state)
    standing = bench.jobs.standing(job)
    complaint = TypedComplaint(
        state.words, state.model or standing.answer.model, state.unit, job
    )
    laid_out = with_parts(
        bench, board(bench.entries.entry, complaint, standing.answer, job=state)
    )
    laid_out = with_pictures(bench, laid_out)
    titles = _titles((*standing.job.skipped, *(shown.test for shown in state.outcomes)))
    titles |= bench.entries.cause_texts([failed.fix for failed in state.failed_fixes])
    return render_template(
        "job.html",
        standing=standing,
        board=laid_out,
        titles=titles,
        check_out=_check_out(state),
        disputed=_disputed(state.outcomes),
        doubt=in_doubt(bench, state),
        taken=job_pictures.of_job(state, bench),
        at_once_beside=bench.parts.at_once_beside(state),
        runs=not state.turns or fields.at_this_bench() in state.run_by,
    )


def _over(state: OpenJob) -> str:
    """The page of a job that is closed or put away: what was saved."""
    bench, closed = fields.bench(), state.closed
    cause, slug = (closed.cause, closed.entry) if closed else ("", "")
    again = ""
    if state.words:
        again = TypedComplaint(state.words, state.model, state.unit).address("/")
    return render_template(
        "closed.html",
        job=state,
        receipt=bench.jobs.receipt(state.job),
        cause=bench.entries.cause_texts([cause])[cause],
        entry=bench.entries.entry(slug),
        again=again,
        titles=_titles(tuple(shown.test for shown in state.outcomes)),
        check_out=_check_out(state),
        taken=job_pictures.of_job(state, bench),
        elsewhere=closed is not None and closed.shop not in bench.history().own_shops(),
    )


@pages.post("/job/<path:job>/back")
def take_back(job: str) -> Response:
    """Take back a finding or a failed fix, or put a test that was set aside back on the list."""
    if test := fields.in_form("test"):
        fields.bench().jobs.could_not_do(job, test, skip=False, token=once())
    else:
        fields.bench().jobs.take_back(job, fields.in_form("record"), once())
    return redirect(fields.job_address(job), 303)


@pages.post("/job/<path:job>/picture")
def picture(job: str) -> Response | tuple[str, int]:
    """Put a picture on the job, open or closed."""
    bench, by = fields.bench(), fields.initials()
    try:
        job_pictures.add_to(
            job,
            bench,
            fields.sent_picture(),
            fields.in_form("caption"),
            by=by,
            token=once(),
        )
    except PictureRefused as error:
        return failures.page(400, "failure.picture", error.sentence)
    return redirect(f"{fields.job_address(job)}#taken-here", 303)


@pages.post("/job/<path:job>/unpicture")
def take_picture_back(job: str) -> Response:
    """Take a picture of the job back."""
    by = fields.initials()
    job_pictures.take_back(
        job, fields.bench(), fields.in_form("record"), by=by, token=once()
    )
    return redirect(f"{fields.job_address(job)}#taken-here", 303)


@pages.get("/job/<path:job>/mark")
def where_to_mark(job: str) -> str:
    """The page on which a picture of the job is tapped where the thing is."""
    address = fields.job_address(job)
    return marking.page_of(_pictures_of(job), address, f"{address}#taken-here")


@pages.post("/job/<path:job>/mark")
def mark(job: str) -> Response:
    """Show a marked copy of a picture of the job in its place, or with `plain` in the form the one without marks."""
    bench = fields.bench()
    marking.do(
        _pictures_of(job),
        partial(job_pictures.mark, job, bench),
        partial(job_pictures.unmark, job, bench),
    )
    return redirect(f"{fields.job_address(job)}#taken-here", 303)


def _pictures_of(job: str) -> tuple[tuple[JobPicture, Picture], ...]:
    return job_pictures.of_job(fields.bench().jobs.job(job), fields.bench())


@pages.post("/job/<path:job>/part")
def part(job: str) -> Response:
    """Say what was wrong with the part that was fitted with a fix that did not help."""
    settled(fields.bench(), job, fields.turned_out(), fields.in_form("why"), once())
    return redirect(fields.job_address(job), 303)


@pages.post("/job/<path:job>/undo")
def undo(job: str) -> Response:
    """Retract a confirmation, or put an open job away; the reason is in the form, whose it is in the browser."""
    by = fields.initials()
    fields.bench().jobs.retract(job, fields.in_form("why"), by, once())
    return redirect(fields.job_address(job), 303)


@pages.post("/job/<path:job>/again")
def again(job: str) -> Response:
    """Open a new job with what was found on this one, so that an undone tap costs no test twice."""
    return redirect(
        fields.job_address(fields.bench().jobs.take_up_again(job, once())), 303
    )


def _disputed(outcomes: tuple[Finding, ...]) -> frozenset[str]:
    """The tests of which two different outcomes are noted, as when two people answer the same step."""
    told: dict[str, set[str]] = {}
    for shown in outcomes:
        told.setdefault(shown.test, set()).add(shown.outcome)
    return frozenset(test for test, said in told.items() if len(said) > 1)


def _check_out(state: OpenJob) -> str:
    """The address of the check-out that a failed line of opened the job, empty if none did."""
    return (
        address_of(state.unit)
        if fields.bench().checkout.opened_by(state.job, state.unit)
        else ""
    )


def _titles(tests: tuple[str, ...]) -> dict[str, str]:
    """The titles of tests by `entry/test`; a test that is no longer listed is shown by its name."""
    found = {name: named_test(name, fields.bench().entries.entry) for name in tests}
    return {name: test.title if test else name for name, test in found.items()}
