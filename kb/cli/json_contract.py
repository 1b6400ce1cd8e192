"""The JSON contract that scripts rely on: answers, receipts and reviews with stable keys, additions at the end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

    import click

    from kb.bench.entries import SheetOnFile
    from kb.bench.jobs import Receipt, Standing
    from kb.bench.settings import Settings
    from kb.diagnosis.answer import Answer, CauseBelief, EntryBelief, Parting, Step
    from kb.diagnosis.answering import Ranking
    from kb.history.copies.archive import Manifest
    from kb.history.copies.register import BackedUp
    from kb.history.copies.restore import RestoreReport
    from kb.history.dates import Misdated
    from kb.history.jobs import OpenJob
    from kb.library.tools import Tool
    from kb.model import Job, Remark
    from kb.review.catalogue import Listed
    from kb.review.failures import Failure, Review
    from kb.review.models import Measured, ModelLine
    from kb.review.overview import Overview


#: The version of all these keys: a key that goes, or means something else, makes it one more; a new one does not.
VERSION = 1


def to_json(content: Any) -> str:
    """One line of JSON; a document that has keys carries the version of the contract, a list does not."""
    import json  # the help of a command need not wait for it

    content = {**content, "version": VERSION} if isinstance(content, dict) else content
    return json.dumps(content, ensure_ascii=False, allow_nan=False)


def nulls(told: Mapping[str, Any]) -> dict[str, Any]:
    """What is told with null for every empty text, for an object in which no text means to be empty.

    >>> nulls({"tag": "P7-012", "place": "", "jobs": 0})
    {'tag': 'P7-012', 'place': None, 'jobs': 0}
    """
    return {key: None if value == "" else value for key, value in told.items()}


def of_error(sentence: str, status: int) -> dict[str, Any]:
    """A command that did not do what was asked: the sentence that says what to do, and its exit status."""
    return {"error": sentence, "status": status}


def of_help(asked: click.Context) -> dict[str, Any]:
    """The help of the program or of one of its commands; only the program has commands itself."""
    command = asked.command
    below: Mapping[str, click.Command] = getattr(command, "commands", {})
    headings: Mapping[str, Sequence[str]] = getattr(command, "headings", {})
    under = {name: heading for heading, names in headings.items() for name in names}
    told = [
        one.to_info_dict()
        for one in command.get_params(asked)
        if one.param_type_name == "option"
    ]
    return {
        "command": command.name if asked.parent else None,
        "sentence": command.get_short_help_str(1000),
        "options": [
            {"names": one["opts"] + one["secondary_opts"], "help": one["help"]}
            for one in told
        ],
        "commands": [
            {
                "command": name,
                "heading": under.get(name),
                "sentence": one.get_short_help_str(1000),
            }
            for name, one in below.items()
        ],
    }


def of_standing(standing: Standing) -> dict[str, Any]:
    """A job on the bench with what is believed of it and what comes next, as a search tells it."""
    told = nulls(
        {
            "model": standing.job.model,
            "unit": standing.job.unit,
            "words": standing.job.words,
        }
    )
    return {
        "job": standing.job.job,
        **told,
        "findings": [
            {"test": one.finding.test, "outcome": one.finding.outcome}
            for one in standing.job.findings
        ],
        "answer": of_answer(standing.answer),
    }


def of_backup(file: Path, manifest: Manifest, elsewhere: bool | None) -> dict[str, Any]:
    """A backup that was made; `elsewhere` is null where the shop could keep no note of it."""
    return {
        "file": str(file),
        "records": manifest.records,
        "files": len(manifest.files),
        "left_out": [name for name, _ in manifest.left_out],
        "elsewhere": elsewhere,
    }


def of_restore(
    folder: Path, report: RestoreReport, new_library: bool
) -> dict[str, Any]:
    """A backup that was put back, and whether the shop works with the library in it from now on."""
    return {
        "shop": str(folder),
        "records": report.manifest.records,
        "kept": str(report.kept) if report.kept else None,
        "left": list(report.left),
        "whole": report.whole,
        "new_library": new_library,
        "not_in_it": [name for name, _ in report.manifest.left_out],
    }


def of_remark(remark: Remark) -> dict[str, Any]:
    """What is wrong on a line of a file, and what to write instead."""
    return {
        "file": remark.file,
        "line": remark.line,
        "problem": remark.problem,
        "instead": remark.instead,
        "wish": remark.wish,
    }


def of_answer(answer: Answer, warnings: Sequence[str] = ()) -> dict[str, Any]:
    """The JSON of a search; `warnings` tell what it had to do without."""
    return {
        "query": answer.query,
        "model": answer.model or None,
        "took_ms": round(answer.took_ms, 2),
        "entries": [_of_entry(entry) for entry in answer.entries],
        "next_test": _of_test(answer.next_test) if answer.next_test else None,
        "next_step": _of_step(answer.next_step) if answer.next_step else None,
        "something_else": round(answer.something_else, 6),
        "fits": answer.fits,
        "read_as": [
            {"typed": typed, "read_as": read} for typed, read in answer.corrections
        ],
        "not_told_apart": list(answer.undivided),
        "loss": {"tool": answer.loss.tool, "minutes": round(answer.loss.minutes, 2)}
        if answer.loss
        else None,
        "warnings": list(warnings),
        "at_once": list(answer.at_once),
        "two_things": list(answer.two),
        "parting": _of_parting(answer.parting) if answer.parting else None,
    }


def _of_parting(parting: Parting) -> dict[str, Any]:
    """What parts two neighbours that are close in the words."""
    return {
        "entries": [parting.first, parting.second],
        "seen": list(parting.seen),
        "test": parting.test or None,
        "what": parting.what or None,
        "minutes": parting.minutes if parting.test else None,
    }


def of_ranking(ranking: Ranking) -> dict[str, Any]:
    """The JSON of an order of entries alone; its keys are those of a search."""
    return {
        "query": ranking.query,
        "model": ranking.model or None,
        "entries": [
            {"entry": slug, "probability": round(probability, 6), "fit": round(fit, 6)}
            for slug, probability, fit in ranking.entries
        ],
        "something_else": round(ranking.something_else, 6),
        "fits": ranking.fits,
        "two_things": list(ranking.two),
    }


def of_tools(found: Sequence[Tool]) -> list[dict[str, Any]]:
    """The JSON of the tools that are needed or lacking."""
    return [
        {
            "name": tool.name,
            "tests": tool.tests,
            "fixes": tool.fixes,
            "lacking": tool.lacking,
        }
        for tool in found
    ]


def of_settings(settings: Settings, zone: str, file: Path) -> dict[str, Any]:
    """The JSON of a shop's settings; `zone` is empty for that of the computer."""
    told = {
        "file": str(file),
        "zone": zone,
        "lacks": sorted(settings.lacks),
        "half_life_days": settings.half_life_days,
        "machines_from": settings.machines_from,
        "problem": settings.problem,
        "hourly_cents": settings.hourly_cents,
        "currency": settings.currency,
        "library": settings.library,
        "elsewhere": settings.elsewhere,
    }
    return nulls(told)


