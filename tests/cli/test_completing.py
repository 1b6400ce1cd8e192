"""The shell completes models that were here, sheets and the causes of a sheet."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from helpers.places import ROOT

from kb.bench.front import Bench
from kb.model import Confirmation


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one job, on a Tern 13."""
    folder = tmp_path_factory.mktemp("used") / "shop"
    bench = Bench(folder)
    bench.jobs.confirm(Confirmation("battery-not-detected/pack", model="Tern 13"))
    bench.close()
    return folder


def completed(line: str, shop: Path) -> list[str]:
    """What bash is given for a line, the last word of which is being typed."""
    words = line.split(" ")
    environment = {
        **os.environ,
        "_BENCHLORE_COMPLETE": "bash_complete",
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(words) - 1),
        "BENCHLORE_SHOP": str(shop),
    }
    program = Path(sys.executable).with_name("benchlore")
    told = subprocess.run(
        [program], env=environment, capture_output=True, text=True, timeout=60
    )
    assert told.stderr == ""
    return [one.partition(",")[2] for one in told.stdout.splitlines() if one]


def test_models_sheets_and_causes_are_known(shop: Path) -> None:
    assert completed("benchlore search --model te", shop) == ["Tern 13"]
    assert completed("benchlore show battery-not-", shop) == ["battery-not-detected"]
    assert completed("benchlore confirm battery-not-det", shop) == [
        "battery-not-detected/"
    ]
    assert "battery-not-detected/pack" in completed(
        "benchlore confirm battery-not-detected/", shop
    )
    assert completed("benchlore ver", shop) == ["verify"]
    assert completed("benchlore help ver", shop) == ["verify"]
    assert completed("benchlore tools --lack multim", shop) == ["multimeter"]


def test_tags_and_lots_are_known(shop: Path, tmp_path: Path) -> None:
    used = Path(shutil.copytree(shop, tmp_path / "shop"))
    with closing(Bench(used)) as bench:
        bench.arrivals.take_in("tag,model\nP7-001,Tern 13\n", "P7")

    assert completed("benchlore unit p7", used) == ["P7-001"]
    assert completed("benchlore lot ", used) == ["P7"]


def test_a_sheet_that_nobody_has_searched_for_yet_and_its_causes_are_known(
    shop: Path, tmp_path: Path
) -> None:
    used = Path(shutil.copytree(shop, tmp_path / "shop"))
    own = used / "entries"
    own.mkdir()
    text = (ROOT / "entries" / "battery-not-detected.md").read_text(encoding="utf-8")
    (own / "pack-of-our-own.md").write_text(
        text.replace("**pack**", "**our-pack**"), encoding="utf-8"
    )

    assert completed("benchlore show pack-of", used) == ["pack-of-our-own"]
    assert completed("benchlore confirm pack-of-our-own/our", used) == [
        "pack-of-our-own/our-pack"
    ]


def test_a_shop_with_a_library_of_its_own_completes_that_ones_sheets(
    shop: Path, tmp_path: Path
) -> None:
    used = Path(shutil.copytree(shop, tmp_path / "shop"))
    house = used / "lamps" / "house"
    house.mkdir(parents=True)
    (house / "trade.toml").write_text(
        'areas = ["light"]\nparts = ["bulb"]\ntools = ["tester"]\n'
    )
    (used / "lamps" / "lamp-stays-dark.md").write_text("begun")
    (used / "shop.toml").write_text('library = "lamps"\n')

    assert completed("benchlore show ", used) == ["lamp-stays-dark"]
    assert completed("benchlore tools --lack ", used) == ["tester", "bulb"]


def test_in_a_new_shop_nothing_is_made_by_completing(tmp_path: Path) -> None:
    assert completed("benchlore search --model te", tmp_path / "shop") == []
    assert completed("benchlore show battery-not-", tmp_path / "shop") == [
        "battery-not-detected"
    ]
    assert list(tmp_path.iterdir()) == []


def test_a_shop_that_cannot_be_read_completes_nothing(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("no folder")

    assert completed("benchlore search --model te", tmp_path / "shop") == []
