"""What version 1 promises to keep, held against files that 1.0 made: a shop in a backup, closed jobs, keys of JSON.

The files under `data/promised` are never made anew: a change that they do not survive is one for version 2.
"""

from __future__ import annotations

import dataclasses
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from helpers.keys import CHAPTER
from helpers.places import DATA

from kb.bench.front import Bench
from kb.history.verification import verify
from kb.library import markdown
from kb.library.writing import write
from webui.commands import main

Run = Callable[..., Result]

PROMISED = DATA / "promised"
EXPECTED = json.loads((PROMISED / "expected.json").read_text("utf-8"))


@pytest.fixture
def kept(run: Run, tmp_path: Path) -> Iterator[Bench]:
    """The shop that 1.0 put into a backup, as this version restores it."""
    run("restore", str(PROMISED / "shop.zip"), "--shop", "kept")
    bench = Bench(tmp_path / "kept")
    yield bench
    bench.close()


def plain(value: Any) -> Any:
    """A record as JSON tells of it."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: plain(getattr(value, field.name))
            for field in dataclasses.fields(value)
        }
    return [plain(one) for one in value] if isinstance(value, list | tuple) else value


def holds(promised: Any, now: Any) -> bool:
    """Whether all that was promised is there; there may be more."""
    if isinstance(promised, dict):
        return isinstance(now, dict) and all(
            name in now and holds(told, now[name]) for name, told in promised.items()
        )
    if isinstance(promised, list):
        return (
            isinstance(now, list)
            and len(promised) == len(now)
            and all(map(holds, promised, now))
        )
    return bool(promised == now)


def test_every_record_of_every_kind_is_read_and_its_chain_holds(kept: Bench) -> None:
    history = kept.history()

    assert verify(kept.folder / "history.db").ok
    assert history.tip().count == EXPECTED["records"]
    assert history.tip().chain == EXPECTED["chain"]
    assert (
        sorted({record.kind for record in history.records_since()}) == EXPECTED["kinds"]
    )
    assert holds(EXPECTED["jobs"], [plain(job) for job in history.closed_jobs()])


def test_machines_stand_where_they_stood(kept: Bench) -> None:
    units = {
        one.line.tag: [one.line.model, one.state.value, one.step.value]
        for one in kept.machines.units()
    }

    assert units == EXPECTED["machines"]


def test_settings_and_own_words_mean_what_they_meant(kept: Bench) -> None:
    settings = kept.shop.settings

    assert settings.problem == ""
    assert {**EXPECTED["settings"], "lacks": set(EXPECTED["settings"]["lacks"])} == {
        name: getattr(settings, name) for name in EXPECTED["settings"]
    }
    assert (
        kept.asking.rank("the juicer hums while it charges").entries[0][0]
        == "hums-when-charging"
    )


def test_a_sheet_with_every_mark_says_what_it_said(kept: Bench) -> None:
    sheet = kept.entries.on_file("hums-when-charging")
    assert sheet is not None
    read = markdown.parse(sheet.text, sheet.slug)

    assert read.remarks == ()
    assert holds(EXPECTED["entry"], plain(read.entry))
    assert read.entry is not None
    assert markdown.parse(write(read.entry), sheet.slug).entry == read.entry


def test_the_folder_of_a_shop_is_laid_out_as_it_was(kept: Bench) -> None:
    with zipfile.ZipFile(PROMISED / "shop.zip") as packed:
        promised = {Path(name).parts[0] for name in packed.namelist()} - {
            "manifest.json"
        }

    assert promised == {"history.db", "shop.toml", "words.toml", "entries"}
    assert promised <= {path.name for path in kept.folder.iterdir()}


def test_jobs_that_1_0_exported_are_taken_in(run: Run) -> None:
    told = json.loads(run("import", str(PROMISED / "jobs.jsonl"), "--json").stdout)

    assert (told["added"], told["floor_records"], told["refused"]) == (1, 1, 0)


def test_no_key_of_json_has_gone() -> None:
    now = set(keys(CHAPTER.read_text("utf-8")))
    gone = [
        f"{command}: {path}"
        for command, path in keys((PROMISED / "keys.md").read_text("utf-8"))
        if not any(
            name == command and (one == path or one.startswith(f"{path}."))
            for name, one in now
        )
    ]

    assert gone == []


def test_no_command_or_option_has_gone() -> None:
    promised = json.loads((PROMISED / "commands.json").read_text("utf-8"))
    now = {
        name: {
            option
            for one in command.params
            for option in (*one.opts, *one.secondary_opts)
        }
        for name, command in main.loaded().items()
    }

    assert promised.keys() <= now.keys()
    assert {
        name: set(options) - now[name]
        for name, options in promised.items()
        if set(options) - now[name]
    } == {}


def keys(chapter: str) -> Iterator[tuple[str, str]]:
    """Each command with each of its keys, whatever stands in lists."""
    command = ""
    for line in chapter.splitlines():
        if line.startswith("## "):
            command = line[3:]
        elif match := re.match(r"- `([^`]+)`", line):
            yield command, match[1].replace("[]", "")
