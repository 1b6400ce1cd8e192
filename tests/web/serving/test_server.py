"""The server: a taken port is told."""

from __future__ import annotations

import socket
from collections.abc import Callable

from click.testing import Result


def test_a_taken_port_is_told_in_one_sentence(run: Callable[..., Result]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()

        result = run("serve", "--port", str(taken.getsockname()[1]), status=1)

    assert "give another --port" in result.stderr
    assert "Traceback" not in result.stderr
