"""Answers to the office's questions: what an engine counted, with the intervals that a shop's review has."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date

from kb.base.intervals import mean_spread, poisson, wilson
from kb.base.quantiles import Interval
from kb.index.elsewhere import PooledCounts
from kb.office.engines import Collected, Row
from kb.office.pooled import SharedCount, pooled
from kb.office.questions import QUESTIONS, Question, counts


def answer(question: Question, collected: Collected) -> list[Row]:
    """The rows that answer a question, most of its column first."""
    rows = collected.rows(question.ask(collected.lines))
    rows.sort(
        key=lambda row: (-row[question.most], *(row[name] for name in question.then))
    )
    return list(map(_FIGURES.get(question.name, _as_it_is), rows))


def asked(name: str | None) -> list[Question]:
    """The question of that name, all of them where none is named."""
    return [one for one in QUESTIONS if name in (None, one.name)]


def pool(collected: Collected, made: date) -> PooledCounts:
    """The jobs of all shops pooled, as every shop may learn from them."""
    return pooled(
        (SharedCount(**row) for row in collected.rows(counts(collected.lines))), made
    )


def _as_it_is(row: Row) -> Row:
    return row


def _of_causes(row: Row) -> Row:
    """The share of machines seen that had the cause, with its Wilson interval."""
    cause = {"cause": row.pop("named")}
    model = {"model": row.pop("model")} if "model" in row else {}
    return (
        model
        | cause
        | row
        | _figure(
            "rate",
            row["machines"] / row["machines_seen"],
            wilson(row["machines"], row["machines_seen"]),
        )
    )


def _of_parts(row: Row) -> Row:
    """Jobs that a part ended per machine seen, with the exact Poisson interval."""
    return row | _figure(
        "rate",
        row["jobs"] / row["machines_seen"],
        poisson(row["jobs"], row["machines_seen"]),
    )


def _of_models(row: Row) -> Row:
    """The figures of a review's models, each with its interval."""
    seen, gone = row["machines"], row["put_away"]
    timed, mean = row.pop("timed"), row.pop("mean")
    deviation = row.pop("deviation")
    spread = mean_spread(mean, deviation, timed) if timed > 1 else None
    return (
        row
        | _figure("jobs_each", row["jobs"] / seen, poisson(row["jobs"], seen))
        | _figure(
            "minutes_each",
            mean,
            Interval(max(spread.low, 0.0), spread.high) if spread else None,
        )
        | _figure("parts_each", row["parts"] / seen, poisson(row["parts"], seen))
        | _figure("good", seen / (seen + gone), wilson(seen, seen + gone))
    )


def _of_tests(row: Row) -> Row:
    """The share of times that a test was right, with its Wilson interval."""
    used = row["right"] + row["wrong"]
    return row | _figure("rate", row["right"] / used, wilson(row["right"], used))


def _of_gaps(row: Row) -> Row:
    return {"way": row.pop("way"), "cause": row.pop("named")} | row


def _figure(name: str, value: float | None, interval: Interval | None) -> Row:
    low, high = (interval.low, interval.high) if interval else (None, None)
    return {name: value, f"{name}_low": low, f"{name}_high": high}


_FIGURES: Mapping[str, Callable[[Row], Row]] = {
    "causes": _of_causes,
    "failures": _of_causes,
    "models": _of_models,
    "parts": _of_parts,
    "tests": _of_tests,
    "gaps": _of_gaps,
}
