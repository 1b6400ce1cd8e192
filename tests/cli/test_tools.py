"""Tools at the terminal: set, listed, taken back; what the shop lacks is told by search and guide."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable

import pytest
from click.testing import Result
from helpers.humming import HUMS, TOOLS, WORDS, text_of

from kb.bench.front import Bench

pytestmark = pytest.mark.shop("humming")


# At the terminal


@pytest.fixture
def shop(bench: Bench) -> Bench:
    """The bench whose folder the command line of `run` uses."""
    return bench


Run = Callable[..., Result]


def test_tools_are_set_listed_and_taken_back_at_the_terminal(
    run: Run, shop: Bench
) -> None:
    lacked = run("tools", "--lack", "Multimeter", "--lack", "scale", "--json")
    given = run("tools", "--have", "scale")

    assert {one["name"] for one in json.loads(lacked.stdout) if one["lacking"]} == {
        "multimeter",
        "scale",
    }
    assert "multimeter (lacking)" in given.stdout
    assert "scale (lacking)" not in given.stdout
    assert tomllib.loads(text_of(shop)) == {"lacks": ["multimeter"]}


def test_an_unknown_tool_is_answered_with_the_nearest_known_one(
    run: Run, shop: Bench
) -> None:
    result = run("tools", "--lack", "multimetre", status=2)

    assert "did you mean `multimeter`?" in result.stderr
    assert not shop.shop.kept_settings.path.exists()


@pytest.mark.parametrize(
    "text",
    [
        "lacks = [",
        'lacks = "multimeter"\n',
        "[lacks]\na = 1\n",
        "\udcff",
        "a = " + "[" * 50_000,
    ],
)
def test_a_damaged_file_is_told_in_a_sentence_and_left_as_it_is(
    run: Run, shop: Bench, text: str
) -> None:
    damaged = text.encode("utf-8", "surrogateescape")
    shop.shop.kept_settings.path.write_bytes(damaged)

    changed, listed = run("tools", "--lack", "scale", status=1), run("tools", status=1)

    for result in (changed, listed):
        assert len(result.stderr.splitlines()) == 1
        assert "shop.toml" in result.stderr
        assert "mend" in result.stderr
    assert shop.shop.kept_settings.path.read_bytes() == damaged
    assert run("search", "no battery is listed", "--json").stdout


def test_a_search_says_what_the_shop_lacks_and_what_that_costs(
    run: Run, shop: Bench
) -> None:
    shop.shop.kept_settings.change_tools(lack=TOOLS)

    told = run("search", WORDS)
    loss = json.loads(run("search", WORDS, "--json").stdout)["loss"]

    assert (
        f"Missing here: multimeter, which would save about {loss['minutes']:.0f} min."
        in told.stdout
    )


def test_the_guide_says_it_too_and_does_not_rule_out_what_cannot_be_done_here(
    run: Run, shop: Bench
) -> None:
    shop.shop.kept_settings.change_tools(
        lack=[*TOOLS, "soldering iron", "charging socket"]
    )

    result = run("guide", WORDS, given="n\nq\n")

    assert "which this fix needs: get that first" in result.stdout
    assert "it cannot be done here without" in result.stdout
    assert "Missing here: multimeter, which would save about" in result.stdout
    (job,) = shop.jobs.open_jobs()
    assert job.failed_fixes == ()


def test_own_parts_and_tools_are_known_wherever_those_of_the_trade_are(
    run: Run, shop: Bench
) -> None:
    """Before the shop's file names them each is told to be unknown."""
    sheet = HUMS.replace("part charging socket", "part drive sled").replace(
        "needs multimeter", "needs heat gun"
    )
    (shop.folder / "entries" / "hums.md").write_text(sheet, encoding="utf-8")
    unknown = [
        "`heat gun` is not a known part or tool",
        "`drive sled` is not a known part or tool",
    ]
    saving = ("confirm", "hums/coil", "--model", "Tern 13", "--part", "Drive sled")

    before = run("check").stdout
    told = run(*saving).stderr
    lacking = run("tools", "--lack", "heat gun", status=2).stderr
    (shop.folder / "entries" / "house").mkdir()
    (shop.folder / "entries" / "house" / "own.toml").write_text(
        'parts = ["drive sled"]\ntools = ["heat gun"]\n'
    )
    after = run("check").stdout

    assert all(one in before and one not in after for one in unknown)
    assert 'parts = ["Drive sled"]' in told
    assert "entries/house/own.toml" in lacking
    assert run(*saving).stderr == ""
    assert "heat gun (lacking)" in run("tools", "--lack", "Heat Gun").stdout
