"""Check-outs of the invented shop: the same seed gives the same ones, and what failed is mended on the spot."""

from __future__ import annotations

import math

from kb.demo.checkout import MOST, InventedCheckOuts
from kb.library import checklist
from kb.library.checklist import WORD_SHARES
from kb.library.shelf import stock_folder

LINES = checklist.parse((stock_folder() / "house" / "checkout.md").read_text("utf-8")).lines
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
