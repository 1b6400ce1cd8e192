"""README and DEVELOPERS stay true: commands, map, links, the two commands."""

from __future__ import annotations

import re
import tomllib

import pytest
from helpers.chapters import CHAPTERS, rewritten
from helpers.places import ROOT

from webui.commands import main


@pytest.mark.parametrize("name", sorted(CHAPTERS))
def test_the_made_chapters_are_as_the_program_is(name: str) -> None:
    assert (ROOT / name).read_text() == rewritten(name), (
        f"run: python tests/helpers/chapters.py (or poe docs) for {name}"
    )


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_command_has_help_and_an_example(name: str) -> None:
    text = main.loaded()[name].help or ""

    assert len(text.splitlines()[0]) > 20
    assert re.search(rf"Example: benchlore {name}\b", text)


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_place_named_in_the_guides_exists(name: str) -> None:
    text = re.sub("New file `[^`]*`", "", (ROOT / name).read_text())
    named = re.findall(r"`((?:kb|webui|tests|entries|\.ci)/[\w./-]*)`", text)
    named += re.findall(r"\]\(([^)#:]+)\)", text)

    assert named
    for place in named:
        built = place == "kb/_entries"
        assert built or (ROOT / place).exists(), place


def test_the_gate_runs_readmes_test_command() -> None:
    commands = [
        line
        for line in (ROOT / "README.md").read_text().splitlines()
        if line.startswith("python3 -m venv")
    ]

    assert len(commands) == 2
    assert commands[0].endswith("benchlore demo")
    assert commands[1].endswith("-m pytest")
    assert 'grep -m 1 -- "-m pytest$" README.md' in (ROOT / ".ci" / "run").read_text()


def test_readme_begins_with_the_job_in_one_paragraph() -> None:
    title, blank, job, after = (ROOT / "README.md").read_text().split("\n")[:4]

    assert title == "# Benchlore"
    assert blank == after == ""
    assert len(job.split()) > 60


def test_the_top_level_holds_what_it_may() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "kb",
        "entries",
        "webui",
        "tests",
    }
    found = {
        path.name
        for path in ROOT.iterdir()
        if not path.name.startswith(".") and not path.name.endswith(".egg-info")
    }

    assert found == allowed


def test_the_licence_is_named_and_its_text_is_there() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]

    assert project["license"] == "MIT"
    assert (ROOT / project["license-files"][0]).read_text().startswith("MIT License")
