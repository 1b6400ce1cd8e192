"""What a shop sets for itself: tools it lacks, what that costs, how old jobs fade, and a file kept as it was."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from helpers.humming import TOOLS, WORDS, text_of, write

from kb.bench.front import Bench
from kb.bench.settings import SettingsFile, SettingsTrouble, UnknownTool
from kb.diagnosis.case import SoFar

pytestmark = pytest.mark.shop("humming")


# Tools that are lacking


def test_a_test_that_needs_a_lacking_tool_is_not_proposed(bench: Bench) -> None:
    before = bench.asking.search(WORDS).next_step
    assert before
    assert before.title == "Warm the board"

    bench.shop.kept_settings.change_tools(lack=["thermal camera"])

    after = bench.asking.search(WORDS).next_step
    assert after
    assert after.title == "Measure the ripple"


def test_a_job_on_the_bench_is_advised_by_the_tools_that_are_there(
    bench: Bench,
) -> None:
    bench.shop.kept_settings.change_tools(lack=["heat mat"])

    step = bench.jobs.standing(bench.jobs.begin(WORDS)).answer.next_step

    assert step
    assert step.title == "Measure the ripple"


def test_who_says_what_is_lacking_is_taken_at_their_word(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=TOOLS)

    told = bench.asking.search(WORDS, at=SoFar(lacks=frozenset())).next_step

    assert told
    assert told.title == "Warm the board"


def test_a_file_changed_by_hand_is_seen_at_the_next_question(bench: Bench) -> None:
    assert bench.shop.settings.lacks == frozenset()

    write(bench, 'lacks = ["multimeter"]\n')
    assert bench.shop.settings.lacks == {"multimeter"}

    write(bench, 'lacks = ["scale"]\n')
    assert bench.shop.settings.lacks == {"scale"}

    os.remove(bench.shop.kept_settings.path)
    assert bench.shop.settings.lacks == frozenset()


def test_a_fix_whose_tool_is_lacking_stays_and_says_what_is_missing(
    bench: Bench,
) -> None:
    bench.shop.kept_settings.change_tools(
        lack=[*TOOLS, "soldering iron", "charging socket"]
    )

    answer = bench.asking.search(WORDS)

    assert answer.next_step
    assert answer.next_step.kind == "fix"
    assert {"coil": ("soldering iron",), "socket": ("charging socket",)}[
        answer.next_step.name
    ] == (answer.next_step.lacks)
    assert all(cause.probability > 0.2 for cause in answer.entries[0].causes)


def test_the_tools_are_counted_by_the_tests_and_fixes_that_need_them(
    bench: Bench,
) -> None:
    bench.shop.kept_settings.change_tools(lack=["scale", "earth tester"])

    found = {
        tool.name: (tool.tests, tool.fixes, tool.lacking)
        for tool in bench.entries.tools()
    }

    assert found["multimeter"] == (1, 0, False)
    assert found["scale"] == (1, 0, True)
    assert found["soldering iron"] == (0, 1, False)
    assert found["earth tester"] == (0, 0, True)
    assert [tool.tests for tool in bench.entries.tools()] == sorted(
        (t.tests for t in bench.entries.tools()), reverse=True
    )


# The loss said


def test_what_would_help_most_of_what_is_lacking_is_said_with_its_minutes(
    bench: Bench,
) -> None:
    bench.shop.kept_settings.change_tools(lack=TOOLS)

    answer = bench.asking.search(WORDS)

    with_it = bench.asking.search(
        WORDS, at=SoFar(lacks=frozenset(TOOLS) - {"multimeter"})
    )
    assert answer.loss
    assert answer.next_step
    assert with_it.next_step
    assert answer.loss.tool == "multimeter"
    saved = answer.next_step.expected_minutes - with_it.next_step.expected_minutes
    assert answer.loss.minutes == pytest.approx(saved)
    assert 5 < answer.loss.minutes < 60


def test_a_tool_that_would_not_save_a_minute_is_not_spoken_of(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=["scale", "magnet"])

    assert bench.asking.search(WORDS).loss is None


def test_a_tool_that_helps_only_together_with_another_lacking_one_is_not_promised(
    bench: Bench,
) -> None:
    bench.shop.kept_settings.change_tools(lack=["heat mat", "thermal camera"])

    assert bench.asking.search(WORDS).loss is None


def test_a_test_that_was_set_aside_is_no_loss(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=["multimeter", "heat mat"])
    job = bench.jobs.begin(WORDS)
    measure = next(
        one for one in bench.jobs.standing(job).answer.entries if one.entry == "hums"
    )
    entry = bench.entries.entry(measure.entry)
    assert entry

    for test in entry.tests:
        bench.jobs.could_not_do(job, f"hums/{test.slug}")

    assert bench.jobs.standing(job).answer.loss is None


def test_a_shop_that_lacks_nothing_loses_nothing(bench: Bench) -> None:
    assert bench.asking.search(WORDS).loss is None


def test_a_source_in_the_file_that_is_none_is_told_and_not_used(bench: Bench) -> None:
    write(bench, 'lacks = ["scale"]\nmachines_from = "auction"\n')

    found = bench.shop.settings

    assert found.machines_from == "counter"
    assert found.lacks == {"scale"}
    assert 'must be "counter" or "pallet"' in found.problem


@pytest.mark.parametrize("value", ["-1", "true", '"2y"', "nan", "inf", "1e9", "0.5"])
def test_a_half_life_in_the_file_that_is_none_is_told_and_not_used(
    bench: Bench, value: str
) -> None:
    write(bench, f'lacks = ["scale"]\nhalf_life_days = {value}\n')

    found = bench.shop.settings

    assert found.half_life_days == 0
    assert found.lacks == {"scale"}
    assert "half_life_days" in found.problem
    assert found.problem in bench.health.state().problems
    assert found.problem in bench.health.warnings()


def test_a_name_in_the_file_that_is_no_tool_is_told_kept_and_can_be_taken_out(
    bench: Bench,
) -> None:
    write(bench, 'lacks = ["multimetre", "scale"]\n')
    assert bench.shop.settings.lacks == {"scale"}
    assert "did you mean `multimeter`?" in bench.shop.settings.problem

    bench.shop.kept_settings.change_tools(lack=["ruler"])
    assert tomllib.loads(text_of(bench))["lacks"] == ["multimetre", "ruler", "scale"]

    bench.shop.kept_settings.change_tools(have=["multimetre"])
    assert bench.shop.settings.problem == ""


def test_a_disk_that_does_not_take_it_leaves_the_old_file(tmp_path: Path) -> None:
    (tmp_path / "blocked").write_text("a file where the shop's folder should be")

    with pytest.raises(SettingsTrouble, match=r"shop\.toml"):
        SettingsFile(tmp_path / "blocked").change_tools(["scale"], [])


def test_an_unknown_name_is_refused_before_anything_is_written(bench: Bench) -> None:
    with pytest.raises(UnknownTool):
        bench.shop.kept_settings.change_tools(lack=["scale", "no such thing at all"])

    assert not bench.shop.kept_settings.path.exists()


# The shop's zone


def test_the_zone_comes_from_the_environment_then_the_file_then_the_computer(
    tmp_path: Path,
) -> None:
    assert SettingsFile(tmp_path, {}).now().zone is None
    (tmp_path / "shop.toml").write_text('zone = "Europe/Oslo"\n')
    assert SettingsFile(tmp_path, {}).now().zone == ZoneInfo("Europe/Oslo")
    assert SettingsFile(
        tmp_path, {"BENCHLORE_ZONE": "Asia/Tokyo"}
    ).now().zone == ZoneInfo("Asia/Tokyo")


@pytest.mark.parametrize(
    "text", ['zone = "Nowhere/Land"', 'zone = "../secret"', "zone = [", "zone = 7"]
)
def test_a_zone_that_is_none_is_named_and_the_shop_goes_on(
    tmp_path: Path, text: str
) -> None:
    (tmp_path / "shop.toml").write_text(text)

    found = SettingsFile(tmp_path, {}).now()

    assert found.zone is None
    assert "shop.toml" in found.problem
    assert found.problem in Bench(tmp_path).health.state().problems
