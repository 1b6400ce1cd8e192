"""Output that cannot be written is told in a sentence, whatever the command: what was done stands and is said."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import socket
import stat
import subprocess
import sys
import tempfile
import time
import traceback
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, NoReturn

import pytest
from helpers.places import CORPUS, ROOT

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history import History
from kb.history.copies.backup import backup
from kb.library import shelf
from kb.model import Confirmation
from webui.commands import main

FULL = Path("/dev/full")
CAUSE, MODEL = "no-battery/plug", ("--model", "Tern 13")
#: The status of a command whose output could not be written.
LOST = 3

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="commands are run in forks of this process, which takes fork"),
    pytest.mark.skipif(not FULL.exists(), reason="this system has no device that is always full"),
]

#: Every command of the program as it is usually given, and once more with JSON where it has that.
USES: dict[str, Sequence[str]] = {
    "search": ("battery absent in setup",),
    "search --json": ("battery absent in setup",),
    "search --stdin": (),
    "guide": ("battery absent in setup", *MODEL),
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
    "parts": ("--wanted",),
    "parts --json": ("--wanted",),
    "pile": (),
    "pile --json": (),
    "cost": (),
    "cost --json": (),
    "passphrase": (),
    "serve": ("--port", "0"),
    "demo": ("--no-serve", "--shop", "shop"),
}
GIVEN = {
    "passphrase": "a horse, a lamp, a chair\n" * 2,
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
    "passphrase": "the passphrase is kept",
    "guide": " stays open (benchlore guide --job ",
    "demo": "the demo shop shop is there",
}
each_use = pytest.mark.parametrize("use", [use for use in USES if use != "serve"])


@dataclass(frozen=True)
class Told:
    """How a command ended: its exit status and what it said on standard error."""

    status: int
    errors: str


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a shop of one job and one machine, a backup of it, and a job to import."""
    folder = tmp_path_factory.mktemp("output")
    with closing(Bench(folder / "shop", stock=CORPUS)) as bench:
        bench.jobs.confirm(Confirmation(CAUSE, "Tern 13", words="batt missing"))
        bench.arrivals.arrive(Arrived(lot="P6", model="Tern 13"))
        house = bench.folder / "entries" / "house"
        house.mkdir(parents=True)
        (house / "checkout.md").write_text("- **keys** (2 min; often; part keyboard; sits 2): press every one\n")
        (house / "machine.md").write_text("- **keyboard** (weight 8; depth 2)\n")
        backup(bench.folder, folder / "old.zip", datetime(2026, 11, 24, tzinfo=UTC))
    line = '{"model": "Skua 14", "cause": "no-battery/pack", "closed_at": "2026-11-24T10:15:00Z"}\n'
    (folder / "given.jsonl").write_text(line)
    (folder / "pallet.csv").write_text("model\nTern 13\n")
    return folder


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    """A copy of that folder of the test's own."""
    return Path(shutil.copytree(made, tmp_path / "place"))


def jobs(place: Path) -> list[str]:
    with History.open(place / "shop" / "history.db", create=False) as history:
        return [job.job for job in history.closed_jobs()]


def arguments(place: Path, use: str) -> list[str]:
    return [*use.split(), *(one.format(job=jobs(place)[0]) for one in USES[use])]


def run(
    place: Path, words: Sequence[str], out: int | None, *, given: str = "", largest: int = -1, errors: int | None = None
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
            _be_the_program(place, words, (typed.fileno(), out, errors or said), largest)
        os.close(said)
        told = hearing.read()
        _, ended = os.waitpid(child, 0)
        return Told(os.waitstatus_to_exitcode(ended), told)


def _be_the_program(place: Path, words: Sequence[str], streams: tuple[int, int | None, int], largest: int) -> NoReturn:
    status: object = 1
    try:
        sys.stdin, sys.stdout, sys.stderr = (_stream(number, to) for number, to in enumerate(streams))
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
    a_full_disk: "No space left on device", a_closed_pipe: "Broken pipe", a_closed_stream: "Bad file descriptor",
}  # fmt: skip
each_way = pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)


def test_no_command_of_the_program_is_left_out() -> None:
    named = {use.split()[0] for use in USES}
    with_json = {use.split()[0] for use in USES if use.endswith("--json")}

    assert named == set(main.commands)
    assert with_json == {name for name, one in main.loaded().items() if "as_json" in {p.name for p in one.params}}


