"""What a shop sets for itself: tools it lacks, what that costs, how old jobs fade, and a file kept as it was."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import Result
from flask import Flask
from helpers.places import CORPUS
from helpers.visiting import HOME, Page, Visitor
from hypothesis import given
from hypothesis import strategies as st

from kb.base.tomltext import with_value
from kb.bench.front import Bench
from kb.bench.settings import SettingsFile, SettingsTrouble, UnknownTool
from kb.diagnosis import counts
from kb.diagnosis.case import SoFar
from kb.diagnosis.counts import Ageing
from kb.model import Confirmation
from webui.app import create_app

PLUG, PACK, BOARD = "no-battery/plug", "no-battery/pack", "no-battery/light-board"
NOON = datetime(2026, 6, 30, 12, tzinfo=UTC)

HUMS = """---
title: It hums in the left corner
area: power
---

## Symptom

- hums in the left corner

## Likely causes

- **coil** (often): a coil sings
- **socket** (often): the socket sings

## Cheapest test first

1. Measure the ripple (3 min; needs multimeter)
    - much: coil
    - little: socket
2. Weigh the charger (25 min; needs scale)
    - light: coil
    - heavy: socket
3. Warm the board (2 min; needs heat mat, thermal camera)
    - one spot: coil
    - none: socket

## Fix

- **coil** (60 min; cover off; needs soldering iron): fix the coil with varnish
- **socket** (60 min; cover off; part charging socket): fit another socket

## Safety

- Pull the charger first.

## Also heard as

