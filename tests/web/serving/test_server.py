"""The server: a taken port is told, and what everybody waits for is worked out beforehand."""

from __future__ import annotations

import gc
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from unittest.mock import Mock

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.model import Confirmation
from kb.review import kept
from webui.serving import server


def test_a_taken_port_is_told_in_one_sentence(run: Callable[..., Result]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()

        result = run("serve", "--port", str(taken.getsockname()[1]), status=1)

    assert "give another --port" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "bench.example"])
def test_the_server_does_not_start_on_a_network_without_a_passphrase(
    run: Callable[..., Result], host: str
) -> None:
    told = run("serve", "--host", host, "--port", "0", status=1)

    assert "benchlore passphrase" in told.stderr


def test_half_a_pair_of_certificate_and_key_is_refused(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    (tmp_path / "c.pem").write_text("x")

    assert (
        "together"
        in run("serve", "--certificate", str(tmp_path / "c.pem"), status=2).stderr
    )
    both = ("--certificate", str(tmp_path / "c.pem"), "--key", str(tmp_path / "c.pem"))
    assert "no certificate with its key" in run("serve", *both, status=1).stderr


def test_a_server_counts_all_jobs_before_the_first_visitor_asks_for_the_review(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    count = Mock(wraps=kept.summed)
    monkeypatch.setattr(kept, "summed", count)
    monkeypatch.setattr(gc, "freeze", lambda: None)

    worker = threading.Thread(target=server._warm, args=(bench,))
    worker.start()
    worker.join()

    count.assert_called_once()
    assert bench.looking_back.overview().review.jobs == 1
    count.assert_called_once()
