"""Offers of pallets as they come in files."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from kb.base.trouble import Refusal
from kb.machines.cost.offers import offer_of


def test_an_offer_names_every_problem_by_its_line() -> None:
    with pytest.raises(Refusal) as refused:
        offer_of("model;count;sale\nTern 13;twelve;90\n;3;10\nSkua 14;2;cheap\n", 3600)

    said = str(refused.value)
    assert "line 2: `twelve` is no number of machines" in said
    assert "line 3: no model is named" in said
    assert "line 4: `cheap` is no sum of money" in said


def test_an_offer_from_an_old_spreadsheet_is_read_with_its_letters(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    (tmp_path / "offer.csv").write_bytes(
        "model;count;sale\nTärn;zwölf;90\n".encode("cp1252")
    )

    assert (
        "`zwölf` is no number of machines"
        in run("cost", "--bid", "offer.csv", status=1).stderr
    )