def of_dates(found: Misdated) -> dict[str, Any]:
    """The JSON of the records with a date that cannot be right, by their numbers."""
    return {
        "misdated": {
            "before_2000": list(found.before),
            "in_the_future": list(found.future),
            "out_of_order": list(found.out_of_order),
        }
    }


def of_backups(found: BackedUp) -> dict[str, Any]:
    """The JSON of how far a history is in backups; `saved_since` counts the records that are in none."""
    last, elsewhere = found.last, found.elsewhere
    return {
        "last_backup": last.name if last else None,
        "last_backup_at": last.made if last else None,
        "last_backup_file": last.file if last else None,
        "last_backup_on_another_disk": elsewhere.file if elsewhere else None,
        "last_backup_without": list(last.left_out) if last else [],
        "saved_since": found.waiting,
    }


def of_sheet(found: SheetOnFile) -> dict[str, Any]:
    """The JSON of a sheet."""
    entry = found.entry
    return {
        "entry": entry.slug,
        "title": entry.title,
        "area": entry.area,
        "own": found.own,
        "jobs_here": found.belief.jobs_here,
        "jobs_elsewhere": found.belief.jobs_elsewhere,
        "other_shops": _of_other_shops(found.belief),
        "causes": [
            {
                "cause": cause.cause,
                "text": cause.name,
                "weight": cause.weight,
                "probability": round(cause.within, 4),
                "confirmed_here": cause.confirmed_here,
                "confirmed_elsewhere": cause.confirmed_elsewhere,
                "in_other_shops": round(cause.in_other_shops, 4),
            }
            for cause in found.belief.causes
        ],
        "text": found.text,
    }


def of_listed(one: Listed) -> dict[str, Any]:
    """The JSON of a line of the list."""
    return {
        "entry": one.slug,
        "title": one.title,
        "area": one.area or None,
        "own": one.own,
        "jobs": one.jobs,
        "to_mend": one.to_mend,
    }


def of_open(job: OpenJob) -> dict[str, Any]:
    """The JSON of a job on the bench."""
    return _of_listed_job(job, at=job.opened_at)


def of_closed(job: Job) -> dict[str, Any]:
    """The JSON of a closed job."""
    return _of_listed_job(job, at=job.closed_at) | nulls(
        {"open": False, "cause": job.cause, "by": job.by}
    )


def _of_listed_job(job: OpenJob | Job, at: str) -> dict[str, Any]:
    """A job in a list as one on the bench; of a closed one more is known."""
    told = nulls({"model": job.model, "unit": job.unit, "words": job.words})
    return {"job": job.job, "open": True, **told, "cause": None, "at": at, "by": None}


def of_receipt(receipt: Receipt) -> dict[str, Any]:
    """The JSON of a confirmation."""
    return {
        "job": receipt.job,
        "cause": receipt.cause,
        "model": receipt.model,
        "effect": receipt.effect,
    }


