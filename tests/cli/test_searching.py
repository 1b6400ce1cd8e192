"""The command for searching: one line a query where an order alone is asked for."""

from __future__ import annotations

import json
from collections.abc import Callable

from click.testing import Result


def test_an_order_alone_is_one_short_line_for_each_query(
    run: Callable[..., Result],
) -> None:
    told = run(
        "search",
        "--stdin",
        "--rank-only",
        "--limit",
        "2",
        given="charges but will not start\nxqzv wwkj\n",
    ).stdout
    first, second = map(json.loads, told.splitlines())

    assert (
        next(entry["entry"] for entry in first["entries"])
        == "charge-light-but-no-start"
    )
    assert set(first) == {
        "query",
        "model",
        "entries",
        "something_else",
        "fits",
        "two_things",
        "version",
    }
    assert (first["fits"], second["fits"]) == (True, False)


def test_an_order_alone_needs_standard_input(run: Callable[..., Result]) -> None:
    assert "--stdin" in run("search", "--rank-only", "no light", status=2).stderr
