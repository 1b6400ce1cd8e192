"""The desk for health: what is wrong is told with what to do, and a sound shop is told nothing."""

from __future__ import annotations

import sqlite3

from kb.bench.front import Bench
from kb.model import Confirmation


def test_a_sound_shop_is_told_of_nothing(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))

    state = bench.health.state()

    assert (state.entries, state.in_step, state.problems) == (4, True, ())
    assert bench.health.warnings() == ()
    assert bench.health.trouble() == ""


def test_a_job_that_the_index_holds_otherwise_is_named_with_the_way_out(
    bench: Bench,
) -> None:
    job = bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13")).job
    bench.asking.search("no battery")
    with sqlite3.connect(bench.folder / "index.db") as file:
        file.execute("UPDATE job SET cause = 'plug'")
    file.close()

    state = bench.health.state()

    assert not state.in_step
    assert any(
        job in problem and "delete index.db" in problem for problem in state.problems
    )


def test_own_files_that_cannot_be_read_are_told(bench: Bench) -> None:
    bench.folder.mkdir(exist_ok=True)
    (bench.folder / "words.toml").write_text("[same")
    (bench.folder / "entries").mkdir()
    (bench.folder / "entries" / "no-battery.md").write_text("nothing")
    bench.asking.search("no battery")

    told = bench.health.left_out()

    assert len(told) == 2
    assert "words.toml" in told[0]
    assert "no-battery.md" in told[1]
    assert set(told) <= set(bench.health.warnings())
