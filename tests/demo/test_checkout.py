"""Check-outs of the invented shop: the same seed gives the same ones, and what failed is mended on the spot."""

from __future__ import annotations

import math
from dataclasses import replace

from kb.demo.checkout import MOST, InventedCheckOuts
from kb.library import checklist
from kb.library.checklist import WORD_SHARES
from kb.library.shelf import stock_folder

LINES = checklist.parse(
    (stock_folder() / "house" / "checkout.md").read_text("utf-8")
).lines
DEMO = InventedCheckOuts(LINES, 5)


def test_each_line_ends_good_and_the_same_seed_gives_the_same_looks() -> None:
    looks = list(DEMO.looks("P1-01", "Tern 13"))

    assert looks == list(InventedCheckOuts(LINES, 5).looks("P1-01", "Tern 13"))
    assert looks != list(InventedCheckOuts(LINES, 6).looks("P1-01", "Tern 13"))
    assert [look.line for look in looks if look.shown == "good"] == list(LINES)
    assert all(look.value for look in looks if look.shown == "good" and look.line.reads)


def test_work_never_fails_and_nothing_fails_more_often_than_is_said() -> None:
    shares = DEMO.true_shares("Tern 13")

    assert {shares[line.name] for line in LINES if line.work} == {0.0}
    assert max(shares.values()) <= MOST


def test_over_many_models_the_words_of_the_list_are_right_on_the_whole() -> None:
    """Luck is lognormal with a mean of 1; 400 models have a standard error of 4 % (its variance is e^.49 - 1)."""
    line = next(one for one in LINES if one.weight == "rare" and not one.work)
    shares = [DEMO.true_shares(f"model {number}")[line.name] for number in range(400)]

    assert math.isclose(sum(shares) / len(shares), WORD_SHARES["rare"], rel_tol=0.16)


def test_a_line_behind_a_habit_of_a_model_fails_more_often_on_that_model_alone() -> (
    None
):
    without = replace(DEMO, scenario=replace(DEMO.scenario, habits=()))
    behind = [
        (habit.model, line.name)
        for habit in DEMO.scenario.habits
        for line in LINES
        if habit.entry in line.sheets and not line.work
    ]
    assert behind

    for model in {model for model, _ in behind} | {"a model without habits"}:
        habitual, plain = DEMO.true_shares(model), without.true_shares(model)
        for line in LINES:
            more_often = (model, line.name) in behind and plain[line.name] < MOST
            assert (habitual[line.name] > plain[line.name]) == more_often, (
                model,
                line.name,
            )


def test_lines_fail_as_often_as_is_true() -> None:
    """On 400 machines; the share of one line of a tenth has a standard error of 1.5 %, the sum of all a little more."""
    machines = [list(DEMO.looks(f"P1-{number}", "Tern 13")) for number in range(400)]
    failed = sum(look.shown == "bad" for looks in machines for look in looks) / len(
        machines
    )

    assert math.isclose(failed, sum(DEMO.true_shares("Tern 13").values()), rel_tol=0.2)
