"""The office's answers over one shop are those of its review, to the last figure that both give."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.offices import Answers, answered, busy_shop, job, put
from helpers.places import CORPUS
from helpers.shops import quick_folder

from kb.base.intervals import poisson
from kb.bench.front import Bench
from kb.bench.sharing import share
from kb.diagnosis.counts import of_tests
from kb.review.models import Measured
from kb.review.overview import Overview


@pytest.fixture(scope="module")
def busy() -> Iterator[Bench]:
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS)
        busy_shop(made)
        yield made
        made.close()


@pytest.fixture(scope="module")
def office(busy: Bench) -> Answers:
    return answered(share(busy.shop, busy.folder / "office").file.parent)


@pytest.fixture(scope="module")
def seen(busy: Bench) -> Overview:
    return busy.looking_back.overview()


def with_limits(figure: Measured) -> tuple[float, float, float]:
    assert figure.interval is not None
    return figure.value, figure.interval.low, figure.interval.high


def test_failures_are_those_of_the_review_with_its_intervals(
    office: Answers, busy: Bench, seen: Overview
) -> None:
    models = {row["model"] for row in office["failures"]}
    rows = {
        model: [row for row in office["failures"] if row["model"] == model]
        for model in models
    }
    told = {model: busy.looking_back.overview(model).review for model in models}

    assert len(models) > 5
    for found, review in [
        (office["causes"], seen.review),
        *((rows[model], told[model]) for model in models),
    ]:
        assert [
            (
                row["cause"],
                row["jobs"],
                row["machines"],
                row["machines_seen"],
                row["rate"],
                row["rate_low"],
                row["rate_high"],
            )
            for row in found
        ] == [
            (
                one.cause,
                one.jobs,
                one.machines,
                review.machines,
                one.rate,
                one.low,
                one.high,
            )
            for one in review.failures
        ]
        assert [row["median_minutes"] for row in found] == [
            one.median_minutes for one in review.failures
        ]


def test_models_are_those_that_the_review_compares(
    office: Answers, seen: Overview
) -> None:
    told = {line.model: line for line in seen.models}

    assert {row["model"] for row in office["models"]} == told.keys()
    assert sum(row["put_away"] for row in office["models"]) == 3
    for row in office["models"]:
        line = told[row["model"]]
        assert (row["machines"], row["put_away"]) == (line.machines, line.put_away)
        for name, figure in (
            ("jobs_each", line.jobs),
            ("parts_each", line.parts),
            ("good", line.good),
        ):
            assert (row[name], row[f"{name}_low"], row[f"{name}_high"]) == with_limits(
                figure
            )
        assert line.minutes is not None
        assert (
            row["minutes_each"],
            row["minutes_each_low"],
            row["minutes_each_high"],
        ) == pytest.approx(with_limits(line.minutes))


def test_parts_are_those_of_the_review_per_machine_seen(
    office: Answers, busy: Bench, seen: Overview
) -> None:
    every: Counter[str] = Counter()
    for row in office["parts"]:
        every[row["part"]] += row["jobs"]
        limits = poisson(row["jobs"], row["machines_seen"])
        assert (row["rate_low"], row["rate_high"]) == (limits.low, limits.high)

    assert every == dict(seen.review.parts)
    on_tern = {
        row["part"]: row["jobs"] for row in office["parts"] if row["model"] == "Tern 13"
    }
    assert on_tern == dict(busy.looking_back.overview("Tern 13").review.parts)


def test_tests_are_as_reliable_as_the_shop_itself_counts_them(
    office: Answers, busy: Bench
) -> None:
    counted = {}
    entries = busy.entries.served()
    with busy.shop.knowing() as knowledge:
        for entry in entries:
            for name, record in of_tests(
                knowledge.index.jobs.shown_on(entry.slug), entry
            ).items():
                counted[f"{entry.slug}/{name}"] = (record.right, record.wrong)

    assert {
        row["test"]: (row["right"], row["wrong"]) for row in office["tests"]
    } == counted
    assert [row["wrong"] for row in office["tests"]] == sorted(
        (wrong for _, wrong in counted.values()), reverse=True
    )


def test_gaps_are_as_many_in_each_way_as_the_review_counts(
    office: Answers, seen: Overview
) -> None:
    ways = Counter[str]()
    for row in office["gaps"]:
        ways[row["way"]] += row["times"]
        assert (row["cause"] == "odd/thing") == (row["way"] == "unlisted")

    assert ways["no-fit"] == sum(gap.no_fit for gap in seen.gaps) == 3
    assert ways["put-away"] == sum(gap.put_away for gap in seen.gaps) == 3
    assert ways["unlisted"] == sum(gap.unlisted for gap in seen.gaps) > 3


def test_a_single_machine_leaves_its_minutes_open(tmp_path: Path) -> None:
    (row,) = answered(put(tmp_path, [job("1" * 12, 1)]), "duckdb", "models")["models"]

    assert (row["minutes_each"], row["minutes_each_low"], row["minutes_each_high"]) == (
        10.0,
        None,
        None,
    )
