"""The office's questions, each an Ibis expression over the lines of all shops, so that every engine answers the same.

An expression only counts; intervals are put on by `kb/office/answers.py`. A machine is one of its shop, and models are
told apart as a shop's review tells them: not by case.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import ibis
from ibis import Table, _


def per_model(lines: Table) -> Table:
    """How often each cause was confirmed on each model: jobs, machines of those seen, shops, median minutes."""
    jobs = _jobs(lines)
    seen = jobs.group_by("key").agg(model=_.model.min(), machines_seen=_.unit.nunique())
    found = jobs.group_by("key", "named").agg(**_COUNTED)
    return found.join(seen, "key").select("model", "named", *_COUNTED, "machines_seen")


def causes(lines: Table) -> Table:
    """How often each cause was confirmed on any model."""
    jobs = _jobs(lines)
    seen = jobs.agg(machines_seen=_.unit.nunique())
    return jobs.group_by("named").agg(**_COUNTED).cross_join(seen)


def models(lines: Table) -> Table:
    """Models compared: machines, jobs, parts, minutes a machine where all of its jobs have theirs, and put away."""
    jobs = _jobs(lines)
    machines = jobs.group_by("key", "unit").agg(
        model=_.model.min(),
        jobs=_.count(),
        parts=(_.part != "").sum(),
        minutes=_.minutes.sum(),
        told=_.minutes.count(),
    )
    whole = machines.told == machines.jobs
    compared = machines.group_by("key").agg(
        model=_.model.min(),
        machines=_.count(),
        jobs=_.jobs.sum(),
        parts=_.parts.sum(),
        timed=whole.sum(),
        mean=_.minutes.mean(where=whole),
        deviation=_.minutes.std(where=whole, how="sample"),
    )
    shops = jobs.group_by("key").agg(shops=_.shop.nunique())
    gone = (
        _put_away(lines)
        .anti_join(jobs, "unit")
        .group_by("key")
        .agg(put_away=_.unit.nunique())
    )
    whole_table = compared.join(shops, "key").left_join(gone, "key")
    return whole_table.mutate(put_away=_.put_away.fill_null(0)).drop("key", "key_right")


def parts(lines: Table) -> Table:
    """Parts fitted on each model: jobs that each ended, machines of the model seen, shops."""
    jobs = _jobs(lines)
    seen = jobs.group_by("key").agg(model=_.model.min(), machines_seen=_.unit.nunique())
    fitted = (
        jobs.filter(_.part != "")
        .group_by("key", "part")
        .agg(jobs=_.count(), shops=_.shop.nunique())
    )
    return fitted.join(seen, "key").select(
        "model", "part", "jobs", "shops", "machines_seen"
    )


def fits(lines: Table) -> Table:
    """Which part of one model was tried in another, and how often it worked, failed, or was only claimed to fit."""
    tried = lines.filter(_.kind == "fit").mutate(
        key=_.model.lower(), giver=_.from_model.lower()
    )
    return (
        tried.group_by("part", "giver", "key")
        .agg(
            from_model=_.from_model.min(),
            model=_.model.min(),
            worked=(_.shown == "worked").sum(),
            failed=(_.shown == "failed").sum(),
            claimed=(_.shown == "claimed").sum(),
            shops=_.shop.nunique(),
        )
        .drop("giver", "key")
    )


def tests(lines: Table) -> Table:
    """How often each test showed what the confirmed cause makes it show, and how often not."""
    told = lines.filter((_.kind == "test") & (_.shown != ""))
    right, wrong = (_.shown == "right").sum(), (_.shown == "wrong").sum()
    return told.group_by("test").agg(right=right, wrong=wrong, shops=_.shop.nunique())


def gaps(lines: Table) -> Table:
    """What shops met that their library lacks: causes that no sheet lists, presses of "Nothing here fits", put away."""
    unlisted = _jobs(lines).filter(~_.listed).mutate(way=ibis.literal("unlisted"))
    met = lines.filter(_.kind == "gap").mutate(
        key=_.model.lower(), named=ibis.literal(""), way=_.shown
    )
    columns = ("key", "model", "shop", "day", "named", "way")
    return (
        unlisted.select(*columns)
        .union(met.select(*columns))
        .group_by("way", "named", "key")
        .agg(
            model=_.model.min(),
            times=_.count(),
            shops=_.shop.nunique(),
            last=_.day.max(),
        )
        .drop("key")
    )


def shops(lines: Table) -> Table:
    """What each shop sent: its jobs, machines and models, and the days between which they lie."""
    return (
        _jobs(lines)
        .group_by("shop")
        .agg(
            jobs=_.count(),
            machines=_.unit.nunique(),
            models=_.key.nunique(),
            first=_.day.min(),
            last=_.day.max(),
        )
    )


def counts(lines: Table) -> Table:
    """The jobs of each cause on each model in each shop, out of which counts are pooled for shops to take in."""
    jobs = _jobs(lines)
    spelt = jobs.group_by("key").agg(spelt=_.model.min())
    counted = jobs.group_by("shop", "key", "entry", "cause").agg(jobs=_.count())
    return counted.join(spelt, "key").select(
        "shop", "entry", "cause", "jobs", model="spelt"
    )


@dataclass(frozen=True, slots=True)
class Question:
    """A question: its name, its expression, and the order of its answers, most of one column first, then by others."""

    name: str
    ask: Callable[[Table], Table]
    most: str
    then: tuple[str, ...]


QUESTIONS = (
    Question("shops", shops, "jobs", ("shop",)),
    Question("causes", causes, "jobs", ("named",)),
    Question("failures", per_model, "jobs", ("model", "named")),
    Question("models", models, "machines", ("model",)),
    Question("parts", parts, "jobs", ("model", "part")),
    Question("fits", fits, "worked", ("part", "from_model", "model")),
    Question("tests", tests, "wrong", ("test",)),
    Question("gaps", gaps, "times", ("way", "named", "model")),
)

_COUNTED = {
    "jobs": _.count(),
    "machines": _.unit.nunique(),
    "shops": _.shop.nunique(),
    "median_minutes": _.minutes.median(),
}


def _jobs(lines: Table) -> Table:
    """The jobs, each with the key of its model and its cause in full."""
    jobs = lines.filter(_.kind == "job")
    return jobs.mutate(key=_.model.lower(), named=_.entry + "/" + _.cause)


def _put_away(lines: Table) -> Table:
    """The machines that were put away without a cause, with the key of their model."""
    return (
        lines.filter((_.kind == "gap") & (_.shown == "put-away"))
        .mutate(key=_.model.lower())
        .select("key", "unit")
    )
