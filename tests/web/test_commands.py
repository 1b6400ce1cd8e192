"""The commands that the web pages add: what they refuse, and which names a server answers to."""

from __future__ import annotations

import socket
from collections.abc import Callable

import pytest
from click.testing import Result

from webui import commands
from webui.guard import hosts


def test_a_taken_port_is_told_in_one_sentence(run: Callable[..., Result]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()

        result = run("serve", "--port", str(taken.getsockname()[1]), status=1)

    assert "give another --port" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_host_with_a_port_in_it_is_refused(run: Callable[..., Result]) -> None:
    assert "without a port" in run("serve", "--host", "0.0.0.0:80", status=2).stderr


def test_both_commands_show_an_example(run: Callable[..., Result]) -> None:
    for command in ("serve", "demo"):
        assert f"Example: benchlore {command}" in run(command, "--help").stdout


def test_on_loopback_only_loopback_names_are_answered() -> None:
    assert hosts.answered("127.0.0.1") == ("localhost", "127.0.0.1", "::1")


def test_on_the_network_this_computer_answers_to_its_own_names() -> None:
    name = socket.gethostname().lower()

    for everywhere in ("0.0.0.0", "::"):
        assert {"localhost", "::1", name, f"{name}.local"} <= set(hosts.answered(everywhere))
        assert everywhere not in hosts.answered(everywhere)
    assert "192.0.2.7" in hosts.answered("192.0.2.7")
    assert "2001:db8::7" in hosts.answered("2001:db8::7")


def test_the_demo_shop_lies_beside_the_others_and_follows_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", "/elsewhere")

    assert str(commands._demo_folder()) == "/elsewhere/benchlore-demo"
