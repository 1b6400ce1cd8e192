"""Parts at hand at the terminal: under the step that asks for one, and nowhere else."""

from __future__ import annotations

from pathlib import Path

from helpers.donating import flat_floor, flat_job

from kb.cli import hand


def test_a_repair_that_asks_for_a_part_names_who_has_one_and_a_test_names_nobody(
    tmp_path: Path,
) -> None:
    bench = flat_floor(tmp_path / "shop")
    first = bench.asking.search("no battery is listed", "Tern 13").next_step
    assert first
    assert list(hand.step_lines(bench, first, "Tern 13")) == []
    repair = bench.jobs.standing(flat_job(bench)).answer.next_step
    assert repair
    assert list(hand.step_lines(bench, repair, "Tern 13")) == [
        "battery: A donor on A7 has one: P7-03. Also wanted by P7-02."
    ]
    bench.close()
