"""A shop shares what it learned: told with its own sheets, by what its machines turned out to be."""

from __future__ import annotations

import json

from kb.bench.front import Bench
from kb.bench.sharing import share
from kb.history import kinds
from kb.model import Confirmation


def test_a_shop_shares_what_its_own_sheets_and_machines_tell(small: Bench) -> None:
    small.machines.write(kinds.UNIT_IN, {"tag": "P7-1", "model": "Skua 14"})
    small.jobs.confirm(
        Confirmation("no-battery/plug", "unknown", unit="P7-1"), untested=True
    )

    sent = share(small.shop, small.folder / "office")

    (line,) = map(json.loads, sent.file.read_text().splitlines())
    assert (line["model"], line["listed"], sent.jobs) == ("Skua 14", True, 1)
