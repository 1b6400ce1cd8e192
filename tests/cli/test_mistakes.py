"""Fifty mistakes of the first hour, each with the answer that helps: in one sentence, with what to do."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.model import Confirmation

Run = Callable[..., Result]

PACK = "battery-not-detected/pack"

#: What is typed, the exit status, and what the answer holds. The shop knows one job, on a Tern 13.
MISTAKES: tuple[tuple[tuple[str, ...], int, str], ...] = (
    # commands and options
    (("serach", "x"), 2, "did you mean `search`?"),
    (("Search", "x"), 2, "did you mean `search`?"),
    (("restor", "x.zip"), 2, "did you mean `restore`?"),
    (("confrim", PACK), 2, "did you mean `confirm`?"),
    (("search", "x", "--modle", "Tern 13"), 2, "did you mean `--model`?"),
    (("search", "x", "--model"), 2, "--model needs a value after it, in quotes"),
    (("search", "x", "--limit", "0"), 2, "--limit: give a whole number from 1 to 50"),
    (
        ("search", "x", "--limit", "many"),
        2,
        "--limit: give a whole number from 1 to 50",
    ),
    (("export", "--limit", "3"), 2, "there is no option --limit"),
    (("help", "serach"), 2, "did you mean `search`?"),
    # words
    (("search",), 2, "say what is wrong, for example: benchlore search"),
    (("search", "   "), 2, "say what is wrong, for example: benchlore search"),
    (("search", "???!!!"), 1, "Nothing here fits these words well"),
    (
        ("search", "my tomato plants are yellow"),
        1,
        "Nothing here fits these words well",
    ),
    (("search", "no", "sound", "--model", "Tern", "13"), 0, "put it in quotes"),
    (
        ("search", "no sound", "--model", "Tren 13"),
        0,
        "no job on Tren 13 yet; nearest: Tern 13",
    ),
    (("guide", "no", "sound", "--model", "Tern", "13"), 2, "no job was opened"),
    (("guide",), 2, "say what is wrong, for example: benchlore guide"),
    (("guide", "--job", "zzzz"), 1, "no job has an id beginning with zzzz"),
    (
        ("review", "--model", "Tren 13"),
        1,
        "choose a model that was here, such as Tern 13",
    ),
    (("review", "--since", "24.11.2024"), 2, "write the day as YYYY-MM-DD"),
    (("review", "--since", "2026-02-30"), 2, "write the day as YYYY-MM-DD"),
    (("review", "--since", "2026-12-01", "--until", "2026-11-01"), 2, "swap them"),
    (("jobs", "--since", "monday"), 2, "write the day as YYYY-MM-DD"),
    (("show", "batery-not-detected"), 2, "did you mean `battery-not-detected`?"),
    # saving
    (("confirm",), 2, "ENTRY/CAUSE is missing; for example: benchlore confirm"),
    (("confirm", PACK), 2, "--model is missing; for example: benchlore confirm"),
    (
        ("confirm", "battery-not-detected", "--model", "x"),
        2,
        "use one of battery-not-detected/",
    ),
    (
        ("confirm", "batery-not-detected/pack", "--model", "x"),
        2,
        "did you mean `battery-not-detected`?",
    ),
    (
        ("confirm", "battery-not-detected/pak", "--model", "x"),
        2,
        "does not list the cause `pak`; use one of",
    ),
    (
        ("confirm", "it was the cable", "--model", "x"),
        2,
        "there is no entry `it was the cable`",
    ),
    (
        ("confirm", PACK, "--model", "Tern", "13"),
        2,
        "got unexpected extra argument (13); for example",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--minutes", "12min"),
        2,
        "--minutes: give a number from 0 to 10000",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--minutes", "-5"),
        2,
        "--minutes: give a number from 0 to 10000",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--on", "yesterday"),
        2,
        "write the day as YYYY-MM-DD",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--on", "2054-01-01"),
        1,
        "is still to come",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--part", "banana"),
        0,
        "no sheet knows a part `banana`",
    ),
    (
        ("confirm", PACK, "--model", "Tern 13", "--words", "x" * 501),
        1,
        "shorten it to 500",
    ),
    (("retract", "zzzz", "--why", "x"), 1, "no job has an id beginning with zzzz"),
    (("retract", "zzzz"), 2, "--why is missing; for example"),
    (("retract", "2", "--why", "x"), 2, "give at least 4 characters of the job's id"),
    (("undo",), 2, "say --yes"),
    (
        (
            "confirm",
            "Battery-Not-Detected/Pack",
            "--model",
            "Tern 13",
            "--minutes",
            "12,5",
        ),
        0,
        "saved as job",
    ),
    (("show", "battery-not-detected/pack"), 0, "## Cheapest test first"),
    # settings and tools
    (("tools", "--lack", "multimeter, scale"), 0, "scale (lacking)"),
    (
        ("settings", "--zone", "Europe/Olso"),
        1,
        "no time zone; write one such as Europe/Oslo",
    ),
    (("settings", "--half-life", "2"), 1, "may be days or years"),
    (("settings", "--half-life", "-2y"), 1, "write it as 2y, 18m, 6w, 90d or off"),
    (("tools", "--lack", "multimetre"), 2, "did you mean `multimeter`?"),
    # the floor, where no machine came yet
    (("lot", "P9"), 2, "no machine came in a lot P9; none came yet"),
    (("pile", "--lot", "P9"), 2, "no machine came in a lot P9"),
    (("labels", "--lot", "P9", "--out", "x.html"), 2, "no machine came in a lot P9"),
    (("pile", "--money", "lots"), 2, "--money: give a whole number of 0 or more"),
    (
        ("parts", "panl", "--model", "Tern 13"),
        2,
        "there is no part `panl`; did you mean `panel`?",
    ),
    # files
    (("import", "none.csv"), 2, "give the path of a file"),
    (
        ("import", "picture.png"),
        1,
        "cannot be read cleanly as text; nothing was taken in",
    ),
    (("import", "strange.csv"), 1, "no column gives the model or the day"),
    (
        ("export", "strange.csv"),
        1,
        "exists already; give another name, or add --replace",
    ),
    (("backup", "strange.csv"), 1, "exists already; give the backup another name"),
    (("backup", "no-such-stick/friday.zip"), 1, "no-such-stick"),
    (("restore", "picture.png"), 1, "picture.png"),
    (("check", "none.md"), 2, "does not exist; give the path of a file"),
    (("verify", "--shop", "strange.csv"), 2, "strange.csv is a file; give a folder"),
    (
        ("verify", "--shop", "shpo"),
        0,
        "new shop made at shpo; if another one is meant, check --shop",
    ),
    (("serve", "--port", "99999"), 2, "--port: give a whole number from 0 to 65535"),
)


@pytest.fixture(scope="module")
def used_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one job."""
    folder = tmp_path_factory.mktemp("used") / "shop"
    bench = Bench(folder)
    bench.jobs.confirm(Confirmation(PACK, model="Tern 13"))
    bench.close()
    return folder


@pytest.fixture
def typed(run: Run, tmp_path: Path, used_shop: Path) -> Run:
    """The command line in a copy of that shop, beside a picture and a file that is no list of jobs."""
    shutil.copytree(used_shop, tmp_path / "shop")
    (tmp_path / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    (tmp_path / "strange.csv").write_text("colour;size\nred;3\n", encoding="utf-8")
    return run


def test_there_are_fifty_at_least() -> None:
    assert len({arguments for arguments, _, _ in MISTAKES}) >= 50


@pytest.mark.parametrize(
    ("arguments", "status", "told"), MISTAKES, ids=lambda one: None
)
def test_a_mistake_is_answered_with_what_helps(
    typed: Run, arguments: tuple[str, ...], status: int, told: str
) -> None:
    result = typed(*arguments, status=status)
    answer = " ".join(f"{result.stdout}\n{result.stderr}".split())

    assert told in answer
    assert "Traceback" not in answer
    assert status == 0 or result.stdout == "" or "Nothing here fits" in result.stdout