- humming from the left corner
"""
WORDS = "hums in the left corner"
TOOLS = "multimeter", "scale", "heat mat", "thermal camera"


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def bench(tmp_path: Path, clock: Clock) -> Iterator[Bench]:
    """The small corpus and one entry whose tests need tools."""
    entries = tmp_path / "shop" / "entries"
    entries.mkdir(parents=True)
    (entries / "hums.md").write_text(HUMS)
    made = Bench(tmp_path / "shop", stock=CORPUS, clock=clock)
    yield made
    made.close()


def write(bench: Bench, text: str) -> None:
    bench.shop.kept_settings.path.write_text(text, encoding="utf-8")


def text_of(bench: Bench) -> str:
    return bench.shop.kept_settings.path.read_text("utf-8")


# Tools that are lacking


def test_a_test_that_needs_a_lacking_tool_is_not_proposed(bench: Bench) -> None:
    before = bench.asking.search(WORDS).next_step
    assert before
    assert before.title == "Warm the board"

    bench.shop.kept_settings.change_tools(lack=["thermal camera"])

    after = bench.asking.search(WORDS).next_step
    assert after
    assert after.title == "Measure the ripple"


def test_a_job_on_the_bench_is_advised_by_the_tools_that_are_there(bench: Bench) -> None:
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


def test_a_fix_whose_tool_is_lacking_stays_and_says_what_is_missing(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=[*TOOLS, "soldering iron", "charging socket"])

    answer = bench.asking.search(WORDS)

    assert answer.next_step
    assert answer.next_step.kind == "fix"
    assert {"coil": ("soldering iron",), "socket": ("charging socket",)}[answer.next_step.name] == (
        answer.next_step.lacks
    )
    assert all(cause.probability > 0.2 for cause in answer.entries[0].causes)


def test_the_tools_are_counted_by_the_tests_and_fixes_that_need_them(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=["scale", "earth tester"])

    found = {tool.name: (tool.tests, tool.fixes, tool.lacking) for tool in bench.entries.tools()}

    assert found["multimeter"] == (1, 0, False)
    assert found["scale"] == (1, 0, True)
    assert found["soldering iron"] == (0, 1, False)
    assert found["earth tester"] == (0, 0, True)
    assert [tool.tests for tool in bench.entries.tools()] == sorted(
        (t.tests for t in bench.entries.tools()), reverse=True
    )


# The loss said


def test_what_would_help_most_of_what_is_lacking_is_said_with_its_minutes(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=TOOLS)

    answer = bench.asking.search(WORDS)

    with_it = bench.asking.search(WORDS, at=SoFar(lacks=frozenset(TOOLS) - {"multimeter"}))
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


def test_a_tool_that_helps_only_together_with_another_lacking_one_is_not_promised(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=["heat mat", "thermal camera"])

    assert bench.asking.search(WORDS).loss is None


def test_a_test_that_was_set_aside_is_no_loss(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=["multimeter", "heat mat"])
    job = bench.jobs.begin(WORDS)
    measure = next(one for one in bench.jobs.standing(job).answer.entries if one.entry == "hums")
    entry = bench.entries.entry(measure.entry)
    assert entry

    for test in entry.tests:
        bench.jobs.could_not_do(job, f"hums/{test.slug}")

    assert bench.jobs.standing(job).answer.loss is None


def test_a_shop_that_lacks_nothing_loses_nothing(bench: Bench) -> None:
    assert bench.asking.search(WORDS).loss is None


# At the terminal


@pytest.fixture
def shop(bench: Bench) -> Bench:
    """The bench whose folder the command line of `run` uses."""
    return bench


Run = Callable[..., Result]


def test_tools_are_set_listed_and_taken_back_at_the_terminal(run: Run, shop: Bench) -> None:
    lacked = run("tools", "--lack", "Multimeter", "--lack", "scale", "--json")
    given = run("tools", "--have", "scale")

    assert {one["name"] for one in json.loads(lacked.stdout) if one["lacking"]} == {"multimeter", "scale"}
    assert "multimeter (lacking)" in given.stdout
    assert "scale (lacking)" not in given.stdout
    assert tomllib.loads(text_of(shop)) == {"lacks": ["multimeter"]}


def test_an_unknown_tool_is_answered_with_the_nearest_known_one(run: Run, shop: Bench) -> None:
    result = run("tools", "--lack", "multimetre", status=2)

    assert "did you mean `multimeter`?" in result.stderr
    assert not shop.shop.kept_settings.path.exists()


@pytest.mark.parametrize(
    "text", ["lacks = [", 'lacks = "multimeter"\n', "[lacks]\na = 1\n", "\udcff", "a = " + "[" * 50_000]
)
def test_a_damaged_file_is_told_in_a_sentence_and_left_as_it_is(run: Run, shop: Bench, text: str) -> None:
    damaged = text.encode("utf-8", "surrogateescape")
    shop.shop.kept_settings.path.write_bytes(damaged)

    changed, listed = run("tools", "--lack", "scale", status=1), run("tools", status=1)

    for result in (changed, listed):
        assert len(result.stderr.splitlines()) == 1
        assert "shop.toml" in result.stderr
        assert "mend" in result.stderr
    assert shop.shop.kept_settings.path.read_bytes() == damaged
    assert run("search", "no battery is listed", "--json").stdout


def test_a_search_says_what_the_shop_lacks_and_what_that_costs(run: Run, shop: Bench) -> None:
    shop.shop.kept_settings.change_tools(lack=TOOLS)

    told = run("search", WORDS)
    loss = json.loads(run("search", WORDS, "--json").stdout)["loss"]

    assert f"Missing here: multimeter, which would save about {loss['minutes']:.0f} min." in told.stdout


def test_the_guide_says_it_too_and_does_not_rule_out_what_cannot_be_done_here(run: Run, shop: Bench) -> None:
    shop.shop.kept_settings.change_tools(lack=[*TOOLS, "soldering iron", "charging socket"])

    result = run("guide", WORDS, given="n\nq\n")

    assert "which this fix needs: get that first" in result.stdout
    assert "it cannot be done here without" in result.stdout
    assert "Missing here: multimeter, which would save about" in result.stdout
    (job,) = shop.jobs.open_jobs()
    assert job.failed_fixes == ()


def test_the_settings_are_shown_with_their_meaning_and_as_json(run: Run, shop: Bench) -> None:
    run("tools", "--lack", "scale")

    shown = run("settings", "--half-life", "2y").stdout
    found = json.loads(run("settings", "--json").stdout)

    assert "half_life_days  730" in shown
    assert "lacks           scale" in shown
    assert (found["lacks"], found["half_life_days"], found["problem"]) == (["scale"], 730, None)


@pytest.mark.parametrize("text", ["soon", "-3d", "0.5d", "1e9", "101y", "nan", "2 years"])
def test_what_is_no_half_life_is_refused(run: Run, shop: Bench, text: str) -> None:
    assert "half-life" in (told := run("settings", "--half-life", text, status=1).stderr) or "length of time" in told
    assert not shop.shop.kept_settings.path.exists()


def test_a_half_life_is_switched_off_again(run: Run, shop: Bench) -> None:
    run("settings", "--half-life", "90d")

    assert "half_life_days  off" in run("settings", "--half-life", "off").stdout


def test_where_machines_come_from_is_set_shown_and_kept_beside_the_rest(run: Run, shop: Bench) -> None:
    run("tools", "--lack", "scale")

    assert "machines_from   counter" in run("settings").stdout
    assert "machines_from   pallet" in run("settings", "--machines-from", "pallet").stdout
    found = json.loads(run("settings", "--json").stdout)
    assert (found["machines_from"], found["lacks"], found["problem"]) == ("pallet", ["scale"], None)
    assert "'counter', 'pallet'" in run("settings", "--machines-from", "auction", status=2).stderr


def test_a_source_in_the_file_that_is_none_is_told_and_not_used(bench: Bench) -> None:
    write(bench, 'lacks = ["scale"]\nmachines_from = "auction"\n')

    found = bench.shop.settings

    assert found.machines_from == "counter"
    assert found.lacks == {"scale"}
    assert 'must be "counter" or "pallet"' in found.problem


def test_where_machines_come_from_is_set_on_the_tools_page(bench: Bench) -> None:
    visitor = Visitor(create_app(bench))
    page = visitor.go("/tools")
    form = next(form for form in page.forms if form.action == "/tools/source")

    def sent(source: str) -> Page:
        headers = {"Origin": HOME, "Sec-Fetch-Site": "same-origin"}
        given = {**form.fields, "source": source}
        return Page(
            visitor.client.post("/tools/source", data=given, base_url=HOME, headers=headers, follow_redirects=True)
        )

    assert "by the pallet" in page.text
    assert form.fields["source"] == "counter"
    assert "Saved" in sent("pallet").text
    assert bench.shop.settings.machines_from == "pallet"
    assert "not from `sea`" in sent("sea").text


@pytest.mark.parametrize("value", ["-1", "true", '"2y"', "nan", "inf", "1e9", "0.5"])
def test_a_half_life_in_the_file_that_is_none_is_told_and_not_used(bench: Bench, value: str) -> None:
    write(bench, f'lacks = ["scale"]\nhalf_life_days = {value}\n')

    found = bench.shop.settings

    assert found.half_life_days == 0
    assert found.lacks == {"scale"}
    assert "half_life_days" in found.problem
    assert found.problem in bench.health.state().problems
    assert found.problem in bench.health.warnings()


def test_a_name_in_the_file_that_is_no_tool_is_told_kept_and_can_be_taken_out(bench: Bench) -> None:
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


# The file is kept as it was


def test_every_other_line_and_comment_stays(bench: Bench) -> None:
    above = '# ours since 2019\r\nzone = "Europe/Oslo"   # whose midnight\r\n'
    below = '\r\n# for the van\r\n[van]\r\nlacks = ["x"]\r\n'
    bench.shop.kept_settings.path.write_bytes((above + below).encode())

    bench.shop.kept_settings.change_tools(lack=["scale"])
    bench.shop.kept_settings.set_half_life(730)

    after = bench.shop.kept_settings.path.read_bytes().decode()
    assert after == above + 'lacks = ["scale"]\r\nhalf_life_days = 730\r\n' + below


def test_comments_inside_a_list_are_kept_above_it() -> None:
    text = 'lacks = [\n  "scale",  # lent to the van\n  "a # b",\n]  # 2026\nhalf_life_days = 7'

    found = with_value(text, "lacks", ["ruler"])

    assert found == '# lent to the van\n# 2026\nlacks = ["ruler"]\nhalf_life_days = 7'


def test_nothing_is_written_where_nothing_changes(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(have=["scale"])
    bench.shop.kept_settings.set_half_life(0)
    assert not bench.shop.kept_settings.path.exists()

    write(bench, 'lacks = ["scale"] # lent\n')
    bench.shop.kept_settings.change_tools(lack=["Scale"])
    assert text_of(bench) == 'lacks = ["scale"] # lent\n'


LINES = st.sampled_from([
    "", "# a remark", 'a = "x # y"', "b = [", "c = 3  # three", 'd = """', "e.f = 1", "[[g]]", "[h]  # last", "i = 1",
    "]", '"""', "lacks = 1", "lacks = [] # none", "  lacks = [", '"ruler", # bent', "'''", "half = 2",
])  # fmt: skip