@each_way
@each_use
def test_output_that_cannot_be_written_ends_in_a_sentence(place: Path, use: str, way: Way) -> None:
    """Only a reader who went away is told nothing, unless something was done."""
    words, (job,) = arguments(place, use), jobs(place)

    with way() as out:
        told = run(place, words, out, given=GIVEN.get(use, ""))

    assert told.status == LOST, told.errors
    assert "Traceback" not in told.errors
    assert "Exception ignored" not in told.errors
    if use in DONE:
        last = told.errors.splitlines()[-1]
        assert DONE[use].format(job=job) in last
        assert last.endswith(f": that stands; only its output could not be written ({WAYS[way]})")
    elif way is a_closed_pipe:
        assert told.errors == ""
    else:
        assert told.errors == f"the output could not be written ({WAYS[way]})\n"


@each_way
@pytest.mark.parametrize("words", [["--help"], ["--version"], ["search", "--help"]], ids=" ".join)
def test_help_that_cannot_be_written_ends_in_a_sentence_too(place: Path, words: list[str], way: Way) -> None:
    with way() as out:
        told = run(place, words, out)

    assert told.status == LOST
    assert told.errors == ("" if way is a_closed_pipe else f"the output could not be written ({WAYS[way]})\n")


@each_way
def test_what_is_confirmed_is_saved_once_and_nobody_is_told_to_save_it_again(place: Path, way: Way) -> None:
    with way() as out:
        told = run(place, ["confirm", CAUSE, *MODEL], out)

    _, saved = jobs(place)
    assert told == Told(
        LOST, f"saved as job {saved}: that stands; only its output could not be written ({WAYS[way]})\n"
    )


def test_output_that_is_written_is_no_matter(place: Path) -> None:
    with all_that_is_written() as out:
        assert run(place, ["confirm", CAUSE, *MODEL], out) == Told(0, "")


def test_where_standard_error_is_lost_too_the_status_still_tells(place: Path) -> None:
    with a_full_disk() as full:
        assert run(place, ["confirm", CAUSE, *MODEL], full, errors=full).status == LOST
        assert run(place, ["confirm", CAUSE], full, errors=full).status == 2
        assert run(place, ["import", "given.jsonl", "--nonsense"], full, errors=full).status == 2
    assert len(jobs(place)) == 2


@pytest.mark.parametrize("use", ["guide", "search --stdin", "import -", "passphrase"])
def test_a_closed_standard_input_gives_nothing_and_ends_in_no_traceback(place: Path, use: str) -> None:
    words = [*use.split(), *USES.get(use, ())]
    program = "from webui.commands import main; main(prog_name='benchlore')"
    command = [sys.executable, "-c", program, *words, "--shop", "shop"]

    told = subprocess.run(
        command, cwd=place, preexec_fn=lambda: os.close(0), capture_output=True, text=True, check=False, timeout=60
    )

    assert told.returncode in (0, 1)
    assert "Traceback" not in told.stderr


@each_way
def test_a_process_of_its_own_ends_like_the_forks_of_this_one(place: Path, way: Way) -> None:
    command = [sys.executable, "-m", "webui", "tools", "--lack", "multimeter", "--shop", "shop"]
    here = {**os.environ, "PYTHONPATH": str(ROOT)}

    with way() as out:
        close = None if out is not None else lambda: os.close(1)
        told = subprocess.run(
            command, cwd=place, env=here, stdout=out, stderr=subprocess.PIPE, preexec_fn=close, text=True, check=False
        )

    assert told.returncode == LOST, told.stderr
    assert told.stderr.splitlines() == [
        f"what is lacking is noted in shop/shop.toml: that stands; only its output could not be written ({WAYS[way]})"
    ]


