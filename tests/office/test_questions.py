"""The office's questions over lines of two shops that are counted by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ibis
from helpers.offices import ONE, TWO, Answers, answered, job, put

from kb.office.engines import on_duckdb, shared_files
from kb.office.questions import counts
from kb.office.shared import SharedLine

PLUG, PACK = "no-battery/plug", "no-battery/pack"
FIT = SharedLine(
    kind="fit",
    shop=ONE,
    day="2026-01-02",
    model="Auk 15",
    from_model="Tern 13",
    part="fan",
    shown="worked",
)
GAP = SharedLine(
    kind="gap", shop=ONE, day="2026-01-02", model="Tern 13", machine=9, shown="put-away"
)


def ask(folder: Path, name: str, *lines: SharedLine) -> list[dict[str, object]]:
    found: Answers = answered(put(folder, lines), "duckdb", name)
    return found[name]


def test_a_machine_is_one_of_its_shop_and_case_tells_no_models_apart(
    tmp_path: Path,
) -> None:
    lines = [
        job(ONE, 1),
        job(ONE, 2, machine=1),
        job(ONE, 3, PACK),
        job(TWO, 1, model="TERN 13", minutes=None),
    ]

    rows = ask(tmp_path, "failures", *lines)

    told = [
        (
            row["model"],
            row["cause"],
            row["jobs"],
            row["machines"],
            row["machines_seen"],
            row["shops"],
        )
        for row in rows
    ]
    assert told == [("TERN 13", PLUG, 3, 2, 3, 2), ("TERN 13", PACK, 1, 1, 3, 1)]


def test_minutes_of_machines_of_which_a_job_has_none_are_left_out_of_the_mean(
    tmp_path: Path,
) -> None:
    lines = [
        job(ONE, 1),
        job(ONE, 2, minutes=20.0),
        job(ONE, 3, machine=2, minutes=0.0),
        job(ONE, 4, minutes=None),
    ]

    (row,) = ask(tmp_path, "models", *lines, job(ONE, 5, machine=4, minutes=90.0))

    assert (row["machines"], row["jobs"], row["minutes_each"]) == (3, 5, 15.0)


def test_a_machine_that_was_put_away_and_mended_later_is_no_lost_one(
    tmp_path: Path,
) -> None:
    gone = [
        GAP,
        GAP,
        replace(GAP, machine=1),
        replace(GAP, model="Skua 14"),
        replace(GAP, shop=TWO, machine=1),
    ]

    (row,) = ask(tmp_path, "models", job(ONE, 1), *gone)

    assert (row["put_away"], row["good"]) == (2, 1 / 3)


def test_fits_of_two_shops_stand_in_one_row_by_how_they_came_out(
    tmp_path: Path,
) -> None:
    tried = [
        FIT,
        replace(FIT, shop=TWO, model="AUK 15"),
        replace(FIT, shown="failed"),
        replace(FIT, part="lid"),
    ]

    rows = ask(tmp_path, "fits", *tried)

    assert [
        (row["part"], row["worked"], row["failed"], row["claimed"], row["shops"])
        for row in rows
    ] == [
        ("fan", 2, 1, 0, 2),
        ("lid", 1, 0, 0, 1),
    ]


def test_what_libraries_lack_stands_by_cause_with_the_shops_that_met_it(
    tmp_path: Path,
) -> None:
    odd = [
        job(ONE, 1, "odd/thing", listed=False),
        job(TWO, 1, "odd/thing", listed=False, day="2026-02-01"),
    ]

    rows = ask(tmp_path, "gaps", *odd, job(ONE, 2), GAP, replace(GAP, shown="no-fit"))

    assert [
        (row["way"], row["cause"], row["times"], row["shops"], row["last"])
        for row in rows
    ] == [
        ("unlisted", "odd/thing", 2, 2, "2026-02-01"),
        ("no-fit", "", 1, 1, "2026-01-02"),
        ("put-away", "", 1, 1, "2026-01-02"),
    ]


def test_each_shop_is_told_with_what_it_sent(tmp_path: Path) -> None:
    lines = [
        job(ONE, 1),
        job(TWO, 1),
        job(TWO, 2, machine=1, model="Skua 14", day="2026-03-04"),
    ]

    assert ask(tmp_path, "shops", *lines) == [
        {
            "shop": TWO,
            "jobs": 2,
            "machines": 1,
            "models": 2,
            "first": "2026-01-02",
            "last": "2026-03-04",
        },
        {
            "shop": ONE,
            "jobs": 1,
            "machines": 1,
            "models": 1,
            "first": "2026-01-02",
            "last": "2026-01-02",
        },
    ]


def test_counts_are_by_shop_model_and_cause_with_one_spelling_of_a_model(
    tmp_path: Path,
) -> None:
    put(
        tmp_path,
        [job(ONE, 1), job(ONE, 2), job(ONE, 3, PACK), job(TWO, 1, model="tern 13")],
    )

    with on_duckdb(shared_files(tmp_path)) as collected:
        rows = collected.rows(counts(collected.lines).order_by("shop", "cause"))

    assert [
        (row["shop"], row["model"], row["entry"], row["cause"], row["jobs"])
        for row in rows
    ] == [
        (ONE, "Tern 13", "no-battery", "pack", 1),
        (ONE, "Tern 13", "no-battery", "plug", 2),
        (TWO, "Tern 13", "no-battery", "plug", 1),
    ]
    assert ibis.options.interactive is False
