"""The page of costs: the same sums as anywhere else."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from helpers.paid import pallet
from helpers.places import CORPUS
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app

#: The pieces of a bar, each with its width.
RECTS = re.compile(r'<rect class="([a-z ]+)" x="[\d.]+" y="[\d.]+" width="([\d.]+)"')


def test_the_pages_show_the_same_sums(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(bench)
    visitor = Visitor(create_app(bench))
    page = visitor.go("/cost")

    assert "30.00 EUR" in page.text
    assert "forecast" in page.text
    each = bench.cost.costs().lots[0].each
    assert each
    widths = {name: float(wide) for name, wide in RECTS.findall(page.html)}
    assert widths["ahead"] / sum(widths.values()) == pytest.approx(
        each.ahead / each.cents, abs=0.01
    )
    refused = visitor.press("Reckon", page, offer="Tern 13, twelve")
    assert refused.status == 400
    assert "the offer has no column" in refused.text
    assert "Tern 13, twelve" in refused.html
    bid = visitor.press("Reckon", offer="model,count,sale\nTern 13,12,90", freight="64")
    assert "then nothing is lost in 8 of 10 cases" in bid.text
    assert "P1,P1-3,Tern 13,donor,3000,-450,0,2550" in visitor.go("/cost.csv").html
    bench.close()
