"""The commands for parts and pile say what the desks say."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from click.testing import Result

from kb.bench.front import Bench


def test_the_commands_say_what_the_desks_say(run: Callable[..., Result], tmp_path: Path, floor: Bench) -> None:
    told = json.loads(run("pile", "--lot", "P7", "--hours", "8", "--json").stdout)
    assert told["next"]["tag"] in ("P7-01", "P7-02")
    assert told["not_looked_at"] == ["P7-03"]
    assert "Next: " in run("pile", "--lot", "P7").stdout
    assert "Not looked at yet: P7-03" in run("pile", "--lot", "P7").stdout
    assert "keyboard for Tern 13: P7-02" in run("parts", "--wanted").stdout
    assert "1. P7-04 (Tern 13) at B1: fits: the same model" in run("parts", "keyboard", "--for", "P7-02").stdout
    assert "is taken from P7-04" in run("parts", "keyboard", "--for", "P7-02", "--take", "P7-04").stdout
    assert "has left P7-04 already" in run("parts", "keyboard", "--take", "P7-04", status=1).stderr
    assert "name a part" in run("parts", status=2).stderr
    assert "say which model" in run("parts", "fan", status=2).stderr
    assert "No machine with a complaint waits." in run("pile", "--lot", "P9", status=1).stdout
