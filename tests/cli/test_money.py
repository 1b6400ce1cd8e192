"""The command for money: what it says is what the desk says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.paid import pallet
from helpers.places import CORPUS

from kb.bench.front import Bench


def test_the_command_says_what_the_desk_says(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    run("settings", "--hour", "36.00", "--currency", "eur")
    with_pallet = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(with_pallet)
    with_pallet.close()
    (tmp_path / "offer.csv").write_text(
        "model,count,sale\nTern 13,12,90\nCurlew 11,2,90\n"
    )

    assert "tied up in machines not done: 30.00 EUR" in run("cost").stdout
    assert "paid 90.00, parts 25.00, work 12.00" in run("cost", "--lot", "p1").stdout
    assert '"tied_up": 3000' in run("cost", "--json").stdout
    assert (
        "then nothing is lost in 8 of 10 cases"
        in run("cost", "--bid", "offer.csv", "--freight", "64").stdout
    )
    assert (
        "none of these was done here yet, they are reckoned like all others: Curlew 11"
        in run("cost", "--bid", "offer.csv").stdout
    )
    assert "no machine came in a lot P9" in run("cost", "--lot", "P9", status=2).stderr
    assert (
        "is no sum of money"
        in run("cost", "--bid", "offer.csv", "--freight", "much", status=1).stderr
    )


def test_a_price_that_nobody_wrote_down_is_said_to_be_missing_and_written_down_at_its_lot(
    run: Callable[..., Result],
) -> None:
    run("intake", "-", "--lot", "H", given="tag,model\nH-1,Tern 13\nH-2,Tern 13\n")
    missing = (
        "Nothing is written down that was paid for H: benchlore lot H --paid 864.00"
    )
    assert missing in run("cost").stdout
    assert missing in run("cost", "--lot", "H").stdout

    told = run(
        "lot",
        "H",
        "--paid",
        "80",
        "--freight",
        "10.00",
        "--bought",
        "2026-11-30",
        "--seller",
        "X (invented)",
    )

    assert "paid 80.00, freight 10.00" in told.stdout
    assert "bought 2026-11-30, X (invented)" in told.stdout
    assert missing not in run("cost").stdout
    assert "cost 90.00: paid 90.00" in run("cost", "--lot", "H").stdout
    assert "is no day" in run("lot", "H", "--bought", "today", status=1).stderr
