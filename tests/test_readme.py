"""README tells no owner what does not work: every command that it prints is run as printed, in a new shop."""

from __future__ import annotations

import configparser
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from helpers.places import ROOT

#: Commands of the system, which are not ours to try: they need a service manager, or show this machine's address.
OF_THE_SYSTEM = ("systemctl", "loginctl", "hostname", "python3")
#: What is typed where a command asks: twice a passphrase.
PHRASES = {
    "benchlore passphrase": "nine blue hinges\n" * 2,
    "benchlore passphrase --reading": "seven old keys\n" * 2,
}
#: Commands that run until they are ended, with what they say once they serve.
SERVES = "serve"


@dataclass(frozen=True)
class Block:
    """One block of README that is set off: its language, the file it is the content of, and its text."""

    language: str
    file: str
    text: str


def blocks() -> Iterator[Block]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for found in re.finditer(
        r"^```(\w+) ?(\S*)\n(.*?)^```", text, re.MULTILINE | re.DOTALL
    ):
        yield Block(*found.groups())


def printed_in_sentences() -> list[str]:
    """Whole commands in the running text, without those that stand for any file of the reader's own."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    text = re.sub(r"^```.*?^```", "", text, flags=re.MULTILINE | re.DOTALL)
    found = re.findall(r"`(benchlore [^`]+)`", text)
    return [
        command
        for command in found
        if command.split()[1] not in (SERVES, "passphrase", "demo")
    ]


class Terminal:
    """A shell in a new home with the program on its path, in a folder that holds what README shows as files."""

    def __init__(self, place: Path) -> None:
        self.folder = place / "desk"
        self.folder.mkdir()
        (self.folder / ".venv" / "bin").mkdir(parents=True)
        (self.folder / ".venv" / "bin" / "activate").touch()
        path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
        kept = {
            key: value
            for key, value in os.environ.items()
            if not key.startswith(("XDG_", "BENCHLORE_"))
        }
        self.environment = {**kept, "HOME": str(place), "PATH": path}

    def run(self, command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["sh", "-c", command],
            cwd=self.folder,
            env=self.environment,
            input=PHRASES.get(command, ""),
            capture_output=True,
            text=True,
            timeout=120,
        )

    def serves(self, command: str) -> bool:
        """Whether a command that goes on says where its pages are; it is ended then."""
        started = subprocess.Popen(
            ["sh", "-c", f"exec {command} --port 0"],
            cwd=self.folder,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        try:
            assert started.stdout is not None
            return any("http" in line for line in started.stdout)
        finally:
            started.send_signal(signal.SIGTERM)
            started.wait(30)


@pytest.mark.timeout(300)
def test_every_command_that_readme_prints_works_as_printed_in_a_new_shop(
    tmp_path: Path,
) -> None:
    terminal = Terminal(tmp_path)
    failed = []
    for block in blocks():
        if block.file:
            (terminal.folder / block.file).write_text(block.text, encoding="utf-8")
        for command in block.text.splitlines() if block.language == "sh" else ():
            if command.startswith(OF_THE_SYSTEM):
                continue
            if command.split()[1] == SERVES:
                assert terminal.serves(command), command
                continue
            result = terminal.run(command)
            if (
                result.returncode
                or "Traceback" in result.stderr
                or "GetPassWarning" in result.stderr
            ):
                failed.append((command, result.returncode, result.stderr[-300:]))
    for command in printed_in_sentences():
        result = terminal.run(command)
        # 1: nothing found, or something to mend, which is the right answer in a shop that begins.
        if result.returncode > 1 or "Error" in result.stderr:
            failed.append((command, result.returncode, result.stderr[-300:]))

    assert failed == []


def test_the_unit_that_starts_the_pages_at_boot_can_be_read() -> None:
    unit = configparser.ConfigParser(interpolation=None)
    unit.read_string(next(block.text for block in blocks() if block.language == "ini"))

    assert unit["Service"]["ExecStart"] == "%h/benchlore/.venv/bin/benchlore serve"
    assert unit["Install"]["WantedBy"] == "default.target"


def test_readme_is_for_owners_and_short() -> None:
    text = (ROOT / "README.md").read_text()

    assert len(text.split()) < 1_817
    assert "Litestream" not in text
    assert len((ROOT / "DEVELOPERS.md").read_bytes()) < 15_000
