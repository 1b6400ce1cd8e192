"""The shop's gain: bench minutes to a fixed machine in a simulated shop over the real library, by way of working.

Run `PYTHONPATH=. python tests/benchmarks/shop.py` (see --help). The faults of the machines come from the hidden
habits of `kb.demo.habits`, what tests show from their stated reliabilities, the words from a fifth of every entry's
wordings, which the search has never read, with typing errors. Every way of working gets the same machines.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from random import Random

import policies
from machine import Machine, Ticket, known_at_once, tickets
from picture import Bar, picture
from results import Gap, Line, Run, gap, line, not_won, table

from kb.bench.front import Bench
from kb.demo import jobs as demo
from kb.demo.habits import Faults
from kb.diagnosis.answer import Answer
from kb.library import shelf
from kb.library.writing import write
from kb.model import Entry

#: The jobs in the history of the shop, from none to three years of work.
HISTORIES = (0, 100, 500, 2500)
#: The share of every entry's wordings that is kept from the search, to be asked with.
HELD_OUT = 0.2
#: How many of the sheets that the search shows are worked off before the long search, by the ways without advice.
SHEETS = (1, 5)
SHEET, WARY, FREQUENT, A_MINUTE, COUNTED = RIVALS = (
    "the sheet's tests in its order",
    "its tests, then what they point to",
    "most frequent cause first",
    "most belief a minute first",
    "most frequent here first (2,500 jobs)",
)
FLOOR = "floor: the cause is known"


def ours(jobs: int) -> str:
    """The name of the program's way with that much history."""
    return f"as advised, {jobs:,} jobs of history" if jobs else "as advised, no history"


def rival(way: str, sheets: int) -> str:
    """The name of a way without advice that gives up after so many sheets."""
    return f"{way}, {sheets} sheet{'s' if sheets > 1 else ''}"


WAYS = (
    *(rival(way, sheets) for way in RIVALS for sheets in SHEETS),
    *(ours(jobs) for jobs in HISTORIES),
    FLOOR,
)


@dataclass(frozen=True, slots=True)
class Setting:
    """The simulated shop: where its folders stand, its machines and its seed."""

    folder: Path
    stock: Path
    tickets: tuple[Ticket, ...]
    habits: frozenset[tuple[str, str]]
    seed: int
    most_reliable: float


def prepare(folder: Path, count: int, seed: int, most_reliable: float) -> Setting:
    """Write the entries without the wordings held out, a shop for each history, and draw the machines."""
    stock, entries, heard = held_out(folder, seed)
    with Pool(min(2, len(HISTORIES))) as pool:
        pool.map(
            partial(make_shop, folder, stock, entries), HISTORIES[::-1], chunksize=1
        )
    faults = Faults(entries, demo.SEED)
    habits = frozenset((habit.model, habit.cause) for habit in faults.habits)
    return Setting(
        folder,
        stock,
        tuple(tickets(faults, heard, count, seed)),
        habits,
        seed,
        most_reliable,
    )


def held_out(folder: Path, seed: int) -> tuple[Path, list[Entry], dict[str, Entry]]:
    """A library without the wordings held out: its folder, its entries as read back, and by slug what was held out."""
    known = [
        sheet.entry
        for sheet in shelf.Shelf(shelf.stock_folder(), None).sheets()
        if sheet.entry
    ]
    kept, heard = split_wordings(known, seed)
    stock = folder / "entries"
    stock.mkdir()
    for entry in kept:
        (stock / f"{entry.slug}.md").write_text(write(entry), encoding="utf-8")
    entries = [
        sheet.entry for sheet in shelf.Shelf(stock, None).sheets() if sheet.entry
    ]
    return stock, entries, heard


def split_wordings(
    entries: Sequence[Entry], seed: int
) -> tuple[list[Entry], dict[str, Entry]]:
    """The entries without a fifth of their wordings, and by slug the entries with nothing but that fifth."""
    kept, heard = [], {}
    for entry in entries:
        shuffled = Random(f"wordings {seed} {entry.slug}").sample(
            entry.wordings, len(entry.wordings)
        )
        unseen = shuffled[: max(1, round(HELD_OUT * len(shuffled)))]
        kept.append(
            replace(
                entry,
                wordings=tuple(text for text in entry.wordings if text not in unseen),
            )
        )
        heard[entry.slug] = replace(entry, wordings=tuple(unseen), symptoms=())
    return kept, heard


def make_shop(folder: Path, stock: Path, entries: Sequence[Entry], jobs: int) -> None:
    """A shop folder with that many jobs of history and its index up to date."""
    bench = Bench(folder / f"shop-{jobs}", stock)
    demo.fill(bench.history(), demo.invented_jobs(entries)[:jobs])
    bench.asking.models()
    bench.close()


