"""Output that stays unwritten: any command in a fork of this process, over a full disk, a closed pipe or no stream."""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, NoReturn

import pytest

from helpers.places import CORPUS
from kb.history import History
from kb.library import shelf
from webui.commands import main

FULL = Path("/dev/full")
CAUSE, MODEL = "no-battery/plug", ("--model", "Tern 13")
#: The status of a command whose output could not be written.
LOST = 3

#: Every command of the program as it is usually given, and once more with JSON where it has that.
USES: dict[str, Sequence[str]] = {
    "search": ("battery absent in setup",),
    "search --json": ("battery absent in setup",),
    "search --stdin": (),
    "guide": ("battery absent in setup", *MODEL),
    "guide --json": ("battery absent in setup", *MODEL),
    "checkout": ("P6-001", "--good", "keys"),
    "checkout --json": ("P6-001",),
    "confirm": (CAUSE, *MODEL),
    "confirm --json": (CAUSE, *MODEL),
    "retract": ("{job}", "--why", "it was another"),
    "retract --json": ("{job}", "--why", "it was another"),
    "review": (),
    "review --json": (),
    "check": (),
    "check --json": (),
    "export": ("-",),
    "import": ("given.jsonl",),
    "import --json": ("given.jsonl",),
    "backup": ("new.zip",),
    "backup --json": ("new.zip",),
    "restore": ("old.zip", "--replace"),
    "restore --json": ("old.zip", "--replace"),
    "verify": (),
    "verify --json": (),
    "settings": ("--half-life", "2y"),
    "settings --json": (),
    "tools": ("--lack", "multimeter"),
    "tools --json": (),
    "intake": ("pallet.csv", "--lot", "P7"),
    "intake --json": ("pallet.csv", "--lot", "P7"),
    "unit": ("P6-001",),
    "unit --json": ("P6-001",),
    "lot": ("P6",),
    "lot --json": ("P6",),
    "labels": ("--lot", "P6", "--out", "labels.html"),
    "labels --json": ("--lot", "P6", "--out", "labels.html"),
    "show": ("no-battery",),
    "show --json": ("no-battery",),
    "office": ("shared", "--question", "shops", "--counts", "all.json"),
    "office --json": ("shared", "--question", "shops"),
    "learn": ("counts.json",),
    "learn --json": ("counts.json",),
    "list": (),
    "list --json": (),
    "jobs": (),
    "jobs --json": (),
    "new": ("hinge creaks", "--no-editor"),
    "new --json": ("hinge creaks", "--no-editor"),
    "new-library": ("lamps",),
    "new-library --json": ("lamps",),
    "undo": ("--yes",),
    "undo --json": ("--yes",),
    "same": ("Tern13", "Tern 13"),
    "same --json": ("Tern13", "Tern 13"),
    "help": ("search",),
    "help --json": ("search",),
    "parts": ("--wanted",),
    "parts --json": ("--wanted",),
    "pile": (),
    "pile --json": (),
    "cost": (),
    "cost --json": (),
    "passphrase": (),
    "passphrase --json": (),
    "serve": ("--port", "0"),
    "demo": ("--no-serve", "--shop", "shop"),
    "demo --json": ("--no-serve", "--shop", "shop"),
}
GIVEN = {
    "passphrase": "a horse, a lamp, a chair\n" * 2,
    "passphrase --json": "a horse, a lamp, a chair\n" * 2,
    "guide": "n\nq\n",
    "search --stdin": "battery absent in setup\n",
}
#: What is said of what a command has done if its output is lost.
DONE = {
    "checkout": "keys of P6-001 is good",
    "confirm": "saved as job ",
    "confirm --json": "saved as job ",
    "retract": "retracted: job {job}",
    "retract --json": "retracted: job {job}",
    "same": "Tern13 is counted as Tern 13",
    "same --json": "Tern13 is counted as Tern 13",
    "undo": "is retracted",
    "undo --json": "is retracted",
    "new": "the sheet is in ",
    "new --json": "the sheet is in ",
    "new-library": "the library is in lamps",
    "new-library --json": "the library is in lamps",
    "office": "all.json: 1 job of 1 shop",
    "learn": "what other shops had is kept in ",
    "learn --json": "what other shops had is kept in ",
    "import": "jobs added: 1",
    "import --json": "jobs added: 1",
    "backup": "new.zip: 2 records",
    "backup --json": "new.zip: 2 records",
    "restore --json": "2 records restored to shop",
    "restore": "2 records restored to shop",
    "labels": "labels written to labels.html: 1",
    "labels --json": "labels written to labels.html: 1",
    "intake": "machines taken in: 1",
    "intake --json": "machines taken in: 1",
    "settings": "half_life_days is set",
    "tools": "what is lacking is noted",
    "passphrase": "kept in shop/door.db",
    "passphrase --json": "kept in shop/door.db",
    "guide": " stays open (benchlore guide --job ",
    "guide --json": " stays open (benchlore guide --job ",
    "demo": "the demo shop shop is there",
    "demo --json": "the demo shop shop is there",
}


