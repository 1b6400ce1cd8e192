"""Rows for a spreadsheet: one table, in place of JSON, with what a list of the JSON holds."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.donating import keyless_floor


def test_parts_pile_and_cost_go_out_as_the_rows_of_their_json(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    keyless_floor(tmp_path / "shop").close()
    shop = ("--shop", str(tmp_path / "shop"))
    for command, key in (
        (("pile",), "machines"),
        (("cost",), "lots"),
        (("cost", "--lot", "P7"), "units"),
    ):
        rows = list(csv.DictReader(io.StringIO(run(*command, "--csv", *shop).stdout)))
        told = json.loads(run(*command, "--json", *shop).stdout)[key]
        assert len(rows) == len(told) > 0
        assert {str(row.get("tag", row.get("lot"))) for row in rows} == {
            one.get("tag", one.get("lot")) for one in told
        }

    assert (
        "say --json or --csv"
        in run("parts", "--wanted", "--csv", "--json", *shop, status=2).stderr
    )
