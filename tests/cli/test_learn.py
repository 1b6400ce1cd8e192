"""Learning from other shops at a terminal: taken in, shown, told with every share, switched off and forgotten."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers.pooling import counts_of

Run = Callable[..., Result]
SHEET = "battery-not-detected"
WORDS = "no battery shown although one is fitted"


@pytest.fixture
def counts(tmp_path: Path) -> str:
    """The name of a file of counts."""
    made = counts_of(SHEET, habit="contact").to_json()
    (tmp_path / "counts.json").write_text(made, encoding="utf-8")
    (tmp_path / "bad.json").write_text(
        made.replace('"shops": 31', '"shops": 0'), encoding="utf-8"
    )
    return "counts.json"


def test_what_other_shops_had_is_taken_in_and_told_wherever_a_share_rests_on_it(
    run: Run, counts: str, stocked_folder: Path
) -> None:
    sheets = json.loads(run("learn", counts, "--json").stdout)["of_sheets"]
    taken_in = run("learn").stdout
    searched, shown = run("search", WORDS).stdout, run("show", SHEET).stdout
    found = json.loads(run("search", WORDS, "--json").stdout)
    (sheet,) = (one for one in found["entries"] if one["entry"] == SHEET)
    (pack,) = (one for one in sheet["causes"] if one["cause"] == f"{SHEET}/pack")

    assert (
        taken_in
        == f"elsewhere: 217 jobs in 31 shops for 1 of {sheets} sheets, as of 2026-11-30\n"
    )
    assert "; elsewhere, 217 jobs in 31 shops, 86%: likely " in searched
    assert "\n  elsewhere, 217 jobs in 31 shops\n" in shown
    assert "(pack; 0 here, 0 elsewhere; 86% in other shops)" in shown
    assert sheet["other_shops"] == {"jobs": 217, "shops": 31}
    assert pack["in_other_shops"] == 0.8571


def test_it_is_switched_off_and_on_and_forgotten(
    run: Run, counts: str, stocked_folder: Path
) -> None:
    before = run("search", WORDS, "--json").stdout
    run("learn", counts)
    off = json.loads(run("settings", "--elsewhere", "off", "--json").stdout)
    told = run("learn").stdout.splitlines()

    assert off["elsewhere"] is False
    assert (
        told[-1] == "it is switched off in this shop: benchlore settings --elsewhere on"
    )
    assert without_time(run("search", WORDS, "--json").stdout) == without_time(before)
    assert "elsewhere       believed" in run("settings", "--elsewhere", "on").stdout
    assert without_time(run("search", WORDS, "--json").stdout) != without_time(before)
    assert run("learn", "--forget").stdout == "what other shops had is forgotten\n"
    assert (
        run("learn", "--forget", status=1).stdout
        == "nothing was learned from other shops\n"
    )
    assert (
        run("learn", status=1).stdout
        == "nothing was learned from other shops: benchlore learn FILE\n"
    )
    assert without_time(run("search", WORDS, "--json").stdout) == without_time(before)


def without_time(printed: str) -> dict[str, object]:
    return {
        name: value for name, value in json.loads(printed).items() if name != "took_ms"
    }


def test_a_bad_file_is_told_with_its_place_and_changes_nothing(
    run: Run, counts: str, stocked_folder: Path
) -> None:
    run("learn", counts)

    told = run("learn", "bad.json", status=1).stderr
    assert (
        f"entries, {SHEET}, shops: this is no whole number from 1 on; take one that"
        in told
    )
    assert "as of 2026-11-30" in run("learn").stdout
    assert "not both" in run("learn", counts, "--forget", status=2).stderr
    assert "does not exist" in run("learn", "nowhere.json", status=2).stderr


def test_a_wrong_setting_is_told_and_other_shops_count_meanwhile(
    run: Run, counts: str, stocked_folder: Path
) -> None:
    run("learn", counts)
    (stocked_folder / "shop.toml").write_text('elsewhere = "no"\n', encoding="utf-8")

    told = run("settings", status=1)
    assert "`elsewhere` in" in told.stderr
    assert "must be true or false" in told.stderr
    assert "217 jobs in 31 shops" in run("search", WORDS).stdout


def test_jobs_that_this_shop_had_sent_itself_are_left_out_and_told(
    run: Run, stocked_folder: Path
) -> None:
    run("confirm", f"{SHEET}/pack", "--model", "Tern 13")
    run("export", "--shared", "office")
    run("office", "office", "--counts", "counts.json")

    told = run("learn", "counts.json").stdout.splitlines()

    assert told[1] == "left out: 1 job that this shop had sent itself"
    assert "other shop" not in run("show", SHEET).stdout + told[0]
