"""The commands for tools and settings: set, listed, taken back, and refused in a sentence."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable

import pytest
from click.testing import Result
from helpers.humming import text_of

from kb.bench.front import Bench

pytestmark = pytest.mark.shop("humming")


# At the terminal


@pytest.fixture
def shop(bench: Bench) -> Bench:
    """The bench whose folder the command line of `run` uses."""
    return bench


Run = Callable[..., Result]


def test_the_settings_are_shown_with_their_meaning_and_as_json(
    run: Run, shop: Bench
) -> None:
    run("tools", "--lack", "scale")

    shown = run("settings", "--half-life", "2y").stdout
    found = json.loads(run("settings", "--json").stdout)

    assert "half_life_days  730" in shown
    assert "lacks           scale" in shown
    assert (found["lacks"], found["half_life_days"], found["problem"]) == (
        ["scale"],
        730,
        None,
    )


@pytest.mark.parametrize(
    "text", ["soon", "-3d", "0.5d", "1e9", "101y", "nan", "2 years"]
)
def test_what_is_no_half_life_is_refused(run: Run, shop: Bench, text: str) -> None:
    assert (
        "half-life" in (told := run("settings", "--half-life", text, status=1).stderr)
        or "length of time" in told
    )
    assert not shop.shop.kept_settings.path.exists()


def test_a_zone_is_set_and_taken_back(run: Run, shop: Bench) -> None:
    assert (
        "zone            Europe/Oslo" in run("settings", "--zone", "Europe/Oslo").stdout
    )
    assert tomllib.loads(text_of(shop)) == {"zone": "Europe/Oslo"}
    assert (
        "zone            that of this computer"
        in run("settings", "--zone", "off").stdout
    )


def test_a_half_life_is_switched_off_again(run: Run, shop: Bench) -> None:
    run("settings", "--half-life", "90d")

    assert "half_life_days  off" in run("settings", "--half-life", "off").stdout


def test_where_machines_come_from_is_set_shown_and_kept_beside_the_rest(
    run: Run, shop: Bench
) -> None:
    run("tools", "--lack", "scale")

    assert "machines_from   counter" in run("settings").stdout
    assert (
        "machines_from   pallet" in run("settings", "--machines-from", "pallet").stdout
    )
    found = json.loads(run("settings", "--json").stdout)
    assert (found["machines_from"], found["lacks"], found["problem"]) == (
        "pallet",
        ["scale"],
        None,
    )
    assert (
        "'counter', 'pallet'"
        in run("settings", "--machines-from", "auction", status=2).stderr
    )
