"""Hosts under whose names the pages answer."""

from __future__ import annotations

import socket
from collections.abc import Callable

import pytest
from click.testing import Result
from flask.testing import FlaskClient

from webui.guard import hosts


def test_a_host_with_a_port_in_it_is_refused(run: Callable[..., Result]) -> None:
    assert "without a port" in run("serve", "--host", "0.0.0.0:80", status=2).stderr


def test_on_loopback_only_loopback_names_are_answered() -> None:
    assert hosts.answered("127.0.0.1") == ("localhost", "127.0.0.1", "::1")


def test_on_the_network_this_computer_answers_to_its_own_names() -> None:
    name = socket.gethostname().lower()

    for everywhere in ("0.0.0.0", "::"):
        assert {"localhost", "::1", name, f"{name}.local"} <= set(
            hosts.answered(everywhere)
        )
        assert everywhere not in hosts.answered(everywhere)
    assert "192.0.2.7" in hosts.answered("192.0.2.7")
    assert "2001:db8::7" in hosts.answered("2001:db8::7")


# Hosts, sizes, hostile text


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "localhost.evil.example",
        "evil.example:8377",
        "user@evil.example",
        "[2001:db8::1]",
        "",
    ],
)
def test_a_foreign_host_is_refused(client: FlaskClient, host: str) -> None:
    answer = client.get("/", headers={"Host": host})

    assert answer.status_code == 400
    assert "evil" not in answer.text


@pytest.mark.parametrize(
    "host", ["localhost:8377", "127.0.0.1:8377", "[::1]:8377", "[0:0::1]"]
)
def test_loopback_is_answered_under_each_of_its_names(
    client: FlaskClient, host: str
) -> None:
    assert client.get("/", headers={"Host": host}).status_code == 200


def test_no_link_is_built_from_the_host(client: FlaskClient) -> None:
    answer = client.get("/?q=no+battery", headers={"Host": "localhost:9999"})

    assert "9999" not in answer.text