@given(st.lists(LINES, max_size=8), st.lists(st.sampled_from(["scale", "ruler"]), unique=True), st.booleans())
def test_whatever_stands_there_stays_and_the_value_is_the_new_one(
    lines: list[str], names: list[str], broken_off: bool
) -> None:
    text = "\n".join(lines) + ("" if broken_off else "\n")
    try:
        before = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(tomllib.TOMLDecodeError):
            with_value(text, "lacks", names)
        return
    if isinstance(before.get("lacks"), dict):
        return

    after = with_value(text, "lacks", names)

    assert tomllib.loads(after) == before | {"lacks": names}
    assert with_value(after, "lacks", names) == after
    for remark in ("# a remark", "# three", "# last", "# bent", "# none"):
        assert after.count(remark) == text.count(remark)
    if "  lacks = [" not in lines:
        others = [line for line in after.split("\n") if line and "lacks" not in line]
        assert others == [line for line in lines if line and "lacks" not in line]


# On a page


@pytest.fixture
def app(bench: Bench) -> Flask:
    return create_app(bench)


def tick(app: Flask, missing: list[str], shown: list[str], **more: str) -> Page:
    visitor = Visitor(app)
    token = next(form.fields["token"] for form in visitor.go("/tools").forms if form.action == "/tools")
    fields = {"token": token, "missing": missing, "shown": shown, **more}
    headers = {"Origin": HOME}
    return Page(visitor.client.post("/tools", data=fields, base_url=HOME, headers=headers, follow_redirects=True))


