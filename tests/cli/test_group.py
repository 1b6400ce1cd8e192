"""The group of all commands: help and completion are quick, and output that is lost is told whatever the command."""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from helpers import unwritten
from helpers.places import ROOT
from helpers.unwritten import (
    CAUSE,
    DONE,
    GIVEN,
    LOST,
    MODEL,
    USES,
    WAYS,
    Way,
    a_closed_pipe,
    a_full_disk,
    all_that_is_written,
    arguments,
    each_way,
    jobs,
)

from kb.cli.group import Later
from kb.cli.main import COMMANDS
from webui.commands import COMMANDS as OF_THE_PAGES
from webui.commands import main

PROGRAM = Path(sys.executable).with_name("benchlore")
#: What no help and no completion of a command needs.
HEAVY = (
    "flask",
    "rapidfuzz",
    "sqlite_utils",
    "sqlite3",
    "markdown_it",
    "kb.bench",
    "kb.history",
    "kb.language",
)
COMPLETION = {
    "_BENCHLORE_COMPLETE": "bash_complete",
    "COMP_WORDS": "benchlore ver",
    "COMP_CWORD": "1",
}
OPTION = {
    "_BENCHLORE_COMPLETE": "bash_complete",
    "COMP_WORDS": "benchlore search --mo",
    "COMP_CWORD": "2",
}
A_TAG = {
    "_BENCHLORE_COMPLETE": "bash_complete",
    "COMP_WORDS": "benchlore unit P7",
    "COMP_CWORD": "2",
}
A_CAUSE = {
    "_BENCHLORE_COMPLETE": "bash_complete",
    "COMP_WORDS": "benchlore confirm no-so",
    "COMP_CWORD": "2",
}
#: Processor seconds: twice what they take here, since other computers are slower (tests/benchmarks/FIGURES.md).
MOST_SECONDS = 0.12


