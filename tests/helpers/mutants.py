"""Mutants of the arithmetic: a sample of small faults, each of which some test must notice. `poe mutants [MINUTES]`.

Cosmic Ray makes the faults, in a copy of the repository; each is judged in a fork of this process, which holds the
libraries loaded already, by the tests nearest to its module and with few examples a law. The sample hangs on a fixed
seed, so that the same faults come first each time. `poe mutants 20 kb/diagnosis/belief.py` judges the modules named.
A survivor is a line that no test reads, a figure that may as well be another one, or a fault that changes nothing:
those that were found to be so stand in EQUAL.
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

#: Another seed draws faults that no test was written for.
SEED = int(os.environ.get("BENCHLORE_MUTANTS_SEED", "20261129"))
#: The most faults tried of one module.
EACH = 40
#: A fault counts as noticed once its tests took so many times as long as without it, and so many seconds more.
PATIENCE, MORE = 5, 10
#: Examples of each law: a fault that a law notices shows within a few.
EXAMPLES = "20"
#: Annotations are never run: a `|` between types is no arithmetic. Decorators and exceptions are no figures either.
LEFT_OUT = ("BitOr", "RemoveDecorator", "ExceptionReplacer")
#: Loaded once, for all forks.
LIBRARIES = (
    "pytest",
    "hypothesis.strategies",
    "numpy",
    "scipy.stats",
    "click.testing",
    "rapidfuzz",
    "markdown_it",
)
#: Every module that is judged, with tests beside those of its own file; its own doctests are always among them.
JUDGED = {
    "kb/diagnosis/belief.py": "",
    "kb/diagnosis/guide.py": "tests/diagnosis/test_lookahead.py tests/diagnosis/test_case.py",
    "kb/diagnosis/lookahead.py": "tests/diagnosis/test_case.py",
    "kb/diagnosis/repairs.py": "tests/diagnosis/test_case.py tests/diagnosis/test_lookahead.py",
    "kb/diagnosis/fit.py": "tests/diagnosis/test_against.py tests/diagnosis/test_twofold.py",
    "kb/diagnosis/contrast.py": "tests/diagnosis/test_fit.py",
    "kb/diagnosis/causes.py": "tests/diagnosis/test_knowledge.py tests/diagnosis/test_states.py",
    "kb/diagnosis/counts.py": "tests/diagnosis/test_knowledge.py",
    "kb/review/failures.py": "tests/review/test_overview.py",
    "kb/history/record.py": "tests/history/test_verification.py tests/history/test_pinned.py",
    "kb/history/exchange.py": "tests/history/test_moving.py tests/history/test_same.py",
}


#: Faults that change nothing a test could read: by module, or in any, what the line has become, with the reason. They
#: are left out of the share that is noticed.
EQUAL = {
    "": {
        "@dataclass(frozen=False, slots=True)": "nobody changes a record: how it is kept, not what it says",
        "@dataclass(frozen=True, slots=False)": "the same",
        "@dataclass(frozen=False)": "the same",
    },
    "kb/diagnosis/counts.py": {
        "if self.half_life_days == 0 or not day:": "a half-life is never below 0",
        "half_life_days: float = -1.0": "what is not above 0 is no half-life",
    },
    "kb/diagnosis/belief.py": {
        "if successes == 0 or failures <= 0:": "counts are never below 0",
        "if total == 0:": "weights are never below 0",
    },
    "kb/diagnosis/causes.py": {
        "if left != 0.0:": "shares are never below 0",
    },
    "kb/diagnosis/fit.py": {
        "is_one_word_again = len(set(typed)) == 1 != len(typed)": "a text has no fewer words than different ones",
    },
    "kb/diagnosis/guide.py": {
        "return tuple(share / whole for share in shares) if whole != 0.0 else tuple(shares)": "never below 0",
        "top = max(after, default= -1.0)": "a problem has a cause",
        "left = weigh(problem, {test: shown}, failed, opened or inside, effort + len(table[0]))": "work, not advice",
        "effort: float = 2.0,": "the same",
    },
    "kb/diagnosis/lookahead.py": {
        "if self._work + (self._work - before) // GROWTH > self._budget:": "how much work is spent, not what it finds",
        "GROWTH = 2.0": "the same",
        "if value - rest >= best:": "a plan that cannot win is followed for longer, and does not win",
        "if step // floor >= best:": "the same",
        "if depth == 0 or state.repair - state.floor == self._crumb or self._work > self._limit:": "the same",
    },
    "kb/diagnosis/repairs.py": {
        "spent += self.opening * max(rest, -1.0)": "what is left is below 0 by rounding alone",
        "continue": "the ratios fall: no later fix inside is above the block either",
        "order = [fix for fix in before if masses[fix] > -1.0] or after": "a fix without mass comes first of none",
        "order = [fix for fix in before if masses[fix] >= 0.0] or after": "the same",
        "self, minutes: Sequence[float], cured_by: Sequence[int], inside: Sequence[bool] = (), opening: float = 1.0": (
            "where no fix is inside the cover is opened after the last one"
        ),
    },
    "kb/review/failures.py": {
        "cause = works.causes[places[ -1]]": "the places are those of jobs of one cause",
        "failures.sort(key=lambda failure: (~failure.jobs, failure.cause))": "~n is -n - 1: the order is the same",
        "return tuple(sorted(parts.items(), key=lambda item: (~item[1], item[0])))": "the same",
    },
    "kb/history/exchange.py": {
        'return fields.plain_number(job.minutes) if name is "minutes" else str(getattr(job, name))': "one text a name",
        "return isinstance(line, FloorLine) and line.kind == kinds.SAME_MODEL": "there is one record of each kind",
    },
}


class Survivor(NamedTuple):
    """A fault that no test noticed: its module, its line and the change as a difference."""

    module: str
    line: int
    change: str

    @property
    def why_equal(self) -> str:
        """Why the fault changes nothing, empty if it does."""
        becomes = self.change.rpartition("\n")[2].removeprefix("+").strip()
        return (EQUAL[""] | EQUAL.get(self.module, {})).get(becomes, "")


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
        shutil.copytree(
            ROOT,
            copy,
            ignore=shutil.ignore_patterns(".*", "__pycache__", "screenshots"),
        )
        sys.path[:0] = [str(copy), str(copy / "tests")]
        print(
            "| module | tried | noticed | change nothing | of the others |\n| --- | --- | --- | --- | --- |",
            flush=True,
        )
        for place, module in enumerate(named):
            share = (ends - time.monotonic()) / (len(named) - place)
            with chdir(copy):
                found = judged(module, share)
            _tell(module, found)


def _tell(module: str, found: Verdict) -> None:
    """Print how many faults of a module were noticed, and each that was not, with why if it changes nothing."""
    equal = sum(bool(one.why_equal) for one in found.survivors)
    share = (
        f"{100 * found.noticed / (found.tried - equal):.0f} %"
        if found.tried > equal
        else ""
    )
    print(
        f"| {module} | {found.tried} | {found.noticed} | {equal} | {share} |",
        flush=True,
    )
    for one in found.survivors:
        why = f"changes nothing: {one.why_equal}" if one.why_equal else ""
        print(f"\n{one.module}:{one.line} {why}\n{one.change}\n", flush=True)


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
            survivors.append(
                Survivor(module, fault.start_pos[0], changed(sound, faulty))
            )
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
    options = [
        "-x",
        "-q",
        "-o",
        "addopts=",
        "--doctest-modules",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:xdist",
    ]
    return int(
        pytest.main([*options, module, own_tests(module), *JUDGED[module].split()])
    )


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

    faulty = mutate_code(
        sound,
        get_operator(fault.operator_name)(**fault.operator_args),
        fault.occurrence,
    )
    assert isinstance(faulty, str)
    return faulty


def changed(sound: str, faulty: str) -> str:
    """The lines that a fault changes, as a difference."""
    lines = difflib.unified_diff(
        sound.splitlines(), faulty.splitlines(), lineterm="", n=0
    )
    return "\n".join(
        line for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---")
    )


def drawn(module: str) -> list[Any]:
    """The faults of a module that are tried, in the order of the seed."""
    from cosmic_ray.commands import init
    from cosmic_ray.work_db import WorkDB, use_db

    with (
        tempfile.TemporaryDirectory() as folder,
        use_db(f"{folder}/faults", WorkDB.Mode.create) as faults,
    ):
        init([Path(module)], faults, {})
        known = [item.mutations[0] for item in faults.pending_work_items]
    kept = [
        one for one in known if not any(name in one.operator_name for name in LEFT_OUT)
    ]
    kept.sort(key=lambda one: (one.operator_name, one.occurrence))
    return random.Random(SEED).sample(kept, min(EACH, len(kept)))


if __name__ == "__main__":
    main()