def ticked(page: Page) -> list[str]:
    return [line.split('"')[0] for line in page.html.split('name="missing" value="') if '" checked' in line[:60]]


def test_a_tool_is_ticked_as_lacking_on_its_page_and_unticked_again(app: Flask, bench: Bench) -> None:
    page = tick(app, ["scale", "multimeter"], [])
    assert ticked(page) == ["multimeter", "scale"]
    assert "Saved." in page.text
    assert bench.shop.settings.lacks == {"multimeter", "scale"}

    page = tick(app, ["scale"], ["scale", "multimeter"])
    assert ticked(page) == ["scale"]


def test_two_people_who_tick_at_once_do_not_undo_each_other(app: Flask, bench: Bench) -> None:
    tick(app, ["scale"], [])

    tick(app, ["multimeter"], [])

    assert bench.shop.settings.lacks == {"multimeter", "scale"}


def test_the_page_is_reached_from_the_foot_of_every_page(app: Flask) -> None:
    page = Visitor(app).follow("Tools")

    assert "multimeter" in page.text
    assert "1 test" in page.text
    assert "script" not in page.html.partition("<main")[2]


def test_a_name_that_nobody_knows_is_refused_and_nothing_is_saved(app: Flask, bench: Bench) -> None:
    page = tick(app, ["multimetre", "scale"], [])

    assert page.status == 400
    assert "did you mean `multimeter`?" in page.text
    assert not bench.shop.kept_settings.path.exists()


def test_a_damaged_file_is_told_above_every_page_and_left_as_it_is(app: Flask, bench: Bench) -> None:
    write(bench, "lacks = [")

    assert "shop.toml cannot be read" in Visitor(app).go("/").text
    page = tick(app, ["scale"], [])
    assert page.status == 503
    assert "nothing was saved" in page.text
    assert text_of(bench) == "lacks = ["


def test_a_form_without_its_token_ticks_nothing(app: Flask, bench: Bench) -> None:
    answer = app.test_client().post("/tools", data={"missing": "scale"}, base_url=HOME, headers={"Origin": HOME})

    assert answer.status_code == 403
    assert bench.shop.settings.lacks == frozenset()


