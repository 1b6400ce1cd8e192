"""Looking back on a history that can be counted by hand: parts to keep, models compared, gaps, quarters, days."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import scipy.stats
from click.testing import Result
from helpers.places import CORPUS
from helpers.shops import quick_folder
from hypothesis import given
from hypothesis import strategies as st

from kb.base.means import mean_interval, student
from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.bench.settings import SettingsFile
from kb.model import Confirmation
from kb.review.demand import needed
from kb.review.failures import review
from kb.review.models import compared
from kb.review.overview import Overview
from kb.review.period import ALWAYS, Period, Span
from kb.review.putaway import PutAway
from kb.review.tables import TABLES
from kb.review.trend import by_quarter, filled, quarter
from kb.review.work import Work

PLUG, PACK, BOARD = "no-battery/plug", "no-battery/pack", "no-battery/light-board"


def in_zone(bench: Bench, zone: str) -> None:
    """The shop's days begin at the midnight of that time zone."""
    bench.folder.mkdir(parents=True, exist_ok=True)
    SettingsFile(bench.folder).path.write_text(f'zone = "{zone}"\n', encoding="utf-8")


@pytest.fixture
def bench() -> Iterator[Bench]:
    """A fresh shop over the small corpus, in memory where there is such a place."""
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS)
        yield made
        made.close()


@pytest.fixture
def shop(bench: Bench) -> Bench:
    """Five jobs on three machines of two models, from 1 January to 10 April 2026: 100 days."""
    in_zone(bench, "UTC")
    for job in (
        Confirmation(PACK, "Tern 13", unit="T-1", minutes=10, part="battery", closed_at="2026-01-01T09:00:00Z"),
        Confirmation(PLUG, "tern 13", unit="t-1", minutes=20, closed_at="2026-02-01T09:00:00Z"),
        Confirmation(PACK, "Tern 13", unit="T-2", minutes=40, part="battery", donor="T-9",
                     closed_at="2026-03-31T09:00:00Z"),
        Confirmation(BOARD, "Skua 14", unit="S-1", part="charge-indicator board", closed_at="2026-04-01T09:00:00Z"),
        Confirmation(PLUG, "Skua 14", unit="S-1", minutes=5, closed_at="2026-04-10T09:00:00Z"),
    ):  # fmt: skip
        bench.jobs.confirm(job)
    return bench


# Parts to keep


def test_parts_are_reckoned_from_what_was_used_in_the_days_seen(shop: Bench) -> None:
    seen = shop.looking_back.overview()

    assert seen.span == Span("2026-01-01", "2026-04-10", 100)
    battery, board = seen.stock
    assert (battery.part, battery.used, battery.from_donors, board.used) == ("battery", 2, 1, 1)
    # (2 + 1/2) · 91/100; limits of scipy.stats.nbinom(2.5, 100/191)
    assert battery.expected == pytest.approx(2.275)
    ahead = scipy.stats.nbinom(2.5, 100 / 191)
    assert (battery.low, battery.high) == (ahead.ppf(0.025), ahead.ppf(0.975))


def test_only_the_chosen_days_count(shop: Bench) -> None:
    seen = shop.looking_back.overview(since="2026-03-01", until="2026-03-31")

    assert (seen.review.jobs, seen.span.days, [one.used for one in seen.stock]) == (1, 31, [1])


def test_days_before_the_first_and_after_the_last_job_are_not_days_without_need(shop: Bench) -> None:
    assert shop.looking_back.overview(since="2000-01-01", until="2100-01-01").span.days == 100
    assert shop.looking_back.overview(since="2027-01-01").span == Span()
    assert shop.looking_back.overview(since="2027-01-01").stock == ()


def test_a_shop_without_jobs_needs_nothing(bench: Bench) -> None:
    seen = bench.looking_back.overview()

    assert (seen.stock, seen.models, seen.gaps, seen.span.days) == ((), (), (), 0)
    assert len(seen.unconfirmed) == len(bench.entries.served())


@given(st.integers(0, 60), st.integers(1, 400))
def test_more_pieces_used_never_ask_for_fewer(used: int, days: int) -> None:
    def keep(count: int) -> int:
        works = [
            Work(
                job=str(i),
                model="m",
                machine=str(i),
                cause="e/c",
                words="",
                minutes=None,
                part="battery",
                donor="",
                closed_at="",
            )
            for i in range(count)
        ]
        return sum(one.high for one in needed(works, days))

    assert keep(used) <= keep(used + 1)


# Models compared