def of_review(review: Review) -> dict[str, Any]:
    """The JSON of a review."""
    told = {
        "model": review.model,
        "since": review.since,
        "jobs": review.jobs,
        "machines": review.machines,
        "median_minutes": review.median_minutes,
        "total_minutes": review.total_minutes,
        "parts": [{"part": part, "count": count} for part, count in review.parts],
        "failures": [_of_failure(failure) for failure in review.failures],
        "until": review.until,
        "quarters": [
            {"quarter": quarter, "jobs": jobs} for quarter, jobs in review.quarters
        ],
    }
    return nulls(told)


def of_overview(seen: Overview) -> dict[str, Any]:
    """The JSON of a review with everything beside it."""
    from kb.review.demand import AHEAD_DAYS  # a search need not wait for it

    return of_review(seen.review) | {
        "days_seen": seen.span.days,
        "first_day": seen.span.first or None,
        "last_day": seen.span.last or None,
        "misdated_jobs": seen.strays,
        "days_ahead": AHEAD_DAYS,
        "stock": [
            {
                "part": one.part,
                "used": one.used,
                "from_donors": one.from_donors,
                "expected": round(one.expected, 4),
                "low": one.low,
                "high": one.high,
            }
            for one in seen.stock
        ],
        "models": [_of_model(line) for line in seen.models],
        "gaps": [
            {
                "words": gap.words,
                "times": gap.times,
                "no_fit": gap.no_fit,
                "put_away": gap.put_away,
                "unlisted": gap.unlisted,
                "models": list(gap.models),
                "last": gap.last,
            }
            for gap in seen.gaps
        ],
        "never_confirmed": [
            {"entry": one.slug, "title": one.title, "area": one.area}
            for one in seen.unconfirmed
        ],
    }


def _of_model(line: ModelLine) -> dict[str, Any]:
    return {
        "model": line.model,
        "machines": line.machines,
        "put_away": line.put_away,
        "jobs_per_machine": _of_measured(line.jobs),
        "minutes_per_machine": _of_measured(line.minutes),
        "parts_per_machine": _of_measured(line.parts),
        "cause_found": _of_measured(line.good),
    }


def _of_measured(figure: Measured | None) -> dict[str, Any] | None:
    if figure is None:
        return None
    interval = figure.interval
    limits = [round(interval.low, 4), round(interval.high, 4)] if interval else None
    return {"value": round(figure.value, 4), "interval": limits}


def _of_entry(entry: EntryBelief) -> dict[str, Any]:
    return {
        "entry": entry.entry,
        "title": entry.title,
        "probability": round(entry.probability, 6),
        "fit": round(entry.fit, 6),
        "matched": list(entry.matched),
        "causes": [_of_cause(cause) for cause in entry.causes],
        "area": entry.area,
        "marked": list(entry.marked),
        "spoken_against": list(entry.against),
        "unlisted": round(entry.unlisted, 6),
        "other_shops": _of_other_shops(entry),
    }


def _of_other_shops(entry: EntryBelief) -> dict[str, int]:
    return {"jobs": entry.jobs_in_other_shops, "shops": entry.other_shops}


def _of_cause(cause: CauseBelief) -> dict[str, Any]:
    return {
        "cause": cause.cause,
        "name": cause.name,
        "probability": round(cause.probability, 6),
        "confirmed_here": cause.confirmed_here,
        "confirmed_elsewhere": cause.confirmed_elsewhere,
        "fix_minutes": cause.fix_minutes,
        "within_entry": round(cause.within, 6),
        "interval": [round(cause.low, 4), round(cause.high, 4)],
        "in_other_shops": round(cause.in_other_shops, 4),
    }


def _of_test(step: Step) -> dict[str, Any]:
    return {
        "entry": step.entry,
        "test": step.title,
        "minutes": step.minutes,
        "why": step.why,
        "name": f"{step.entry}/{step.name}",
        "needs": list(step.needs),
        "cover_off": step.cover_off,
        "outcomes": list(step.outcomes),
        "wait_minutes": step.wait,
        "cautions": list(step.cautions),
    }


def _of_step(step: Step) -> dict[str, Any]:
    return {
        "kind": step.kind,
        "entry": step.entry or None,
        "name": f"{step.entry}/{step.name}" if step.entry else None,
        "title": step.title,
        "minutes": step.minutes,
        "expected_minutes": round(step.expected_minutes, 2),
        "why": step.why,
        "lacks": list(step.lacks),
        "held": step.held or None,
        "wait_minutes": step.wait,
        "cautions": list(step.cautions),
        "cause": step.cause or None,
        "detail": step.detail,
        "procedure": list(step.procedure),
    }


def _of_failure(failure: Failure) -> dict[str, Any]:
    return {
        "cause": failure.cause,
        "name": failure.name,
        "jobs": failure.jobs,
        "machines": failure.machines,
        "rate": round(failure.rate, 6),
        "low": round(failure.low, 6),
        "high": round(failure.high, 6),
        "median_minutes": failure.median_minutes,
        "parts": [{"part": part, "count": count} for part, count in failure.parts],
        "first_seen": failure.first_seen,
        "last_seen": failure.last_seen,
        "quarters": [
            {"quarter": quarter, "jobs": jobs} for quarter, jobs in failure.quarters
        ],
        "total_minutes": failure.total_minutes,
    }
