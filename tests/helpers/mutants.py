"""Mutants of the arithmetic: a sample of small faults, each of which some test must notice. `poe mutants [MINUTES]`.

Cosmic Ray makes the faults, in a copy of the repository; each is judged in a fork of this process, which holds the
libraries loaded already, by the tests nearest to its module and with few examples a law. The sample hangs on a fixed
seed, so that the same faults come first each time. `poe mutants 20 kb/diagnosis/belief.py` judges the modules named.
A survivor is a line that no test reads, a figure that may as well be another one, or a fault that changes nothing.
"""

from __future__ import annotations

import difflib
import importlib
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from contextlib import chdir
from pathlib import Path
from typing import Any, NamedTuple

from helpers.places import ROOT

SEED = 20261129
#: The most faults tried of one module.
EACH = 40
#: A fault counts as noticed once its tests took so many times as long as without it, and so many seconds more.
PATIENCE, MORE = 5, 10
#: Examples of each law: a fault that a law notices shows within a few.
EXAMPLES = "20"
#: Annotations are never run: a `|` between types is no arithmetic. Decorators and exceptions are no figures either.
LEFT_OUT = ("BitOr", "RemoveDecorator", "ExceptionReplacer")
#: Loaded once, for all forks.
LIBRARIES = ("pytest", "hypothesis.strategies", "numpy", "scipy.stats", "click.testing", "rapidfuzz", "markdown_it")
#: Every module that is judged, with tests beside those of its own file; its own doctests are always among them.
JUDGED = {
    "kb/diagnosis/belief.py": "",
    "kb/diagnosis/guide.py": "tests/diagnosis/test_lookahead.py tests/diagnosis/test_case.py",
    "kb/diagnosis/lookahead.py": "tests/diagnosis/test_case.py",
    "kb/diagnosis/repairs.py": "tests/diagnosis/test_case.py tests/diagnosis/test_lookahead.py",
    "kb/diagnosis/fit.py": "",
    "kb/diagnosis/contrast.py": "tests/diagnosis/test_fit.py",
    "kb/diagnosis/causes.py": "tests/diagnosis/test_knowledge.py",
    "kb/diagnosis/counts.py": "tests/diagnosis/test_knowledge.py",
    "kb/review/failures.py": "tests/review/test_overview.py",
    "kb/history/record.py": "tests/history/test_verification.py tests/history/test_pinned.py",
    "kb/history/exchange.py": "tests/history/test_moving.py tests/history/test_same.py",
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
    os.environ["BENCHLORE_EXAMPLES"] = EXAMPLES
    for library in LIBRARIES:
        importlib.import_module(library)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "__pycache__", "screenshots"))
        sys.path[:0] = [str(copy), str(copy / "tests")]
        print("| module | tried | noticed | |\n| --- | --- | --- | --- |", flush=True)
        for place, module in enumerate(named):
            share = (ends - time.monotonic()) / (len(named) - place)
            with chdir(copy):
                found = judged(module, share)
            percent = f"{100 * found.noticed / found.tried:.0f} %" if found.tried else ""
            print(f"| {module} | {found.tried} | {found.noticed} | {percent} |", flush=True)
            for one in found.survivors:
                print(f"\n{one.module}:{one.line}\n{one.change}\n", flush=True)


def judged(module: str, seconds: float) -> Verdict:
    """What the tests of a module notice of a sample of its faults, within about so many seconds.

    Changes the module in the folder one stands in, and changes it back.
    """
    ends = time.monotonic() + seconds
    began = of_forks()
    if not is_green(module, 600):
        raise SystemExit(f"{module}: its tests fail before anything is changed")
    took = of_forks() - began
    tried, survivors = 0, list[Survivor]()
    sound = Path(module).read_text("utf-8")
    for fault in drawn(module):
        if time.monotonic() > ends:
            break
        faulty = with_fault(sound, fault)
        Path(module).write_text(faulty, "utf-8")
        tried += 1
        if is_green(module, int(PATIENCE * took) + MORE):
            survivors.append(Survivor(module, fault.start_pos[0], changed(sound, faulty)))
        Path(module).write_text(sound, "utf-8")
    return Verdict(tried, tried - len(survivors), tuple(survivors))


def is_green(module: str, seconds: int) -> bool:
    """Whether the doctests and tests of a module pass, run in a fork that may take so much processor time."""
    child = os.fork()
    if child == 0:
        os._exit(_judging(module, seconds))
    _, status = os.waitpid(child, 0)
    return status == 0


def _judging(module: str, seconds: int) -> int:
    """Run the tests in this very process, which says nothing; gives the exit status."""
    import pytest

    sys.dont_write_bytecode = True
    signal.alarm(20 * seconds)
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    options = ["-x", "-q", "-o", "addopts=", "--doctest-modules", "-p", "no:cacheprovider", "-p", "no:xdist"]
    return int(pytest.main([*options, module, own_tests(module), *JUDGED[module].split()]))


def own_tests(module: str) -> str:
    """The file that holds the tests of a module of the core."""
    within = Path(module).relative_to("kb")
    return str(Path("tests", within.parent, f"test_{within.name}"))


def of_forks() -> float:
    """The seconds of processor time that all forks have taken so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def with_fault(sound: str, fault: Any) -> str:
    """The text of a module with that fault in it."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    faulty = mutate_code(sound, get_operator(fault.operator_name)(**fault.operator_args), fault.occurrence)
    assert isinstance(faulty, str)
    return faulty


def changed(sound: str, faulty: str) -> str:
    """The lines that a fault changes, as a difference."""
    lines = difflib.unified_diff(sound.splitlines(), faulty.splitlines(), lineterm="", n=0)
    return "\n".join(line for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---"))


def drawn(module: str) -> list[Any]:
    """The faults of a module that are tried, in the order of the seed."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import WorkDB, use_db

    with tempfile.TemporaryDirectory() as folder, use_db(f"{folder}/faults", WorkDB.Mode.create) as faults:
        init([Path(module)], faults, {})
        known = [item.mutations[0] for item in faults.pending_work_items]
    kept = [one for one in known if not any(name in one.operator_name for name in LEFT_OUT)]
    kept.sort(key=lambda one: (one.operator_name, one.occurrence))
    return random.Random(SEED).sample(kept, min(EACH, len(kept)))


if __name__ == "__main__":
    main()
