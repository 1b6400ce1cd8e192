"""Buying at the terminal: a list in with every problem named, what is on the way, and for whom a piece is."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.donating import LIST, keyless_floor


def test_purchases_go_in_and_out_at_the_terminal(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    floor = keyless_floor(tmp_path / "shop")
    (tmp_path / "orders.csv").write_text(LIST + "keybord,Tern 13,1,9.00,4712\n")
    shop = ("--shop", str(floor.folder))

    dry = run("parts", "--bought", "orders.csv", "--dry-run", *shop, status=1)
    assert "nothing was saved: this was a dry run" in dry.stdout
    assert (
        "orders.csv:3: no part here is called keybord; the nearest is keyboard"
        in dry.stderr
    )
    run("parts", "--coming", *shop, status=1)
    run("parts", "--bought", "orders.csv", *shop, status=1)
    assert (
        json.loads(run("parts", "--coming", "--json", *shop).stdout)[0]["cents"] == 3000
    )
    assert (
        "keyboard for P7-02 at A1"
        in run("parts", "--came", "4711", "--count", "1", *shop).stdout
    )
    wanted = run("parts", "--wanted", "--csv", *shop).stdout.splitlines()
    assert wanted[0] == "part,model,machines,donors,on_the_way,to_order,price,paid_for"
    # those on the way are for another model
    assert wanted[1] == "keyboard,Skua 14,P7-03,,0,1,1000,Tern 13"
    assert run("parts", "panel", "--coming", *shop, status=2)
