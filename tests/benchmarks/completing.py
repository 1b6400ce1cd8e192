"""Processor time of completing a name at the terminal and of help, beside that of `python -c pass`; least of seven.

`python tests/benchmarks/completing.py` makes the demo shop in a folder of its own and prints a line for each name.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from math import inf
from pathlib import Path

PROGRAM = Path(sys.executable).with_name("benchlore")
ROUNDS = 7
LINES = {
    "a command": "benchlore ver",
    "a model": "benchlore search --model Ter",
    "a sheet": "benchlore show battery-not-",
    "a cause": "benchlore confirm battery-not-detected/",
    "a tag": "benchlore unit P7-0",
    "a lot": "benchlore lot P",
    "a tool": "benchlore tools --lack multim",
}

#: Commands of which the help is asked for.
HELPS = ("search", "guide", "serve", "passphrase")


def milliseconds(command: Sequence[str | Path], around: Mapping[str, str]) -> float:
    """What a command takes of the processor."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, env=dict(around), stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return 1000 * (after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def main() -> None:
    """Measure each line by turns, so that a busy minute spoils none of them alone."""
    with tempfile.TemporaryDirectory() as folder:
        around = {
            **os.environ,
            "BENCHLORE_SHOP": f"{folder}/shop",
            "PYTHONPYCACHEPREFIX": f"{folder}/compiled",
        }
        around.pop("PYTHONDONTWRITEBYTECODE", None)
        made = [str(PROGRAM), "--shop", f"{folder}/shop", "demo", "--no-serve"]
        subprocess.run(made, env=around, stdout=subprocess.DEVNULL, check=True)
        least = dict.fromkeys(["python -c pass", *LINES], inf)
        for _ in range(ROUNDS):
            bare = milliseconds([sys.executable, "-c", "pass"], around)
            least["python -c pass"] = min(least["python -c pass"], bare)
            for name, line in LINES.items():
                asked = {"_BENCHLORE_COMPLETE": "bash_complete", "COMP_WORDS": line}
                asked["COMP_CWORD"] = str(len(line.split(" ")) - 1)
                least[name] = min(
                    least[name], milliseconds([PROGRAM], {**around, **asked})
                )
            for name in HELPS:
                took = milliseconds([PROGRAM, name, "--help"], around)
                least[f"{name} --help"] = min(least.get(f"{name} --help", inf), took)
    for name, took in least.items():
        print(f"{name:15} {took:6.1f} ms  {took / least['python -c pass']:5.1f} times")


if __name__ == "__main__":
    main()