def test_models_are_compared_per_machine_with_what_a_small_number_leaves_open(shop: Bench) -> None:
    tern, skua = shop.looking_back.overview().models

    assert (tern.model, tern.machines, tern.jobs.value, tern.parts.value) == ("Tern 13", 2, 1.5, 1.0)
    # machines of 30 and 40 minutes: 35 ± 12.706 · 7.0711 / sqrt(2) (NIST handbook, table 1.3.6.7.2, 1 degree)
    assert tern.minutes
    assert tern.minutes.interval
    assert [tern.minutes.value, tern.minutes.interval.high] == pytest.approx([35.0, 35 + 12.706 * 5], abs=0.01)
    assert tern.minutes.interval.low == 0.0
    # 3 jobs: Garwood's limits are 0.6187 and 8.7673 (NIST/SEMATECH and scipy.stats.chi2)
    assert tern.jobs.interval
    assert (tern.jobs.interval.low * 2, tern.jobs.interval.high * 2) == pytest.approx((0.6187, 8.7673), abs=1e-4)
    assert (skua.model, skua.machines) == ("Skua 14", 1)


def test_a_machine_with_a_job_of_unknown_length_gives_no_minutes(shop: Bench) -> None:
    skua = shop.looking_back.overview().models[1]

    assert skua.minutes is None


def test_a_single_lucky_machine_is_not_put_first() -> None:
    def work(model: str, unit: int, minutes: float) -> Work:
        return Work(
            job=f"{model}{unit}",
            model=model,
            machine=f"{model}{unit}",
            cause="e/c",
            words="",
            minutes=minutes,
            part="",
            donor="",
            closed_at="2026-01-01T00:00:00Z",
        )

    works = [work("Lucky", 1, 1.0), *(work("Steady", unit, 20.0 + unit) for unit in range(9))]

    assert [line.model for line in compared(works)] == ["Steady", "Lucky"]


def test_machines_put_away_without_a_cause_lower_the_share_that_came_good(shop: Bench) -> None:
    shop.jobs.retract(shop.jobs.begin("smells of fish", "Tern 13", "T-3"), "no time")
    shop.jobs.retract(shop.jobs.begin("smells of fish", "Tern 13", "T-1"), "came back")

    tern = shop.looking_back.overview().models[0]

    assert tern.good.value == pytest.approx(2 / 3)
    assert tern.put_away == 1


def test_all_models_are_compared_whichever_is_asked_for(shop: Bench) -> None:
    seen = shop.looking_back.overview("Skua 14")

    assert (seen.review.jobs, len(seen.models)) == (2, 2)


def test_a_put_away_machine_of_a_model_never_confirmed_is_no_line() -> None:
    assert compared([], [PutAway("j", "Tern 13", "t", "", "", "2026-01-01T00:00:00Z")]) == ()


@pytest.mark.parametrize("degrees", [1, 2, 5, 30, 400])
def test_students_quantile_is_that_of_scipy(degrees: int) -> None:
    assert student(0.975, degrees) == pytest.approx(scipy.stats.t.ppf(0.975, degrees), rel=1e-9)


@given(st.lists(st.floats(0, 500), min_size=2, max_size=40))
def test_the_interval_for_a_mean_is_that_of_scipy(values: list[float]) -> None:
    found = mean_interval(values)
    spread = scipy.stats.sem(values)
    middle = sum(values) / len(values)
    reach = scipy.stats.t.ppf(0.975, len(values) - 1) * spread

    assert found
    assert found.high == pytest.approx(middle + reach, rel=1e-6, abs=1e-9)
    assert found.low == pytest.approx(max(middle - reach, 0.0), rel=1e-6, abs=1e-6)


def test_one_value_leaves_its_mean_open() -> None:
    assert mean_interval([3.0]) is None


# Gaps


def test_words_that_led_nowhere_are_counted_together_however_they_were_typed(shop: Bench) -> None:
    shop.jobs.nothing_fits("Smells of  fish", "Tern 13", token="a")
    shop.jobs.nothing_fits("Smells of  fish", "Tern 13", token="a")
    shop.jobs.nothing_fits("smells of fish", "Skua 14", token="b")
    shop.jobs.retract(shop.jobs.begin("SMELLS of fish", "Tern 13"), "no time")
    shop.jobs.nothing_fits("hums", "Tern 13", token="c")

    first, second = shop.looking_back.overview().gaps

    assert (first.times, first.no_fit, first.put_away, first.models) == (3, 2, 1, ("Skua 14", "Tern 13"))
    assert (second.words, second.times) == ("hums", 1)
    assert [gap.words for gap in shop.looking_back.overview("Skua 14").gaps] == ["smells of fish"]


def test_a_search_leaves_no_trace_in_the_gaps(shop: Bench) -> None:
    before = shop.history().tip()

    shop.asking.search("zxqv wvutz")

    assert shop.looking_back.overview().gaps == ()
    assert shop.history().tip() == before