class Worker:
    """One process: the shops' benches, and the machines it works on."""

    def __init__(self, setting: Setting) -> None:
        self.setting = setting
        self.benches = {
            jobs: Bench(setting.folder / f"shop-{jobs}", setting.stock)
            for jobs in HISTORIES
        }
        self.entries = {entry.slug: entry for entry in self.benches[0].entries.served()}

    def work(self, number: int) -> list[Run]:
        """The machine of that number under every way of working."""
        ticket = self.setting.tickets[number]
        answers = {
            jobs: bench.asking.search(ticket.words, ticket.fault.model)
            for jobs, bench in self.benches.items()
        }
        plain, most = answers[0], answers[max(HISTORIES)]
        runs = []
        for way, answer, order in (
            (SHEET, plain, policies.by_weight),
            (WARY, plain, policies.by_weight),
            (FREQUENT, plain, policies.by_weight),
            (A_MINUTE, plain, policies.by_weight_a_minute),
            (COUNTED, most, policies.by_count(most)),
        ):
            ranked = [self.entries[one.entry] for one in answer.entries]
            named = [
                f"{one.slug}/{min((c.slug for c in one.causes), key=partial(order, one))}"
                for one in ranked[:1]
            ]
            for sheets in SHEETS:
                done = _unadvised(way, ranked[:sheets], order)
                runs.append(self._run(rival(way, sheets), ticket, answer, named, done))
        for jobs, answer in answers.items():
            causes = [cause for one in answer.entries for cause in one.causes]
            named = (
                [min(causes, key=lambda cause: (-cause.probability, cause.cause)).cause]
                if causes
                else []
            )
            advised = partial(
                policies.as_advised,
                bench=self.benches[jobs],
                entries=self.entries,
                first=answer.next_step,
            )
            runs.append(self._run(ours(jobs), ticket, answer, named, advised))
        return [
            *runs,
            self._run(FLOOR, ticket, plain, [ticket.fault.name], known_at_once),
        ]

    def _run(
        self,
        way: str,
        ticket: Ticket,
        answer: Answer,
        named: Sequence[str],
        work: Callable[[Machine], None],
    ) -> Run:
        machine = Machine(ticket, self.setting.seed, self.setting.most_reliable)
        work(machine)
        return Run(
            way,
            ticket.number,
            machine.minutes,
            ticket.fault.name in named,
            bool(answer.entries) and answer.entries[0].entry == ticket.fault.entry.slug,
            (ticket.fault.model, ticket.fault.name) in self.setting.habits,
            machine.first_fix_right,
            machine.tests,
            machine.parts_in_vain,
            machine.searched_on,
            machine.repeated,
        )


def _unadvised(
    way: str, entries: Sequence[Entry], order: policies.Order
) -> Callable[[Machine], None]:
    """A way of working without the program's advice on these sheets."""
    if way in (SHEET, WARY):
        return partial(policies.by_the_sheet, entries=entries, thorough=way == SHEET)
    return partial(policies.fixes_in_order, entries=entries, order=order)


_worker: Worker | None = None


def _start(setting: Setting) -> None:
    global _worker
    _worker = Worker(setting)


def _work(number: int) -> list[Run]:
    assert _worker is not None
    return _worker.work(number)


def report(
    lines: Sequence[Line],
    gaps: Sequence[Gap],
    lost: Sequence[str],
    count: int,
    seed: int,
) -> str:
    """The whole measurement as text, and where the program's advice does not win."""
    said = [
        f"{count:,} machines for each way of working, seed {seed}; mean ± standard error",
        "",
        table(lines),
        "",
    ]
    said += [
        f"{one.way} against {one.against}: {one.saved} min saved a machine"
        for one in gaps
    ]
    repeats = ", ".join(f"{one.way} {one.repeated}" for one in lines if one.repeated)
    said += ["", *lost, ""]
    return (
        "\n".join(
            [
                *said,
                f"repairs done a second time under another entry: {repeats or 'none'}",
            ]
        )
        + "\n"
    )


def main() -> None:
    """Read the arguments, run, print the table and draw the picture."""
    parser = argparse.ArgumentParser(
        description="Bench minutes to a fixed machine, by way of working."
    )
    parser.add_argument(
        "--jobs", type=int, default=2000, help="machines for each way of working"
    )
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument(
        "--reliability",
        type=float,
        default=1.0,
        help="no test is righter than this, whatever it says",
    )
    parser.add_argument("--workers", type=int, default=2, help="processes")
    parser.add_argument(
        "--svg",
        type=Path,
        default=Path(__file__).with_name("shop.svg"),
        help="where the picture goes",
    )
    given = parser.parse_args()
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        setting = prepare(Path(folder), given.jobs, given.seed, given.reliability)
        prepared = time.perf_counter()
        with Pool(given.workers, _start, (setting,)) as pool:
            found = pool.map(_work, range(given.jobs), chunksize=10)
    by_way = {
        way: [run for runs in found for run in runs if run.way == way] for way in WAYS
    }
    lines = [line(way, by_way[way]) for way in WAYS]
    best = {
        way: min(
            (rival(way, one) for one in SHEETS), key=lambda name: _minutes(by_way[name])
        )
        for way in RIVALS
    }
    ends = (min(HISTORIES), max(HISTORIES))
    gaps = [
        gap(by_way[ours(jobs)], by_way[best[way]]) for jobs in ends for way in RIVALS
    ]
    gaps += [
        gap(by_way[ours(jobs)], by_way[ours(min(HISTORIES))]) for jobs in HISTORIES[1:]
    ]
    lost = [
        said
        for jobs in ends
        for way in RIVALS
        for said in not_won(by_way[ours(jobs)], by_way[best[way]])
    ]
    print(report(lines, gaps, lost, given.jobs, given.seed))
    print(
        f"prepared in {prepared - began:.0f} s, worked in {time.perf_counter() - prepared:.0f} s"
    )
    said = {name: way for way, name in best.items()} | {
        way: way for way in (*map(ours, HISTORIES), FLOOR)
    }
    bars = [
        Bar(said[one.way], one.minutes, one.way.startswith("as advised"))
        for one in lines
        if one.way in said
    ]
    foot = f"{given.jobs:,} simulated machines each, over the real entries; lines: two standard errors either way"
    given.svg.write_text(
        picture("Bench minutes to a fixed machine", bars, foot), encoding="utf-8"
    )


def _minutes(runs: Sequence[Run]) -> float:
    return sum(run.minutes for run in runs)


if __name__ == "__main__":
    main()
