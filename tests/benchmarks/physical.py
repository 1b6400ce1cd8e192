"""Calibration of the belief in causes where tests show what machines do, not what the sheets say that they show.

Run `PYTHONPATH=.:tests python tests/benchmarks/physical.py` (see --help). `physical.tsv` is a technician's table for
ten fault pictures, written without sight of the sheets: P(outcome | true cause) of tests, common practice, no source.
What stands in it is drawn from it; a test that it does not know shows what its sheet says. Beside it the same jobs with
all outcomes drawn from the sheets: the difference is what a simulated shop that believes its own sheets cannot see.
"""

from __future__ import annotations

import argparse
import csv
import re
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from random import Random

from kb.bench.front import Bench
from kb.diagnosis.case import OPENING_MINUTES, UNTOUCHED, bench_minutes
from kb.library.outcomes import outcome_probabilities
from kb.model import WEIGHT_ODDS, Entry, Finding, Test

TABLE = Path(__file__).with_name("physical.tsv")
#: Beliefs are counted from this one on, in these bins; a job is put away after so many steps.
EDGES = (0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0001)
MOST_STEPS = 15

#: By sheet: the words by which a cause of the table is known, and the cause of the sheet that it is.
CAUSES: dict[str, dict[str, str]] = {
    "no-sign-of-life": {
        "charger or its": "charger", "socket or its lead": "charging-socket", "main rail is shorted": "mainboard",
        "controller has hung": "controller-hang", "power button": "power-button", "pack's protection": "pack",
    },
    "starts-then-cuts-off": {
        "memory module": "memory", "graphics supply rail": "mainboard", "charger is weak": "charger",
        "cooler sits": "heat-sink", "something plugged": "added-device", "settings are corrupt": "firmware",
    },
    "shuts-off-under-load": {
        "fins clogged": "dust", "pack sags": "pack", "charger is too small": "charger",
        "weakens when warm": "mainboard", "socket loose": "power-plug", "fan stops": "fan",
    },
    "plugged-in-not-charging": {
        "not recognised": "weak-charger", "charge limit": "charge-setting", "pack refuses": "pack",
        "charging part": "mainboard", "poor contact": "id-line", "too cold": "pack-temperature",
    },
    "no-image-machine-runs": {
        "ribbon worn": "panel-cable", "panel itself": "panel", "lid sensor": "lid-sensor",
        "output set": "output-setting",
    },
    "row-of-keys-dead": {
        "ribbon not seated": "ribbon-contact", "membrane broken": "keyboard-line", "controller line": "connector-dirt",
        "a system setting": "remap", "membrane pressed": "key-layer",
    },
    "freezes-at-random": {
        "memory cell": "memory", "memory contact": "memory", "drive stalls": "drive", "overheats": "heat",
        "driver fault": "graphics-driver", "supply rail": "mainboard",
    },
    "drive-not-detected": {
        "drive is dead": "dead-drive", "poor contact": "contact", "storage mode": "drive-mode",
        "controller on the board": "mainboard", "own firmware": "hung-drive",
    },
    "wifi-weak": {
        "off or loose at the card": "antenna-plug", "broken at the hinge": "antenna-lead", "card is failing": "card",
        "power saving": "power-setting", "access point is poor": "place",
    },
    "runs-hot": {
        "clogged with dust": "dust", "paste dried": "paste", "fan is slow": "slow-fan", "loads it": "background-load",
        "heat pipe": "heat-sink",
    },
}  # fmt: skip
#: By sheet: the beginning of a test's title, the words by which the table knows it, and for each of the table's
#: outcomes the number of the sheet's.
TESTS: dict[str, tuple[tuple[str, str, tuple[int, ...]], ...]] = {
    "no-sign-of-life": (
        ("Check wall socket", "try another charger", (0, 1)),
        ("Drain the standby power", "hold the button 30 s", (0, 1)),
        ("Read the supply current", "current-limited supply", (0, 1, 2, 1)),
        ("Measure the main rail", "measure the main rail", (0, 2, 2)),
        (
            "Measure the charger voltage behind",
            "board side of the charging socket",
            (1, 0, 2),
        ),
        ("Unplug the battery", "leave the pack unplugged", (0, 1)),
        ("Bridge the two button", "across the power button", (1, 0)),
    ),
    "starts-then-cuts-off": (
        ("Start on a charger", "try another charger", (0, 1)),
        ("Try one memory module", "reseat the memory", (0, 1)),
        ("Time three starts", "time five starts", (1, 2, 3)),
        ("Watch the current", "current of the start", (1, 0, 2)),
        ("Unplug drive", "start with only the board", (0, 1)),
    ),
    "shuts-off-under-load": (
        ("Run full load", "ten minutes of full load", (0, 2, 3)),
        ("Repeat the load on a charger", "with a charger known to be good", (1, 0)),
        ("Measure at the socket", "move the charger plug", (0, 1)),
        ("Read the event log", "system's own log", (0, 1, 1)),
    ),
    "plugged-in-not-charging": (
        ("Fit a charger", "try another charger", (0, 2)),
        ("Look for a charge limit", "look in the setup screen", (1, 0, 1, 1)),
        ("Read the pack's temperature", "read the pack's own data", (1, 2, 3)),
        ("Fit a battery", "try another pack", (0, 1)),
    ),
    "no-image-machine-runs": (
        ("Shine a torch", "torch slantwise", (0, 1)),
        ("Pull every outside screen", "display-switch", (0, 1)),
        ("Pass a magnet", "weak magnet", (1, 0)),
        ("Battery and charger out, seat", "reseat the panel ribbon", (0, 2)),
        ("Lay a panel", "another panel known to be good", (0, 2)),
    ),
    "row-of-keys-dead": (
        ("Mark every dead key", "every key with a key tester", (0, 1, 1)),
        ("Try the dead keys", "keys at setup level", (1, 0)),
        ("Open the latch", "reseat the keyboard ribbon", (0, 0, 1)),
        ("Look into the board's connector", "under magnification", (0, 1)),
        ("Lay a keyboard", "another keyboard known", (0, 1)),
    ),
    "freezes-at-random": (
        ("Run one full pass", "one memory-test pass", (0, 1, 0)),
        ("Leave a live system", "two hours", (1, 0)),
        ("Read drive health", "long drive self-test", (0, 1)),
        ("Run full load", "ten minutes of full load", (0, 1, 1)),
        ("Read the log", "system log", (0, 1, 2)),
    ),
    "drive-not-detected": (
        ("Look in the setup screen", "look for it in the setup", (0, 2, 2)),
        ("Take the drive out", "reseat the drive", (0, 0, 2)),
        ("Try the drive in another", "this drive in another machine", (0, 1)),
        ("Fit a drive", "another drive known", (0, 1)),
    ),
    "wifi-weak": (
        ("Compare the level", "compare the level", (1, 0)),
        ("Watch the level", "watch the level", (0, 1)),
        ("Open the cover", "reseat both antenna leads", (0, 3)),
    ),
    "runs-hot": (
        ("Leave it alone", "list what is running", (1, 0)),
        ("Look through the fins", "look into the fins", (0, 1)),
        ("Lift the heat sink", "renew paste and pads", (0, 2)),
        ("Read the fan speed", "hold a hand at the outlet", (1, 1, 0, 1)),
    ),
}