def test_a_cause_that_no_entry_lists_is_a_gap(shop: Bench) -> None:
    shop.history().close_job(Confirmation("no-such/thing", "Tern 13", words="odd light"))

    (gap,) = shop.looking_back.overview().gaps

    assert (gap.words, gap.unlisted) == ("odd light", 1)


def test_a_confirmed_job_that_was_retracted_is_no_gap(shop: Bench) -> None:
    receipt = shop.jobs.confirm(Confirmation(PLUG, "Tern 13", words="dead"))
    shop.jobs.retract(receipt.job, "wrong machine")

    assert shop.looking_back.overview().gaps == ()


def test_entries_never_confirmed_are_those_without_a_job_in_the_view(shop: Bench) -> None:
    all_slugs = {entry.slug for entry in shop.entries.served()}

    assert {entry.slug for entry in shop.looking_back.overview().unconfirmed} == all_slugs - {"no-battery"}
    assert {entry.slug for entry in shop.looking_back.overview("No Such 1").unconfirmed} == all_slugs


# Quarters and days


def test_quarters_are_counted_in_all_and_by_cause(shop: Bench) -> None:
    review = shop.looking_back.overview().review

    assert review.quarters == (("2026-Q1", 3), ("2026-Q2", 2))
    assert {one.cause: one.quarters for one in review.failures}[PACK] == (("2026-Q1", 2),)


def test_midnight_is_the_shops_own(shop: Bench) -> None:
    shop.jobs.confirm(Confirmation(PLUG, "Tern 13", closed_at="2026-06-30T22:30:00Z"))
    assert shop.looking_back.overview(since="2026-07-01").review.jobs == 0

    in_zone(shop, "Europe/Oslo")

    assert shop.looking_back.overview(since="2026-07-01").review.jobs == 1
    assert shop.looking_back.overview().review.quarters[-1] == ("2026-Q3", 1)


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(0, 3000))
def test_filling_gaps_keeps_every_count_and_leaves_no_quarter_out(first: date, days: int) -> None:
    last = date.fromordinal(first.toordinal() + days)
    counts = by_quarter([first.isoformat(), last.isoformat()])

    found = filled(counts, first.isoformat(), last.isoformat())

    assert sum(count for _, count in found) == 2
    assert found[0][0] == quarter(first.isoformat())
    numbers = [int(name[:4]) * 4 + int(name[6]) for name, _ in found]
    assert all(other == one + 1 for one, other in pairwise(numbers))


def test_quarters_are_filled_up_to_the_end_of_the_calendar() -> None:
    assert [name for name, _ in filled((), "9999-07-01", "9999-12-31")] == ["9999-Q3", "9999-Q4"]
    assert len(filled((), "0001-01-01", "9999-12-31")) == 4 * 9999


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_ends_of_the_calendar_are_days_too(shop: Bench, day: str) -> None:
    period = Period(day, day, ZoneInfo("Pacific/Auckland"))

    assert period.begin <= period.end
    assert shop.looking_back.overview(since="0001-01-01", until="9999-12-31").review.jobs == 5


def test_what_is_no_day_is_refused(shop: Bench) -> None:
    with pytest.raises(ValueError, match="nonsense"):
        shop.looking_back.overview(since="nonsense")


def test_a_period_without_ends_holds_everything() -> None:
    assert ALWAYS.holds("2026-01-01T00:00:00Z")


# The shop's zone


def test_the_zone_comes_from_the_environment_then_the_file_then_the_computer(tmp_path: Path) -> None:
    assert SettingsFile(tmp_path, {}).now().zone is None
    (tmp_path / "shop.toml").write_text('zone = "Europe/Oslo"\n')
    assert SettingsFile(tmp_path, {}).now().zone == ZoneInfo("Europe/Oslo")
    assert SettingsFile(tmp_path, {"BENCHLORE_ZONE": "Asia/Tokyo"}).now().zone == ZoneInfo("Asia/Tokyo")


@pytest.mark.parametrize("text", ['zone = "Nowhere/Land"', 'zone = "../secret"', "zone = [", "zone = 7"])
def test_a_zone_that_is_none_is_named_and_the_shop_goes_on(tmp_path: Path, text: str) -> None:
    (tmp_path / "shop.toml").write_text(text)

    found = SettingsFile(tmp_path, {}).now()

    assert found.zone is None
    assert "shop.toml" in found.problem
    assert found.problem in Bench(tmp_path).health.state().problems


# Tables and the command line


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_table_has_a_heading_and_rows_of_its_length(shop: Bench, name: str) -> None:
    shop.jobs.nothing_fits("=1+1", "Tern 13")

    heading, *rows = TABLES[name](shop.looking_back.overview())

    assert rows
    assert {len(row) for row in rows} == {len(heading)}
    assert len(set(heading)) == len(heading)


