"""Help and completion load no command that was not asked for, and are quick."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

from kb.cli.group import Later
from kb.cli.main import COMMANDS
from webui.commands import COMMANDS as OF_THE_PAGES

PROGRAM = Path(sys.executable).with_name("benchlore")
#: What no help and no completion of a command needs.
HEAVY = ("flask", "rapidfuzz", "sqlite_utils", "sqlite3", "markdown_it", "kb.bench", "kb.history", "kb.language")
COMPLETION = {"_BENCHLORE_COMPLETE": "bash_complete", "COMP_WORDS": "benchlore ver", "COMP_CWORD": "1"}
OPTION = {"_BENCHLORE_COMPLETE": "bash_complete", "COMP_WORDS": "benchlore search --mo", "COMP_CWORD": "2"}
TAG = {"_BENCHLORE_COMPLETE": "bash_complete", "COMP_WORDS": "benchlore unit P7", "COMP_CWORD": "2"}
CAUSE = {"_BENCHLORE_COMPLETE": "bash_complete", "COMP_WORDS": "benchlore confirm no-so", "COMP_CWORD": "2"}
#: Processor seconds: twice what they take here, since other computers are slower (tests/benchmarks/FIGURES.md).
MOST_SECONDS = 0.12


@pytest.mark.parametrize("line", [*Path(COMMANDS).read_text(encoding="utf-8").splitlines(), *OF_THE_PAGES.splitlines()])
def test_the_list_says_of_a_command_what_its_own_help_says(line: str) -> None:
    name, place, sentence = line.split(" | ", 2)
    command = Later(name, place, sentence).load()

    assert command.name == name
    assert command.get_short_help_str(1000) == sentence


@pytest.mark.parametrize(
    ("arguments", "around", "needed"),
    [
        (["--help"], {}, ""),
        (["-V"], {}, ""),
        (["search", "--help"], {}, ""),
        ([], COMPLETION, ""),
        ([], OPTION, ""),
        ([], TAG, "sqlite3"),
        ([], CAUSE, "sqlite3"),
    ],
    ids=["help", "version", "help of search", "completion", "completion of an option", "of a tag", "of a cause"],
)
def test_help_loads_neither_the_bench_nor_what_it_stands_on(
    arguments: list[str], around: Mapping[str, str], needed: str
) -> None:
    program = (
        "import atexit, sys\n"
        "atexit.register(lambda: print('\\nloaded', *sys.modules))\n"
        "from webui.commands import main; main(prog_name='benchlore')"
    )
    command = [sys.executable, "-c", program, *arguments]
    told = subprocess.run(command, env={**os.environ, **around}, capture_output=True, text=True, check=True).stdout

    loaded = told.rpartition("\nloaded ")[2].split()
    assert "kb.cli.group" in loaded
    assert [name for name in HEAVY if name in loaded] == [needed] * bool(needed)


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where modules are kept as an installation keeps them, compiled."""
    return tmp_path_factory.mktemp("compiled")


@pytest.mark.parametrize(
    ("arguments", "around"),
    [(["--help"], {}), (["-V"], {}), ([], OPTION), ([], TAG), ([], CAUSE)],
    ids=["help", "version", "completion", "completion of a tag", "completion of a cause"],
)
def test_help_and_completion_take_little_time(arguments: list[str], around: Mapping[str, str], compiled: Path) -> None:
    environment = {**os.environ, **around, "PYTHONPYCACHEPREFIX": str(compiled)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def seconds() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([PROGRAM, *arguments], env=environment, stdout=subprocess.DEVNULL, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    assert min(seconds() for _ in range(6)) < MOST_SECONDS