@pytest.mark.parametrize(
    "line",
    [
        *Path(COMMANDS).read_text(encoding="utf-8").splitlines(),
        *OF_THE_PAGES.splitlines(),
    ],
)
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
        ([], A_TAG, "sqlite3"),
        ([], A_CAUSE, "sqlite3"),
    ],
    ids=[
        "help",
        "version",
        "help of search",
        "completion",
        "completion of an option",
        "of a tag",
        "of a cause",
    ],
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
    told = subprocess.run(
        command,
        env={**os.environ, **around},
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    loaded = told.rpartition("\nloaded ")[2].split()
    assert "kb.cli.group" in loaded
    assert [name for name in HEAVY if name in loaded] == [needed] * bool(needed)


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where modules are kept as an installation keeps them, compiled."""
    return tmp_path_factory.mktemp("compiled")


@pytest.mark.parametrize(
    ("arguments", "around"),
    [(["--help"], {}), (["-V"], {}), ([], OPTION), ([], A_TAG), ([], A_CAUSE)],
    ids=[
        "help",
        "version",
        "completion",
        "completion of a tag",
        "completion of a cause",
    ],
)
def test_help_and_completion_take_little_time(
    arguments: list[str], around: Mapping[str, str], compiled: Path
) -> None:
    environment = {**os.environ, **around, "PYTHONPYCACHEPREFIX": str(compiled)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def seconds() -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(
            [PROGRAM, *arguments],
            env=environment,
            stdout=subprocess.DEVNULL,
            check=True,
        )
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    assert min(seconds() for _ in range(6)) < MOST_SECONDS


#: Every command that writes a file.
WRITES_FILES = (
    *(
        "export",
        "backup",
        "restore",
        "confirm",
        "retract",
        "import",
        "guide",
        "passphrase",
        "demo",
        "settings",
    ),
    "tools",
    "learn",
    "office",
)
each_use = pytest.mark.parametrize("use", [use for use in USES if use != "serve"])


def test_no_command_of_the_program_is_left_out() -> None:
    named = {use.split()[0] for use in USES}
    with_json = {use.split()[0] for use in USES if use.endswith("--json")}

    assert named == set(main.commands)
    assert with_json == {
        name
        for name, one in main.loaded().items()
        if "as_json" in {p.name for p in one.params}
    }


@each_way
@each_use
def test_output_that_cannot_be_written_ends_in_a_sentence(
    place: Path, use: str, way: Way
) -> None:
    """Only a reader who went away is told nothing, unless something was done."""
    words, (job,) = arguments(place, use), jobs(place)

    with way() as out:
        told = unwritten.run(place, words, out, given=GIVEN.get(use, ""))

    assert told.status == LOST, told.errors
    assert "Traceback" not in told.errors
    assert "Exception ignored" not in told.errors
    if use in DONE:
        last = told.errors.splitlines()[-1]
        assert DONE[use].format(job=job) in last
        assert last.endswith(
            f": that stands; only its output could not be written ({WAYS[way]})"
        )
    elif way is a_closed_pipe:
        assert told.errors == ""
    else:
        assert told.errors == f"the output could not be written ({WAYS[way]})\n"


@each_way
@pytest.mark.parametrize(
    "words", [["--help"], ["--version"], ["search", "--help"]], ids=" ".join
)
def test_help_that_cannot_be_written_ends_in_a_sentence_too(
    place: Path, words: list[str], way: Way
) -> None:
    with way() as out:
        told = unwritten.run(place, words, out)

    assert told.status == LOST
    assert told.errors == (
        ""
        if way is a_closed_pipe
        else f"the output could not be written ({WAYS[way]})\n"
    )


def test_where_standard_error_is_lost_too_the_status_still_tells(place: Path) -> None:
    with a_full_disk() as full:
        assert (
            unwritten.run(place, ["confirm", CAUSE, *MODEL], full, errors=full).status
            == LOST
        )
        assert unwritten.run(place, ["confirm", CAUSE], full, errors=full).status == 2
        assert (
            unwritten.run(
                place, ["import", "given.jsonl", "--nonsense"], full, errors=full
            ).status
            == 2
        )
    assert len(jobs(place)) == 2


@pytest.mark.parametrize("use", ["guide", "search --stdin", "import -", "passphrase"])
def test_a_closed_standard_input_gives_nothing_and_ends_in_no_traceback(
    stocked_folder: Path, use: str
) -> None:
    words = [*use.split(), *USES.get(use, ())]
    program = "from webui.commands import main; main(prog_name='benchlore')"
    command = [sys.executable, "-c", program, *words, "--shop", "shop"]

    told = subprocess.run(
        command,
        cwd=stocked_folder.parent,
        preexec_fn=lambda: os.close(0),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )

    assert told.returncode in (0, 1)
    assert "Traceback" not in told.stderr


@each_way
def test_a_process_of_its_own_ends_like_the_forks_of_this_one(
    stocked_folder: Path, way: Way
) -> None:
    command = [
        sys.executable,
        "-m",
        "webui",
        "tools",
        "--lack",
        "multimeter",
        "--shop",
        "shop",
    ]
    here = {**os.environ, "PYTHONPATH": str(ROOT)}

    with way() as out:
        close = None if out is not None else lambda: os.close(1)
        told = subprocess.run(
            command,
            cwd=stocked_folder.parent,
            env=here,
            stdout=out,
            stderr=subprocess.PIPE,
            preexec_fn=close,
            text=True,
            check=False,
        )

    assert told.returncode == LOST, told.stderr
    assert told.stderr.splitlines() == [
        f"what is lacking is noted in shop/shop.toml: that stands; only its output could not be written ({WAYS[way]})"
    ]


@pytest.mark.parametrize("use", WRITES_FILES)
def test_a_full_disk_is_told_in_a_sentence_and_leaves_what_was_there(
    place: Path, use: str
) -> None:
    """Where no file may have more than a few bytes."""
    words = ["export", "new.jsonl"] if use == "export" else arguments(place, use)
    if use == "demo":
        shutil.rmtree(place / "shop")
    before = _files(place)

    with all_that_is_written() as out:
        told = unwritten.run(place, words, out, given=GIVEN.get(use, ""), largest=10)

    assert told.status == 1, told
    assert "Traceback" not in told.errors
    assert "Error: " in told.errors
    assert _files(place) == before


def _files(place: Path) -> dict[str, bytes]:
    """Everything that is of worth in a folder: not what is empty or can be made anew."""
    return {
        str(path.relative_to(place)): path.read_bytes()
        for path in sorted(place.rglob("*"))
        if path.is_file()
        and path.stat().st_size
        and not path.name.startswith("index.db")
    }