#: Draws the outcome of a test on the machine at hand.
Draw = Callable[[Entry, Test, Random], str]


@dataclass(frozen=True, slots=True)
class Broken:
    """A true fault of the table with the sheet and cause that it is, and its rows: P(outcome) by test."""

    entry: Entry
    cause: str
    weight: float
    rows: dict[str, tuple[float, ...]]

    def shows(self, entry: Entry, test: Test, rng: Random) -> str:
        """What a test shows on this machine: by the table, else as its sheet says."""
        for begins, known_by, places in TESTS.get(entry.slug, ()):
            row = next(
                (row for name, row in self.rows.items() if known_by in name), None
            )
            if entry.slug == self.entry.slug and test.title.startswith(begins) and row:
                return test.outcomes[rng.choices(places, row)[0]].text
        return self.as_told(entry, test, rng)

    def as_told(self, entry: Entry, test: Test, rng: Random) -> str:
        """What a test shows if its sheet is right."""
        own = entry.slug == self.entry.slug
        chances = outcome_probabilities(test, self.cause if own else "", listed=own)
        return rng.choices(test.outcomes, chances)[0].text


@dataclass(slots=True)
class Tally:
    """Beliefs that were shown with whether they were true, and how the jobs ended."""

    shown: list[tuple[float, bool]] = field(default_factory=list)
    minutes: list[float] = field(default_factory=list)
    given_up: int = 0

    def lines(self) -> Iterable[str]:
        """A row for each bin: beliefs, their mean, how often they were true."""
        for low, high in pairwise(EDGES):
            held = [(share, true) for share, true in self.shown if low <= share < high]
            if held:
                mean = sum(share for share, _ in held) / len(held)
                true = sum(true for _, true in held) / len(held)
                yield f"| {low:.0%} to {min(high, 1.0):.0%} | {len(held)} | {mean:.1%} | {true:.1%} |"

    @property
    def error(self) -> float:
        """The mean distance between what was said and what was true, over the bins."""
        distance = 0.0
        for low, high in pairwise(EDGES):
            held = [(share, true) for share, true in self.shown if low <= share < high]
            distance += abs(sum(share - true for share, true in held))
        return distance / max(len(self.shown), 1)