def test_the_loss_and_the_missing_tool_stand_under_the_next_step(app: Flask, bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(lack=[*TOOLS, "soldering iron", "charging socket"])

    page = Visitor(app).go(f"/?q={WORDS}")

    assert "which this fix needs: get that first" in page.text
    assert "Missing here: multimeter , which would save about" in page.text
    step = page.html.index('class="step"')
    assert step < page.html.index("which would save about") < page.html.index('class="pictures"')


# Old jobs


def _confirmed(bench: Bench, *given: tuple[str, int]) -> None:
    """Jobs on one model, each with its age in days."""
    for number, (cause, age) in enumerate(given):
        closed = (NOON - timedelta(days=age)).strftime("%Y-%m-%dT%H:%M:%SZ")
        bench.jobs.confirm(Confirmation(cause, "Tern 13", unit=f"T-{number}", closed_at=closed))


def _shares(bench: Bench) -> dict[str, float]:
    return {one.slug: one.within for one in bench.asking.search("no battery is listed", "Tern 13").entries[0].causes}


def test_without_a_half_life_all_jobs_count_alike(bench: Bench, clock: Clock) -> None:
    _confirmed(bench, (BOARD, 0), (BOARD, 900), (PLUG, 5000))
    before = bench.asking.search("no battery is listed", "Tern 13").entries

    write(bench, "half_life_days = 0\n")
    clock.now += timedelta(days=400)

    assert bench.asking.search("no battery is listed", "Tern 13").entries == before


def test_a_job_one_half_life_old_counts_half_and_is_shown_whole(bench: Bench) -> None:
    _confirmed(bench, (BOARD, 365), (BOARD, 730), (PLUG, 0))
    ageing = Ageing(365, NOON.date())

    with bench.shop.files.reading() as (index, _):
        causes = counts.confirmed(index.jobs.alike("Tern 13", by_day=True), ageing).causes["no-battery"]
        entries = counts.confirmed(index.jobs.alike("Skua 14", by_day=True), ageing).entries

    assert causes.here == {"light-board": 0.75, "plug": 1.0}
    assert causes.told.here == {"light-board": 2, "plug": 1}
    assert (entries.elsewhere, entries.told.elsewhere) == ({"no-battery": 1.75}, {"no-battery": 3})


def test_shown_counts_stay_whole_while_beliefs_follow_the_younger_jobs(bench: Bench) -> None:
    _confirmed(bench, *[(BOARD, 3000)] * 9, *[(PLUG, 3)] * 3)
    before = _shares(bench)

    bench.shop.kept_settings.set_half_life(365)

    after = _shares(bench)
    assert before["light-board"] > before["plug"]
    assert after["plug"] > after["light-board"]
    (entry, *_) = bench.asking.search("no battery is listed", "Tern 13").entries
    assert {cause.slug: cause.confirmed_here for cause in entry.causes} == {"plug": 3, "light-board": 9, "pack": 0}
    assert entry.jobs_here == 12
    effect = bench.jobs.confirm(Confirmation(PLUG, "Tern 13")).effect
    assert effect == "this cause is now first on Tern 13: 4 of 13 here"


def test_a_new_day_is_seen_without_anything_else_changing(bench: Bench, clock: Clock) -> None:
    _confirmed(bench, (BOARD, 0), (BOARD, 0))
    bench.shop.kept_settings.set_half_life(30)
    before = _shares(bench)["light-board"]

    clock.now += timedelta(days=30)
    after = _shares(bench)["light-board"]
    clock.now -= timedelta(days=30)

    assert after < before
    assert _shares(bench)["light-board"] == before


def test_a_retraction_counts_whatever_the_age(bench: Bench) -> None:
    bench.shop.kept_settings.set_half_life(100)
    _confirmed(bench, (PLUG, 50), (PACK, 200))
    before = bench.asking.search("no battery is listed", "Tern 13").entries
    wrong = bench.jobs.confirm(Confirmation(BOARD, "Tern 13", closed_at="2026-01-01T00:00:00Z")).job
    assert bench.asking.search("no battery is listed", "Tern 13").entries != before

    bench.jobs.retract(wrong, "wrong machine")

    assert bench.asking.search("no battery is listed", "Tern 13").entries == before


@given(st.integers(0, 20_000), st.integers(1, 4000))
def test_a_half_life_more_halves_what_a_job_counts(age: int, half_life: int) -> None:
    ageing = Ageing(half_life, date(2026, 6, 30))

    def weight(days: int) -> float:
        return ageing.weight((ageing.today - timedelta(days=days)).isoformat())

    assert 0 <= weight(age) <= 1
    assert weight(age + half_life) == pytest.approx(weight(age) / 2)
    assert weight(age + 1) <= weight(age)
    assert Ageing(0, ageing.today).weight("2001-01-01") == 1.0


def test_an_unknown_name_is_refused_before_anything_is_written(bench: Bench) -> None:
    with pytest.raises(UnknownTool):
        bench.shop.kept_settings.change_tools(lack=["scale", "no such thing at all"])

    assert not bench.shop.kept_settings.path.exists()


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
