"""The command for money: what it says is what the desk says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.paid import pallet
from helpers.places import CORPUS

from kb.bench.front import Bench


def test_the_command_says_what_the_desk_says(run: Callable[..., Result], tmp_path: Path) -> None:
    run("settings", "--hour", "36.00", "--currency", "eur")
    with_pallet = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(with_pallet)
    with_pallet.close()
    (tmp_path / "offer.csv").write_text("model,count,sale\nTern 13,12,90\n")

    assert "tied up in machines not done: 30.00 EUR" in run("cost").stdout
    assert "paid 90.00, parts 25.00, work 12.00" in run("cost", "--lot", "p1").stdout
    assert '"tied_up": 3000' in run("cost", "--json").stdout
    assert "then nothing is lost in 8 of 10 cases" in run("cost", "--bid", "offer.csv", "--freight", "64").stdout
    assert "no machine came in a lot P9" in run("cost", "--lot", "P9", status=2).stderr
    assert "is no sum of money" in run("cost", "--bid", "offer.csv", "--freight", "much", status=1).stderr
