"""The floor at size: 5,000 machines with 50,000 records. `PYTHONPATH=.:tests python tests/benchmarks/floor.py`."""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation
from webui.app import create_app

MACHINES, LINES = 5_000, 8
PLUG = "battery-not-detected/contact"
HOME = "http://localhost"


def fill(bench: Bench) -> int:
    """Machines of 160 lots with an arrival, eight lines of a check-out and a job each; gives the number of records."""
    chance, history = Random("floor"), bench.history()
    lines = [line.name for line in bench.shop.customs.check_list().checks][:LINES]
    with history.together():
        for number in range(MACHINES):
            tag = f"L{number // 32:03d}-{number % 32:02d}"
            told = {
                "tag": tag,
                "model": f"Model {number % 24}",
                "lot": tag[:4],
                "place": f"A{number % 90}",
            }
            history.note(kinds.UNIT_IN, "", told | {"words": "no battery"})
            for line in lines:
                history.note(
                    kinds.FUNCTION,
                    "",
                    {"tag": tag, "line": line, "shown": chance.choice(("good", "bad"))},
                )
            history.close_job(
                Confirmation(PLUG, f"Model {number % 24}", unit=tag, by="AW")
            )
    return history.tip().count


def searched(bench: Bench, times: int) -> tuple[float, float]:
    """What a search takes while nothing is written, and right after a line of a check-out was shown each time."""

    def search() -> None:
        bench.asking.search("no battery seen", "Model 3")

    search()
    shown = []
    warm = seconds(search, times)
    for number in range(times):
        bench.machines.write(
            kinds.FUNCTION,
            {"tag": f"L077-{number:02}", "line": "camera", "shown": "good"},
        )
        shown.append(seconds(search))
    return warm, statistics.median(shown)


def seconds(act: Callable[[], object], times: int = 1) -> float:
    """The median of processor seconds, this process and its children."""
    taken = []
    for _ in range(times):
        began = _spent()
        act()
        taken.append(_spent() - began)
    return statistics.median(taken)


def _spent() -> float:
    import resource

    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + children.ru_utime + children.ru_stime


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        records = fill(bench)
        print(f"{MACHINES} machines, {records} records")
        print(f"folded anew   {seconds(lambda: bench.machines.line('L000-00')):6.2f} s")
        bench.asking.models()
        client = create_app(bench).test_client()
        for name, path in (
            ("machine", "/u/L077-07"),
            ("lot", "/lot/L077"),
            ("first", "/"),
            ("floor", "/machines"),
        ):
            client.get(path, base_url=HOME)
            one = seconds(lambda path=path: client.get(path, base_url=HOME), 9)  # type: ignore[misc]
            print(f"page {name:<8} {one * 1000:6.0f} ms")
        bench.machines.note("L077-07", "lid scratched")
        print(
            f"after a note  {seconds(lambda: bench.machines.line('L000-00')) * 1000:6.1f} ms"
        )
        warm, shown = searched(bench, 24)
        print(
            f"search        {warm * 1000:6.1f} ms, {shown * 1000:.1f} ms after a line was shown"
        )
        command = [sys.executable, "-m", "kb", "unit", "L077-07", "--shop", folder]
        cold = seconds(
            lambda: subprocess.run(command, check=True, capture_output=True), 5
        )
        print(f"unit, cold    {cold:6.2f} s")
        bench.close()


if __name__ == "__main__":
    main()
