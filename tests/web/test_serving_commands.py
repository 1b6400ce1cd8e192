"""The commands that the web pages add: what they refuse, and which names a server answers to."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers.places import ROOT
from helpers.unwritten import FULL


def test_both_commands_show_an_example(run: Callable[..., Result]) -> None:
    for command in ("serve", "demo"):
        assert f"Example: benchlore {command}" in run(command, "--help").stdout


def test_the_demo_shop_lies_beside_the_others_and_follows_the_environment(
    tmp_path: Path,
) -> None:
    command = [sys.executable, "-m", "webui", "demo", "--no-serve", "--json"]
    there = {**os.environ, "PYTHONPATH": str(ROOT), "XDG_DATA_HOME": str(tmp_path)}
    there.pop("BENCHLORE_SHOP", None)

    made = subprocess.run(command, env=there, capture_output=True, check=True)

    assert json.loads(made.stdout)["folder"] == str(tmp_path / "benchlore-demo")


@pytest.mark.skipif(
    not FULL.exists(), reason="this system has no device that is always full"
)
def test_the_server_answers_though_nobody_hears_where(stocked_folder: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = str(free.getsockname()[1])
    command = [
        sys.executable,
        "-m",
        "webui",
        "serve",
        "--port",
        port,
        "--shop",
        str(stocked_folder),
    ]
    here = {**os.environ, "PYTHONPATH": str(ROOT)}

    with FULL.open("w") as full:
        server = subprocess.Popen(
            command, env=here, stdout=full, stderr=subprocess.PIPE, text=True
        )
        try:
            page = _asked(f"http://127.0.0.1:{port}/keys", server)
        finally:
            server.send_signal(signal.SIGINT)
            _, errors = server.communicate(timeout=60)

    assert b"Benchlore" in page
    assert "Traceback" not in errors


def _asked(address: str, server: subprocess.Popen[str]) -> bytes:
    """The page at that address, as soon as the server answers."""
    until = time.monotonic() + 60
    while True:
        try:
            with urllib.request.urlopen(address, timeout=10) as answer:
                return bytes(answer.read())
        except OSError:
            assert server.poll() is None
            assert time.monotonic() < until
            time.sleep(0.2)
