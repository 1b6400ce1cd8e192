"""DEVELOPERS.md is followed: each recipe on a copy of the tree, and the tour by a query that is watched."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from helpers.places import ROOT

GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
#: What each recipe must have brought about, as a program that is run on the copy.
PROOFS = {
    "A page": """
        from webui.app import create_app
        assert create_app(bench).test_client().get("/today", base_url="http://localhost").text == "Nothing yet."
    """,
    "A command": """
        from click.testing import CliRunner
        from webui.commands import main
        assert CliRunner().invoke(main, ["today"]).output == "Nothing yet.\\n"
    """,
    "A kind of record": """
        from kb.history import kinds
        bench.machines.write(kinds.CLEANED, {"tag": "t-01", "by": "Ada"})
        assert bench.machines.unit("T-01").tag == "t-01"
    """,
    "A field of a job": """
        from kb.history.exchange import export_jobs
        from kb.model import Confirmation
        told = Confirmation("starts-no-charge/charger", model="Tern 13", shelf_life="a year")
        job = bench.jobs.confirm(told).job
        assert bench.history().job_state(job).closed.shelf_life == "a year"
        assert '"shelf_life": "a year"' in next(export_jobs(bench.history()))
    """,
    "A setting": """
        (bench.folder / "shop.toml").write_text('greeting = "good morning"')
        assert bench.shop.settings.greeting == "good morning"
    """,
}
BENCH = """
from pathlib import Path
from kb.bench.front import Bench
bench = Bench(Path("shop"), stock=Path("tests/corpus"))
bench.folder.mkdir(exist_ok=True)
"""


def recipe(title: str) -> str:
    """The text of a recipe."""
    return re.split(
        r"^##+ ", GUIDE.split(f"\n### {title}\n")[1], maxsplit=1, flags=re.MULTILINE
    )[0]


def follow(text: str, tree: Path) -> None:
    """Do what a recipe says: new files are written, lines go in after each line that holds the quoted ones."""
    step = r"^(New file|In) `([^`]+)`(?: after each line with `([^`]+)`)?:\n\n```text\n(.*?)```"
    steps = re.findall(step, text, re.MULTILINE | re.DOTALL)
    assert steps
    for how, name, anchor, code in steps:
        if how == "New file":
            (tree / name).write_text(code, encoding="utf-8")
            continue
        lines = (tree / name).read_text(encoding="utf-8").splitlines(keepends=True)
        assert any(anchor in line for line in lines), anchor
        changed = [line + code if anchor in line else line for line in lines]
        (tree / name).write_text("".join(changed), encoding="utf-8")


@pytest.mark.parametrize("title", PROOFS)
def test_a_recipe_does_what_it_promises(title: str, tmp_path: Path) -> None:
    for room in ("kb", "webui", "entries", "tests/corpus"):
        shutil.copytree(
            ROOT / room, tmp_path / room, ignore=shutil.ignore_patterns("__pycache__")
        )
    proof = "\n".join(line[8:] for line in PROOFS[title].splitlines())
    program = [sys.executable, "-c", BENCH + proof]
    where = {**os.environ, "PYTHONPATH": str(tmp_path)}

    before = subprocess.run(
        program, cwd=tmp_path, env=where, capture_output=True, text=True, check=False
    )
    shutil.rmtree(tmp_path / "shop")
    follow(recipe(title), tmp_path)
    after = subprocess.run(
        program, cwd=tmp_path, env=where, capture_output=True, text=True, check=False
    )

    assert before.returncode != 0
    assert after.returncode == 0, after.stderr


def test_the_tour_names_every_module_that_a_query_enters(tmp_path: Path) -> None:
    """Watched on a shop that has answered a query before; small modules of a package's name are its folder's."""
    watched = """
import sys
entered = set()
def watch(frame, event, arg):
    if event == "call":
        entered.add(frame.f_code.co_filename)
bench.asking.search("lamp does not light", "Tern 13")
sys.setprofile(watch)
answer = bench.asking.search("wont chrge, led orange", "Tern 13")
from kb.cli import text
list(text.answer_lines(answer))
sys.setprofile(None)
root = str(Path("kb").resolve())
print("\\n".join(sorted("kb" + name[len(root):] for name in entered if name.startswith(root))))
"""
    where = {**os.environ, "PYTHONPATH": str(ROOT)}
    program = [
        sys.executable,
        "-c",
        BENCH.replace('"shop"', repr(str(tmp_path / "shop"))) + watched,
    ]
    told = subprocess.run(
        program, cwd=ROOT, env=where, capture_output=True, text=True, check=True
    )
    entered = [name for name in told.stdout.split() if not name.endswith("__init__.py")]
    tour = GUIDE.split("## One query, room by room")[1].split("\n## ")[0]

    assert len(entered) > 20
    missing = [name for name in entered if f"`{name}`" not in tour]
    assert not missing, "\n".join(missing)


def test_the_guide_is_short_enough_to_be_read() -> None:
    assert len(GUIDE.encode()) <= 15_000
