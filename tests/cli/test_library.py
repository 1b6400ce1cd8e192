"""The command for a library of another trade, and a shop that is set to it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from click.testing import Result

Run = Callable[..., Result]


def test_a_shop_is_set_to_it_by_its_command(run: Run, tmp_path: Path) -> None:
    run("new-library", "lamps")
    assert run("check", "lamps").stderr == "nothing to mend\n"
    run("settings", "--library", "lamps")

    assert "lamp-stays-dark" in run("list").stdout
    assert run("check").stderr == "nothing to mend\n"
    assert str(tmp_path / "lamps") in run("settings", "--json").stdout
    assert "holds no library" in run("settings", "--library", "shop", status=1).stderr


def test_a_library_that_is_gone_stops_every_command_with_a_sentence(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "shop.toml").write_text('library = "../away"\n')

    assert "`library` in" in run("search", "dark", status=1).stderr


def test_tools_are_those_of_the_trade_in_force(run: Run) -> None:
    run("new-library", "lamps")
    run("settings", "--library", "lamps")

    assert "unknown" not in run("tools", "--lack", "multimeter").stdout
    assert "no known tool" in run("tools", "--lack", "bench supply", status=2).stderr