@dataclass(frozen=True)
class Told:
    """How a command ended: its exit status and what it said on standard error."""

    status: int
    errors: str


def jobs(place: Path) -> list[str]:
    with History.open(place / "shop" / "history.db", create=False) as history:
        return [job.job for job in history.closed_jobs()]


def arguments(place: Path, use: str) -> list[str]:
    return [*use.split(), *(one.format(job=jobs(place)[0]) for one in USES[use])]


def run(
    place: Path,
    words: Sequence[str],
    out: int | None,
    *,
    given: str = "",
    largest: int = -1,
    errors: int | None = None,
) -> Told:
    """The program in that folder, in a fork of this process, its standard output on the descriptor `out` or closed.

    With `largest` no file becomes larger than so many bytes, as if the disk were full.
    """
    heard, said = os.pipe()
    with tempfile.TemporaryFile() as typed, open(heard, encoding="utf-8") as hearing:
        typed.write(given.encode())
        typed.seek(0)
        child = os.fork()
        if child == 0:
            _be_the_program(
                place, words, (typed.fileno(), out, errors or said), largest
            )
        os.close(said)
        told = hearing.read()
        _, ended = os.waitpid(child, 0)
        return Told(os.waitstatus_to_exitcode(ended), told)


def _be_the_program(
    place: Path,
    words: Sequence[str],
    streams: tuple[int, int | None, int],
    largest: int,
) -> NoReturn:
    status: object = 1
    try:
        sys.stdin, sys.stdout, sys.stderr = (
            _stream(number, to) for number, to in enumerate(streams)
        )
        sys.__stdout__, sys.__stderr__ = sys.stdout, sys.stderr  # type: ignore[misc, assignment]
        os.chdir(place)
        os.environ["BENCHLORE_SHOP"] = "shop"
        shelf.stock_folder = lambda: CORPUS
        resource.setrlimit(resource.RLIMIT_FSIZE, (largest, -1))
        main(words, prog_name="benchlore")
    except SystemExit as end:
        status = end.code or 0
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(_flushed(int(str(status))))


def _stream(number: int, to: int | None) -> IO[str] | None:
    if to is None:
        os.close(number)
        return None
    os.dup2(to, number)
    return open(number, "w" if number else "r", encoding="utf-8", closefd=False)


def _flushed(status: int) -> int:
    """What an interpreter does at its end."""
    try:
        sys.stdout.flush()
    except BaseException as error:
        print(f"Exception ignored: {error!r}", file=sys.stderr)
        status = 120
    with suppress(OSError):
        sys.stderr.flush()
    return status


@contextmanager
def a_full_disk() -> Iterator[int]:
    with FULL.open("w") as full:
        yield full.fileno()


@contextmanager
def a_closed_pipe() -> Iterator[int]:
    """The writing end of a pipe that nobody reads any more."""
    reading, writing = os.pipe()
    os.close(reading)
    yield writing
    os.close(writing)


@contextmanager
def a_closed_stream() -> Iterator[None]:
    yield None


@contextmanager
def all_that_is_written() -> Iterator[int]:
    with open(os.devnull, "w") as out:
        yield out.fileno()


Way = Callable[[], AbstractContextManager[int | None]]
WAYS: dict[Way, str] = {
    a_full_disk: "No space left on device",
    a_closed_pipe: "Broken pipe",
    a_closed_stream: "Bad file descriptor",
}
each_way = pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
