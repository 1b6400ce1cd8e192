"""Slips of the hand are told in one line and do not become history unasked."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.cli import slips

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"


@pytest.fixture(scope="module")
def used_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one job, on a Tern 13."""
    from kb.model import Confirmation

    folder = tmp_path_factory.mktemp("used") / "shop"
    bench = Bench(folder)
    bench.jobs.confirm(Confirmation(PACK, model="Tern 13"))
    bench.close()
    return folder


@pytest.fixture(autouse=True)
def _in_it(tmp_path: Path, used_shop: Path) -> None:
    shutil.copytree(used_shop, tmp_path / "shop")


def jobs(run: Run) -> int:
    return len(run("export").stdout.splitlines())


def test_a_model_without_its_quotes_is_told_and_opens_no_job(run: Run) -> None:
    told = 'the model was read as "Tern"; if Tern 13 is meant, put it in quotes: --model "Tern 13"'

    assert told in run("search", "no", "sound", "--model", "Tern", "13").stderr
    assert told in run("guide", "no", "sound", "--model", "Tern", "13", status=2).stderr
    assert json.loads(run("jobs", "--open", "--json", status=1).stdout) == []
    assert (
        "was read as"
        not in run("search", "no", "sound", "13", "--model", "Tern 13").stderr
    )


def test_a_part_that_no_sheet_knows_is_told_and_saved(run: Run) -> None:
    result = run("confirm", PACK, "--model", "Tern 13", "--part", "batery")

    assert result.stderr.startswith(
        "no sheet knows a part `batery`; did you mean `battery`?"
    )
    assert 'entries/house/own.toml of the shop: parts = ["batery"]' in result.stderr
    assert "saved as job" in result.stdout
    assert run("confirm", PACK, "--model", "Tern 13", "--part", "Battery").stderr == ""


def test_the_same_on_one_tag_is_saved_twice_only_if_asked(run: Run) -> None:
    given = ("confirm", PACK, "--model", "Tern 13", "--unit", "P7-012")
    run(*given)
    refused = run(*given, status=1)

    assert f"{PACK} on P7-012 was saved just now as job " in refused.stderr
    assert jobs(run) == 2
    run(*given, "--again")
    assert jobs(run) == 3
    run("confirm", PACK, "--model", "Tern 13", "--unit", "P7-013")
    assert jobs(run) == 4


def test_a_shop_that_a_slip_makes_is_told(
    run: Run, tmp_path: Path, used_shop: Path
) -> None:
    made = str(tmp_path / "shpo")
    told = f"new shop made at {made}; if another one is meant, check --shop\n"

    assert run("verify", "--shop", made).stderr == told
    assert run("verify", "--shop", made).stderr == ""


@pytest.mark.parametrize("bare", ["2", "90", "1.5"])
def test_a_half_life_says_of_what(run: Run, bare: str) -> None:
    result = run("settings", "--half-life", bare, status=1)

    assert (
        f"`{bare}` may be days or years; write {bare}d, {bare}w, {bare}m or {bare}y"
        in result.stderr
    )


@pytest.mark.parametrize(("answer", "saved"), [("\n", "Tern 13"), ("n\n", "Tren 13")])
def test_at_a_terminal_a_near_model_is_asked_about(
    run: Run, monkeypatch: pytest.MonkeyPatch, answer: str, saved: str
) -> None:
    monkeypatch.setattr(
        slips, "sys", SimpleNamespace(stdin=SimpleNamespace(isatty=lambda: True))
    )

    told = run("confirm", PACK, "--model", "Tren 13", given=answer).stderr

    assert "no job was on Tren 13 yet; is it Tern 13?" in told
    assert json.loads(run("jobs", "--json").stdout)[0]["model"] == saved
