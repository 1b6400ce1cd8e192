"""The tables of an overview as rows for a spreadsheet: a line of headings, then numbers as numbers, days as days."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from itertools import chain

from kb.base.csvtext import Cell
from kb.base.quantiles import Interval
from kb.review.demand import AHEAD_DAYS
from kb.review.models import Measured
from kb.review.overview import Overview
from kb.review.trend import filled

Rows = Iterator[tuple[Cell, ...]]


def _failures(seen: Overview) -> Rows:
    yield (
        "cause",
        "name",
        "jobs",
        "machines",
        "machines seen",
        "rate",
        "rate low",
        "rate high",
        "median minutes",
        "total minutes",
        "parts",
        "first",
        "last",
    )
    for one in seen.review.failures:
        yield (
            one.cause,
            one.name,
            one.jobs,
            one.machines,
            seen.review.machines,
            _short(one.rate),
            _short(one.low),
            _short(one.high),
            one.median_minutes,
            one.total_minutes,
            ", ".join(f"{part} {count}" for part, count in one.parts),
            seen.period.day(one.first_seen),
            seen.period.day(one.last_seen),
        )


def _quarters(seen: Overview) -> Rows:
    names = [
        name
        for name, _ in filled(seen.review.quarters, seen.span.first, seen.span.last)
    ]
    yield ("cause", "name", *names)
    yield ("", "all jobs", *(dict(seen.review.quarters).get(name, 0) for name in names))
    for one in seen.review.failures:
        yield (
            one.cause,
            one.name,
            *(dict(one.quarters).get(name, 0) for name in names),
        )


def _stock(seen: Overview) -> Rows:
    ahead = f"in {AHEAD_DAYS} days"
    yield (
        "part",
        "used",
        "from donors",
        "days seen",
        f"expected {ahead}",
        f"low {ahead}",
        f"high {ahead}",
    )
    for one in seen.stock:
        yield (
            one.part,
            one.used,
            one.from_donors,
            seen.span.days,
            _short(one.expected),
            one.low,
            one.high,
        )


def _models(seen: Overview) -> Rows:
    figures = ("jobs", "minutes", "parts", "cause found")
    heads = [(name, f"{name} low", f"{name} high") for name in figures]
    yield ("model", "machines", *chain.from_iterable(heads))
    for one in seen.models:
        cells = map(_measured, (one.jobs, one.minutes, one.parts, one.good))
        yield (one.model, one.machines, *chain.from_iterable(cells))


def _gaps(seen: Overview) -> Rows:
    yield (
        "words",
        "times",
        "nothing fitted",
        "put away",
        "cause not listed",
        "models",
        "last",
    )
    for one in seen.gaps:
        models = ", ".join(one.models)
        yield (
            one.words,
            one.times,
            one.no_fit,
            one.put_away,
            one.unlisted,
            models,
            seen.period.day(one.last),
        )


def _unconfirmed(seen: Overview) -> Rows:
    yield ("entry", "title", "area")
    for entry in seen.unconfirmed:
        yield entry.slug, entry.title, entry.area


#: Every table by the name of its file.
TABLES: Mapping[str, Callable[[Overview], Rows]] = {
    "failures": _failures,
    "quarters": _quarters,
    "stock": _stock,
    "models": _models,
    "gaps": _gaps,
    "unconfirmed": _unconfirmed,
}


def _measured(figure: Measured | None) -> tuple[Cell, Cell, Cell]:
    if figure is None:
        return None, None, None
    return (_short(figure.value), *_limits(figure.interval))


def _limits(interval: Interval | None) -> tuple[Cell, Cell]:
    return (_short(interval.low), _short(interval.high)) if interval else (None, None)


def _short(number: float) -> float:
    return round(number, 4)
