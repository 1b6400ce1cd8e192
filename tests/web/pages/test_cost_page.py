"""The page of costs: the same sums as anywhere else."""

from __future__ import annotations

from pathlib import Path

from helpers.paid import pallet
from helpers.places import CORPUS
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


def test_the_pages_show_the_same_sums(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(bench)
    visitor = Visitor(create_app(bench))
    page = visitor.go("/cost")

    assert "30.00 EUR" in page.text
    assert "forecast" in page.text
    refused = visitor.press("Reckon", page, offer="Tern 13, twelve")
    assert refused.status == 400
    assert "the offer has no column" in refused.text
    assert "Tern 13, twelve" in refused.html
    bid = visitor.press("Reckon", offer="model,count,sale\nTern 13,12,90", freight="64")
    assert "then nothing is lost in 8 of 10 cases" in bid.text
    assert "P1,P1-3,Tern 13,donor,3000,-450,0,2550" in visitor.go("/cost.csv").html
    bench.close()