def faults(entries: dict[str, Entry]) -> list[Broken]:
    """The faults of the table that the sheets list."""
    with TABLE.open(encoding="utf-8") as source:
        rows = list(
            csv.DictReader(
                (line for line in source if not line.startswith("#")), delimiter="\t"
            )
        )
    found = []
    for slug, known in CAUSES.items():
        for words, cause in known.items():
            own = [
                row
                for row in rows
                if row["slug"] == slug and words in row["true cause"]
            ]
            listed = entries[slug].cause(cause)
            if not own or listed is None:
                raise ValueError(
                    f"{slug}: the table or the sheet does not know {words!r}, {cause}"
                )
            told = {row["test"]: _chances(row["outcome probabilities"]) for row in own}
            found.append(Broken(entries[slug], cause, WEIGHT_ODDS[listed.weight], told))
    return found


def _chances(text: str) -> tuple[float, ...]:
    return tuple(
        float(found) for found in re.findall(r":\s*(\d*\.?\d+)\s*(?:;|$)", text)
    )


def play(bench: Bench, broken: Broken, draw: Draw, rng: Random, tally: Tally) -> None:
    """One job: asked with one of the sheet's own symptoms, advised step by step until the cause is mended."""
    words, at, minutes, opened = (
        rng.choice(broken.entry.symptoms),
        UNTOUCHED,
        0.0,
        False,
    )
    findings: list[Finding] = []
    true = f"{broken.entry.slug}/{broken.cause}"
    for _ in range(MOST_STEPS):
        answer = bench.asking.search(words, findings=tuple(findings), at=at, limit=5)
        beliefs = {
            cause.cause: cause.probability
            for entry in answer.entries
            for cause in entry.causes
        }
        tally.shown += [
            (share, cause == true)
            for cause, share in beliefs.items()
            if share >= EDGES[0]
        ]
        step = answer.next_step
        entry = bench.entries.entry(step.entry) if step and step.entry else None
        if step is None or entry is None:
            break
        done = (
            entry.test(step.name) if step.kind == "test" else entry.fix_for(step.name)
        )
        assert done is not None
        minutes += bench_minutes(done) + OPENING_MINUTES * (
            done.cover_off and not opened
        )
        opened = opened or done.cover_off
        if isinstance(done, Test):
            findings.append(
                Finding(f"{entry.slug}/{done.slug}", draw(entry, done, rng))
            )
        elif true in {f"{entry.slug}/{cause}" for cause in done.causes}:
            tally.minutes.append(minutes)
            return
        else:
            at = replace(at, failed=(*at.failed, f"{entry.slug}/{step.name}"))
    tally.given_up += 1


def measured(
    bench: Bench, found: Sequence[Broken], jobs: int, seed: int, physical: bool
) -> Tally:
    """So many jobs for each point of a fault's weight."""
    tally = Tally()
    for number, broken in enumerate(found):
        for job in range(round(jobs * broken.weight)):
            draw = broken.shows if physical else broken.as_told
            play(bench, broken, draw, Random(f"{seed} {number} {job}"), tally)
    return tally


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--jobs",
        type=int,
        default=4,
        help="jobs for each point of a fault's weight (often is 6)",
    )
    parser.add_argument("--seed", type=int, default=11)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        found = faults({entry.slug: entry for entry in bench.entries.served()})
        for physical in (False, True):
            tally = measured(bench, found, asked.jobs, asked.seed, physical)
            whole = len(tally.minutes) + tally.given_up
            print(
                f"\n### Outcomes drawn from {'the physical table' if physical else 'the sheets themselves'}\n"
            )
            print("| shown as | beliefs | mean | true |\n| --- | --- | --- | --- |")
            print("\n".join(tally.lines()))
            mean = sum(tally.minutes) / max(len(tally.minutes), 1)
            print(
                f"\n{whole} jobs on {len(found)} faults; mean distance {tally.error:.1%}; mended {len(tally.minutes)}"
            )
            print(f"in {mean:.0f} min on average, given up {tally.given_up}.")


if __name__ == "__main__":
    main()