def test_the_failures_table_holds_what_the_review_counts(shop: Bench) -> None:
    heading, first, *_ = TABLES["failures"](shop.looking_back.overview())
    row = dict(zip(heading, first, strict=True))

    assert (row["cause"], row["jobs"], row["machines"], row["machines seen"]) == (PACK, 2, 2, 3)
    assert (row["total minutes"], row["first"], row["last"]) == (50.0, "2026-01-01", "2026-03-31")


def test_the_review_in_json_keeps_its_keys_and_has_the_new_ones(run: Callable[..., Result]) -> None:
    run("confirm", "battery-not-detected/contact", "--model", "Tern 13", "--unit", "T-1", "--minutes", "12")

    told = json.loads(run("review", "--json").stdout)

    kept = {"model", "since", "jobs", "machines", "median_minutes", "total_minutes", "parts", "failures"}
    added = {"until", "quarters", "days_seen", "stock", "models", "gaps", "never_confirmed"}
    assert kept | added <= told.keys()
    assert told["models"][0]["minutes_per_machine"] == {"value": 12.0, "interval": None}
    assert math.isclose(told["models"][0]["cause_found"]["value"], 1.0)
    assert "Models by bench minutes" in run("review", "--until", "2100-01-01").stdout


def test_the_tables_are_read_back_by_any_csv_reader(shop: Bench) -> None:
    from kb.base.csvtext import to_csv

    shop.jobs.nothing_fits('"=HYPERLINK', "Tern 13")
    shop.jobs.nothing_fits("@sum", "Tern 13", token="x")

    rows = list(csv.reader(io.StringIO(to_csv(TABLES["gaps"](shop.looking_back.overview())))))

    assert sorted(row[0] for row in rows[1:]) == ['"=HYPERLINK', "'@sum"]


def test_an_overview_needs_no_readable_history(shop: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    shop.jobs.nothing_fits("hums", "Tern 13")
    monkeypatch.setattr(shop.shop.files, "usable_history", lambda: None)

    seen: Overview = shop.looking_back.overview()

    assert (seen.review.jobs, seen.gaps) == (5, ())


def works(*told: tuple[str, float | None, str]) -> list[Work]:
    """Jobs on machines by tag, each with its minutes and the part it took; an empty tag is a machine of its own."""
    return [
        Work(
            job=f"j{number}",
            model="Tern 13",
            machine=tag or f"j{number}",
            cause=PLUG,
            words="",
            minutes=minutes,
            part=part,
            donor="",
            closed_at=f"2026-01-{number + 1:02}T09:00:00Z",
        )
        for number, (tag, minutes, part) in enumerate(told)
    ]


def test_the_median_of_all_minutes_passes_over_jobs_without_any() -> None:
    found = review(works(("a", 10, ""), ("b", 90, ""), ("c", None, ""), ("d", 20, ""), ("e", 30, "")), {})

    assert found.median_minutes == 25
    assert found.failures[0].median_minutes == 25
    assert (found.total_minutes, found.failures[0].total_minutes) == (150, 150)
    assert review(works(("a", None, "")), {}).median_minutes is None


def test_parts_stand_most_used_first_then_by_name_and_a_job_without_a_part_is_none() -> None:
    used = ["", "fan", "battery", "", "fan", "battery", "cable", "", ""]

    found = review(works(*[("", 1, part) for part in used]), {})

    assert found.parts == (("battery", 2), ("fan", 2), ("cable", 1))
    assert found.failures[0].parts == found.parts


def test_minutes_a_machine_are_their_mean_and_not_their_median() -> None:
    """Machines with 10, 20 and 90 minutes in all: mean 40, median 20; one with an untold job is left out."""
    told = works(("a", 4, ""), ("a", 6, ""), ("b", 20, ""), ("c", 90, ""), ("d", 500, ""), ("d", None, ""))

    line = compared(told, [])[0]

    assert line.minutes is not None
    assert line.minutes.value == pytest.approx(40)
    assert line.minutes.interval == mean_interval([10.0, 20.0, 90.0])


def test_a_machine_whose_model_was_read_later_stays_one_machine_under_that_model(bench: Bench) -> None:
    bench.arrivals.arrive(Arrived(tag="P7-001", lot="P7", model="unknown"))
    bench.jobs.confirm(Confirmation(PLUG, "unknown", unit="P7-001"))
    bench.machines.correct("P7-001", {"model": "Tern 13"})
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7 - 001"))

    seen = bench.looking_back.overview("Tern 13").review

    assert (seen.jobs, seen.machines) == (2, 1)
    assert bench.looking_back.overview("unknown").review.jobs == 0
