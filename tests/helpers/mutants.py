"""Mutants of the arithmetic: a sample of small faults, each of which some test must notice. `poe mutants [MINUTES]`.

Cosmic Ray makes the faults and judges them, in a copy of the repository; this only says which module is judged by
which tests, draws the sample (a fixed seed, so that the same faults come first each time) and prints the survivors.
A survivor is a line that no test reads, a figure that may as well be another one, or a fault that changes nothing.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import chdir
from pathlib import Path
from typing import Any, NamedTuple

from helpers.places import ROOT

SEED = 20261129
#: The most faults tried of one module, and the seconds after which one counts as noticed.
EACH, PATIENCE = 25, 120
#: Annotations are never run: a `|` between types is no arithmetic. Decorators and exceptions are no figures either.
LEFT_OUT = ("BitOr", "RemoveDecorator", "ExceptionReplacer")
#: Every module that is judged, with tests beside those of its own file; its own doctests are always among them.
JUDGED = {
    "kb/diagnosis/belief.py": "",
    "kb/diagnosis/guide.py": "tests/diagnosis/test_lookahead.py tests/diagnosis/test_case.py",
    "kb/diagnosis/lookahead.py": "tests/diagnosis/test_case.py tests/diagnosis/test_guide.py",
    "kb/diagnosis/repairs.py": "tests/diagnosis/test_case.py tests/diagnosis/test_guide.py",
    "kb/diagnosis/fit.py": "",
    "kb/diagnosis/contrast.py": "tests/diagnosis/test_fit.py",
    "kb/diagnosis/causes.py": "tests/diagnosis/test_knowledge.py tests/bench/test_front.py",
    "kb/diagnosis/counts.py": "tests/diagnosis/test_knowledge.py tests/bench/test_settings.py",
    "kb/review/failures.py": "tests/review/test_overview.py",
    "kb/history/record.py": "tests/history/test_verification.py tests/history/test_pinned.py",
    "kb/history/exchange.py": "",
}


class Survivor(NamedTuple):
    """A fault that no test noticed: its module, its line and the change as a difference."""

    module: str
    line: int
    change: str


class Verdict(NamedTuple):
    """How many faults of a module were tried and noticed, and which were not."""

    tried: int
    noticed: int
    survivors: tuple[Survivor, ...]


def main() -> None:
    """Judge the modules one after the other until the minutes are over, and print what was found."""
    minutes = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    named = sys.argv[2:] or list(JUDGED)
    ends = time.monotonic() + 60 * minutes
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "__pycache__", "screenshots"))
        print("| module | tried | noticed | |\n| --- | --- | --- | --- |", flush=True)
        survivors = list[Survivor]()
        for place, module in enumerate(named):
            share = (ends - time.monotonic()) / (len(named) - place)
            with chdir(copy):
                found = judged(module, share)
            survivors += found.survivors
            percent = f"{100 * found.noticed / found.tried:.0f} %" if found.tried else ""
            print(f"| {module} | {found.tried} | {found.noticed} | {percent} |", flush=True)
    for one in survivors:
        print(f"\n{one.module}:{one.line}\n{one.change}")


def own_tests(module: str) -> str:
    """The file that holds the tests of a module of the core."""
    room, _, name = module.removeprefix("kb/").rpartition("/")
    return f"tests/{room}/test_{name}"


def judged(module: str, seconds: float) -> Verdict:
    """What the tests of a module notice of a sample of its faults, within about so many seconds.

    Changes the module in the folder one stands in, and changes it back.
    """
    from cosmic_ray.mutating import mutate_and_test
    from cosmic_ray.work_item import TestOutcome

    command = f"{sys.executable} -m pytest -x -q -n 0 -p no:cacheprovider {module} {own_tests(module)} {JUDGED[module]}"
    before = subprocess.run(command.split(), capture_output=True, text=True, check=False)
    if before.returncode:
        raise SystemExit(f"{module}: its tests fail before anything is changed\n{before.stdout[-2000:]}")
    ends, tried, survivors = time.monotonic() + seconds, 0, list[Survivor]()
    for faults in drawn(module):
        if time.monotonic() > ends:
            break
        result = mutate_and_test(faults, command, PATIENCE)
        tried += 1
        if result.test_outcome is TestOutcome.SURVIVED:
            change = "".join(line for line in (result.diff or "").splitlines(keepends=True) if line[:1] in "+-")
            survivors.append(Survivor(module, faults[0].start_pos[0], change))
    return Verdict(tried, tried - len(survivors), tuple(survivors))


def drawn(module: str) -> list[Sequence[Any]]:
    """The faults of a module that are tried, in the order of the seed."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import WorkDB, use_db

    with tempfile.TemporaryDirectory() as folder, use_db(f"{folder}/faults", WorkDB.Mode.create) as faults:
        init([Path(module)], faults, {})
        known = [item.mutations for item in faults.pending_work_items]
    kept = [one for one in known if not any(name in one[0].operator_name for name in LEFT_OUT)]
    kept.sort(key=lambda one: (one[0].operator_name, one[0].occurrence))
    return random.Random(SEED).sample(kept, min(EACH, len(kept)))


if __name__ == "__main__":
    main()