def test_the_server_answers_though_nobody_hears_where(place: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = str(free.getsockname()[1])
    command = [sys.executable, "-m", "webui", "serve", "--port", port, "--shop", "shop"]
    here = {**os.environ, "PYTHONPATH": str(ROOT)}

    with FULL.open("w") as full:
        server = subprocess.Popen(command, cwd=place, env=here, stdout=full, stderr=subprocess.PIPE, text=True)
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


# Files that are written where the disk is full


@pytest.mark.parametrize("use", [
    "export", "backup", "restore", "confirm", "retract", "import", "guide", "passphrase", "demo", "settings", "tools",
])  # fmt: skip
def test_a_full_disk_is_told_in_a_sentence_and_leaves_what_was_there(place: Path, use: str) -> None:
    """Every command that writes a file; where none may have more than a few bytes."""
    words = ["export", "new.jsonl"] if use == "export" else arguments(place, use)
    if use == "demo":
        shutil.rmtree(place / "shop")
    before = _files(place)

    with all_that_is_written() as out:
        told = run(place, words, out, given=GIVEN.get(use, ""), largest=10)

    assert told.status == 1, told
    assert "Traceback" not in told.errors
    assert "Error: " in told.errors
    assert _files(place) == before


def _files(place: Path) -> dict[str, bytes]:
    """Everything that is of worth in a folder: not what is empty or can be made anew."""
    return {
        str(path.relative_to(place)): path.read_bytes()
        for path in sorted(place.rglob("*"))
        if path.is_file() and path.stat().st_size and not path.name.startswith("index.db")
    }


def export(place: Path, *words: str, largest: int = -1) -> Told:
    with all_that_is_written() as out:
        return run(place, ["export", *words], out, largest=largest)


def test_an_export_leaves_a_file_that_is_there_alone_unless_told_to_replace_it(place: Path) -> None:
    (place / "fri.jsonl").write_text("last week's\n")

    told = export(place, "fri.jsonl")

    assert told == Told(1, "Error: fri.jsonl exists already; give another name, or add --replace\n")
    assert (place / "fri.jsonl").read_text() == "last week's\n"
    assert export(place, "fri.jsonl", "--replace") == Told(0, "fri.jsonl: 1 job\n")
    assert (place / "fri.jsonl").read_text().startswith(f'{{"job": "{jobs(place)[0]}"')
    left = sorted(path.name for path in place.iterdir())
    assert left == ["fri.jsonl", "given.jsonl", "old.zip", "pallet.csv", "shop"]


def test_an_export_that_does_not_fit_leaves_the_old_one_whole(place: Path) -> None:
    assert export(place, "fri.jsonl") == Told(0, "fri.jsonl: 1 job\n")
    good = (place / "fri.jsonl").read_bytes()

    told = export(place, "fri.jsonl", "--replace", largest=len(good) - 1)

    assert told.status == 1
    assert told.errors.startswith("Error: fri.jsonl: File too large; nothing was written there; make room, ")
    assert (place / "fri.jsonl").read_bytes() == good
    left = sorted(path.name for path in place.iterdir())
    assert left == ["fri.jsonl", "given.jsonl", "old.zip", "pallet.csv", "shop"]


def test_an_export_follows_a_link_and_leaves_it_one(place: Path) -> None:
    (place / "stick").mkdir()
    (place / "stick" / "jobs.jsonl").write_text("older\n")
    (place / "fri.jsonl").symlink_to("stick/jobs.jsonl")

    assert export(place, "fri.jsonl").status == 1
    assert export(place, "fri.jsonl", "--replace") == Told(0, "fri.jsonl: 1 job\n")

    assert (place / "fri.jsonl").is_symlink()
    assert (place / "stick" / "jobs.jsonl").read_text().count("\n") == 1


def test_an_export_into_a_folder_that_is_not_there_says_so(place: Path) -> None:
    told = export(place, "none/such.jsonl")

    assert told == Told(
        1,
        "Error: none/such.jsonl cannot be opened (No such file or directory); give a file in a folder that is there\n",
    )


def test_an_export_to_a_pipe_goes_through_it_and_never_in_its_place(place: Path) -> None:
    os.mkfifo(place / "pipe")
    reading = os.open(place / "pipe", os.O_RDONLY | os.O_NONBLOCK)

    told = export(place, "pipe", "--replace")

    assert told == Told(0, "pipe: 1 job\n")
    assert stat.S_ISFIFO((place / "pipe").stat().st_mode)
    assert os.read(reading, 100_000).startswith(b'{"job": ')
    os.close(reading)


def test_an_export_to_a_full_device_says_so(place: Path) -> None:
    told = export(place, str(FULL))

    assert told.status == 1
    assert "/dev/full: No space left on device; nothing was written there" in told.errors


def test_an_export_is_in_utf_8_whatever_the_locale(place: Path) -> None:
    with History.open(place / "shop" / "history.db") as history:
        history.close_job(Confirmation(CAUSE, "Tern 13", words="lädt nicht"))

    for name in ("-", "fri.jsonl"):
        with (place / "out").open("wb") as out:
            assert run(place, ["export", name], out.fileno()).status == 0
        written = (place / ("out" if name == "-" else name)).read_bytes()
        assert "lädt nicht".encode() in written
