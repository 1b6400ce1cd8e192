"""The manual page is as the program is, names everything, and is sound."""

from __future__ import annotations

import shutil
import subprocess

import pytest
from helpers.manpage import OF_ALL, PAGE, escaped, written

from webui.commands import main


def test_the_manual_page_is_as_the_program_is() -> None:
    assert PAGE.read_text(encoding="utf-8") == written(), (
        "run: python tests/helpers/manpage.py (or poe docs)"
    )


def test_the_manual_page_names_every_command_and_every_option() -> None:
    page = PAGE.read_text(encoding="utf-8")

    for name, command in main.loaded().items():
        part = page.partition(f".SS {escaped(f'benchlore {name}')}")[2].partition(
            "\n.S"
        )[0]
        options = [
            one.opts[-1] for one in command.params if one.param_type_name == "option"
        ]
        missing = [
            one for one in options if one not in OF_ALL and escaped(one) not in part
        ]
        assert part, name
        assert not missing, (name, missing)


@pytest.mark.parametrize(
    "checker",
    [["mandoc", "-T", "lint"], ["groff", "-ww", "-man", "-z"]],
    ids=lambda checker: checker[0],
)
def test_who_formats_the_manual_page_finds_no_fault_in_it(checker: list[str]) -> None:
    if not shutil.which(checker[0]):
        pytest.skip(f"{checker[0]} is not installed")

    told = subprocess.run([*checker, PAGE], capture_output=True, text=True, check=False)

    assert (told.returncode, told.stdout, told.stderr) == (0, "", "")
