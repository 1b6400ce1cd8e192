"""Hostile text on the command line and in files to import: refused or taken in a sentence, never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from itertools import cycle
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from helpers.places import ROOT

from kb.base.csvtext import to_csv
from kb.library import shelf
from security import hostile
from security.serving import CORPUS
from webui.commands import main

HERE = ROOT


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BENCHLORE_SHOP", str(tmp_path / "shop"))
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(shelf, "stock_folder", lambda: CORPUS)
    return tmp_path


def sound(result: Result, text: object) -> None:
    assert result.exception is None or isinstance(result.exception, SystemExit), (
        text,
        result.exception,
    )
    assert result.exit_code in (0, 1, 2), text
    assert "Traceback" not in result.output, text


def test_every_text_is_answered_on_standard_input(shop: Path) -> None:
    lines = [text.replace("\r", " ").replace("\n", " ") for text in hostile.ALL]
    given = b"\n".join(hostile.sent(line) for line in lines) + b"\n"

    result = CliRunner().invoke(main, ["search", "--stdin"], input=given)

    sound(result, "stdin")
    assert len([json.loads(line) for line in result.stdout.split("\n") if line]) == len(
        lines
    )


def test_every_text_is_taken_as_an_argument(shop: Path) -> None:
    ways: list[Callable[[str], list[str]]] = [
        lambda text: ["search", "--", text],
        lambda text: ["search", "no light", f"--model={text}"],
        lambda text: [
            "confirm",
            "no-battery/plug",
            "--model=Tern 13",
            f"--words={text}",
            f"--by={text}",
        ],
        lambda text: [
            "confirm",
            "no-battery/plug",
            "--model=Tern 13",
            f"--note={text}",
        ],
        lambda text: ["confirm", f"--model={text}", "--", text],
        lambda text: ["retract", f"--why={text}", "--", text],
        lambda text: ["review", f"--model={text}", f"--since={text}"],
        lambda text: ["check", "--", text],
        lambda text: ["export", "--", text[:3] + "/none/such"],
        lambda text: ["import", "--", text],
        lambda text: ["serve", "--port=0", f"--host={text}:"],
        lambda text: [text],
    ]
    turn = cycle(ways)
    for text in hostile.ALL:
        one = text.replace("\x00", "")[:5000]
        sound(CliRunner().invoke(main, next(turn)(one)), text[:60])


def test_every_text_is_taken_or_refused_from_a_file_to_import(shop: Path) -> None:
    keys = (
        "model",
        "unit",
        "words",
        "part",
        "donor",
        "note",
        "by",
        "job",
        "shop",
        "retracted",
        "cause",
        "closed_at",
    )
    base = {
        "model": "Tern 13",
        "cause": "no-battery/plug",
        "closed_at": "2026-11-24T10:15:00Z",
    }
    turn = cycle(keys)
    lines = [
        json.dumps({**base, next(turn): text, "note": f"{number}"})
        for number, text in enumerate(hostile.ALL)
    ]
    raw = [
        hostile.sent(text).replace(b"\n", b" ").replace(b"\r", b" ")
        for text in hostile.ALL
    ]
    (shop / "jobs.jsonl").write_bytes(
        b"\n".join([*(line.encode() for line in lines), *raw])
    )

    result = CliRunner().invoke(main, ["import", "jobs.jsonl"])

    sound(result, "import")
    assert "jobs added:" in result.stdout
    sound(CliRunner().invoke(main, ["export", "again.jsonl"]), "export")
    assert len((shop / "again.jsonl").read_text("utf-8").splitlines()) > 300
    sound(CliRunner().invoke(main, ["verify"]), "verify")
    sound(CliRunner().invoke(main, ["review"]), "review")


@pytest.mark.parametrize(
    "raw",
    [b"\xff\xfe", b"\xed\xa0\x80", b"\x1b[31m", "\u202eno light".encode(), b"-\xff"],
)
def test_bytes_that_are_no_text_end_in_no_traceback(shop: Path, raw: bytes) -> None:
    corpus = f"Path({str(CORPUS)!r})"
    stock = f"from kb.library import shelf; from pathlib import Path; shelf.stock_folder = lambda: {corpus}"
    program = f"{stock}; from webui.commands import main; main(prog_name='benchlore')".encode()
    for arguments in ([b"search", raw], [b"confirm", raw, b"--model", raw]):
        command = [os.fsencode(sys.executable), b"-c", program, *arguments]
        told = subprocess.run(command, cwd=HERE, capture_output=True, check=False)
        assert b"Traceback" not in told.stderr, told.stderr[-500:]
        assert told.returncode in (1, 2), told.stderr[-500:]


def test_no_cell_of_a_table_runs_as_a_formula() -> None:
    import csv
    import io

    cells = [text for text in hostile.ALL if "\x00" not in text]
    read = [
        row[0]
        for row in csv.reader(
            io.StringIO(to_csv([text, "x"] for text in cells), newline="")
        )
        if row
    ]

    assert len(read) == len(cells)
    assert not [
        cell
        for cell in read
        if cell.lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))
    ]
    told = [text.encode("utf-8", "replace").decode() for text in cells]
    assert [cell.removeprefix("'") for cell in read] == [
        text.removeprefix("'") for text in told
    ]


def test_no_stored_text_steers_the_terminal(shop: Path) -> None:
    entries = shop / "shop" / "entries"
    entries.mkdir(parents=True)
    text = (
        (CORPUS / "no-battery.md")
        .read_text("utf-8")
        .replace("title: ", "title: \x1b]0;mine\x07\u202eTurned \x9b2J", 1)
    )
    (entries / "no-battery.md").write_text(text, encoding="utf-8")
    command = CliRunner()

    shown = [
        command.invoke(main, arguments).output
        for arguments in (
            ["search", "batt missing \x1b[2J"],
            ["check"],
            ["review"],
            ["guide", "batt missing"],
        )
    ]

    assert "Turned" in shown[0]
    for output in shown:
        assert not set(output) & {"\x1b", "\x07", "\x9b", "\u202e"}, repr(output)
