"""What the computed order gains on the shipped list, in the truth of the demo shop: by formula, played, and misled."""

from __future__ import annotations

import time

import pytest
from helpers.gains import Gain, gain, gain_played, shipped_lines

from kb.demo.checkout import SEED, InventedCheckOuts
from kb.history.units import LineShown, RepairDone, Unit
from kb.library import machine
from kb.library.checklist import CheckLine
from kb.library.shelf import stock_folder
from kb.machines.checkout.figures import ListFigures
from kb.machines.checkout.freshness import redo_minutes
from kb.machines.checkout.standing import Depths, LineState, repairs_on, standings

LINES = shipped_lines()
PARTS = machine.parse((stock_folder() / "house" / "machine.md").read_text("utf-8"))
#: As many machines of each model as the demo shop has checked on the mean.
CHECKED = 11
DEMO = InventedCheckOuts(LINES, SEED)


@pytest.fixture(scope="module")
def by_formula() -> Gain:
    return gain(DEMO, CHECKED)


@pytest.mark.slow
def test_a_machine_takes_twelve_minutes_less_than_in_the_list_s_own_order(
    by_formula: Gain,
) -> None:
    assert by_formula.saved >= 12.0
    assert by_formula.best <= by_formula.computed


@pytest.mark.slow
def test_machines_played_one_by_one_take_what_the_formula_says(
    by_formula: Gain,
) -> None:
    on_machines = gain_played(DEMO, CHECKED, played_each=1_500)

    assert on_machines.listed == pytest.approx(by_formula.listed, rel=0.01)
    assert on_machines.computed == pytest.approx(by_formula.computed, rel=0.01)
    assert on_machines.saved >= 11.5


@pytest.mark.slow
def test_ten_minutes_are_saved_where_minutes_shares_and_depths_are_wrong() -> None:
    assert gain(DEMO, CHECKED, wrong=True).saved >= 10.0


@pytest.mark.slow
def test_without_any_check_out_the_words_of_the_list_save_most_of_it() -> None:
    assert gain(DEMO, 0).saved >= 11.0


def test_the_shipped_list_is_put_in_order_within_twenty_milliseconds_of_processor_time() -> (
    None
):
    figures = ListFigures(LINES, DEMO.true_shares("Tern 13"))
    assert figures.redo
    spent = []
    for _ in range(25):  # the least of them: the other core may be busy
        began = time.thread_time()
        figures.best_order()
        spent.append(time.thread_time() - began)

    assert min(spent) < 0.020


@pytest.mark.parametrize(
    "line", [line for line in LINES if not line.work], ids=lambda line: line.name
)
def test_what_the_formula_counts_again_is_what_the_records_of_a_repair_make_stale(
    line: CheckLine,
) -> None:
    """All lines good, then the part behind one is changed: of the others those go stale that it counts minutes for."""
    number = LINES.index(line)
    good = {
        one.name: LineShown(line=one.name, shown="good", seq=1, record="r")
        for one in LINES
    }
    work = tuple(RepairDone(2, "", "job", "AW", "x/y", part) for part in line.parts)
    unit = Unit(key="p", tag="P", lines=good, work=work)
    depths = Depths("Tern 13", PARTS, LINES, lambda slug: None)

    stale = {
        one.line.name
        for one in standings(LINES, unit, repairs_on(unit, depths))
        if one.state is LineState.STALE
    }

    counted = {
        LINES[other].name
        for other, minutes in enumerate(redo_minutes(LINES)[number])
        if minutes
    }
    assert stale - {line.name} == counted
