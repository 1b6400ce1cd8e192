"""Eight invented pallets of the demo shop: six done with, one in the middle, one just arrived."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from kb.demo.checkout import SEED as CHECK_OUTS
from kb.demo.checkout import InventedCheckOuts
from kb.demo.complaints import complaint
from kb.demo.habits import Fault, Faults
from kb.demo.jobs import NOTE
from kb.demo.scenario import Scenario, shipped_scenario
from kb.history import History, kinds
from kb.history.ids import derived_id
from kb.history.kinds import Kind
from kb.library.checklist import CheckLine, CheckList
from kb.model import Entry, Job

SEED = 20
#: The moment at which the invented story stands still.
NOW = datetime(2026, 10, 30, 16, 30, tzinfo=UTC)
#: One machine in so many has a second fault that only the check-out finds.
HIDDEN_FAULT = 8
#: One try to fit a part of another model in so many fails.
MISFITS = 6

#: The share of machines that come without a word of what is wrong.
WORDLESS = 0.06

PEOPLE = ("AW", "JT", "MK", "RS")


@dataclass(frozen=True, slots=True, kw_only=True)
class InventedLot:
    """A purchase: day it came, how many machines of how many models, and its price in cents."""

    name: str
    month: int
    day: int
    machines: int
    models: int
    cents: int
    freight_cents: int


LOTS = (
    InventedLot(
        name="P1",
        month=1,
        day=12,
        machines=18,
        models=3,
        cents=21000,
        freight_cents=4000,
    ),
    InventedLot(
        name="P2",
        month=2,
        day=16,
        machines=24,
        models=4,
        cents=43000,
        freight_cents=5000,
    ),
    InventedLot(
        name="P3",
        month=3,
        day=23,
        machines=30,
        models=6,
        cents=61500,
        freight_cents=6000,
    ),
    InventedLot(
        name="P4",
        month=5,
        day=4,
        machines=12,
        models=3,
        cents=26000,
        freight_cents=3500,
    ),
    InventedLot(
        name="P5",
        month=6,
        day=15,
        machines=40,
        models=8,
        cents=98000,
        freight_cents=9000,
    ),
    InventedLot(
        name="P6",
        month=8,
        day=10,
        machines=28,
        models=5,
        cents=57000,
        freight_cents=6000,
    ),
    InventedLot(
        name="P7",
        month=10,
        day=5,
        machines=36,
        models=6,
        cents=86400,
        freight_cents=7500,
    ),
    InventedLot(
        name="P8",
        month=10,
        day=29,
        machines=32,
        models=7,
        cents=71000,
        freight_cents=7000,
    ),
)
#: How far the machines of the running lot have come, and of one that is done with, in parts of 24.
IN_THE_MIDDLE = {
    "unseen": 3,
    "waiting": 8,
    "bench": 2,
    "part": 5,
    "check": 3,
    "ready": 7,
    "donor": 5,
    "sold": 2,
    "locked": 1,
}
DONE_WITH = {"sold": 17, "donor-gone": 4, "waste": 2, "locked": 1}


@dataclass
class InventedMachine:
    """One invented machine: what is wrong with it, and how far its story goes."""

    tag: str
    fault: Fault
    end: str
    came: datetime
    rng: Random
    jobs: int = 0


Act = Callable[[History], None]


@dataclass
class Story:
    """What happens, in the order in which it is to be told; parts that left a donor leave it once."""

    check_list: CheckList
    entries: Mapping[str, Entry]
    scenario: Scenario
    acts: list[tuple[datetime, int, Act]] = field(default_factory=list)
    gone_parts: set[tuple[str, str]] = field(default_factory=set)
    donors: list[InventedMachine] = field(default_factory=list)

    def behind(self, line: CheckLine, otherwise: Fault) -> Fault:
        """A fault that a line of the check-out finds, on the model of the other one."""
        for entry in filter(None, map(self.entries.get, line.sheets)):
            if entry.causes:
                return Fault(
                    otherwise.model, entry, entry.causes[0].slug, self.scenario
                )
        return otherwise

    def tell(self, at: datetime, act: Act) -> None:
        """Something happens at that time."""
        self.acts.append((at, len(self.acts), act))

    def note(self, at: datetime, kind: Kind, **body: object) -> None:
        """A record of the floor is written at that time."""
        self.tell(at, lambda history: _noted(history, kind, body))

    def shown(
        self,
        at: datetime,
        machine: InventedMachine,
        line: CheckLine,
        shown: str,
        by: str,
        *,
        value: str = "",
    ) -> None:
        """A line of the check-out showed something, and `value` was read with it."""
        self.note(
            at,
            kinds.FUNCTION,
            tag=machine.tag,
            line=line.name,
            shown=shown,
            by=by,
            value=value,
        )


def _noted(history: History, kind: Kind, body: dict[str, object]) -> None:
    history.note(kind, "", body)


def fill(path: Path, story: Story, jobs: Sequence[Job]) -> int:
    """Write lots and jobs into an empty history at that path; gives how many jobs and machines, 0 if it holds any."""
    told = [min((at for at, *_ in story.acts), default=NOW)]
    with History.open(path, clock=lambda: told[0]) as history, history.together():
        if history.tip().count:
            return 0
        # its jobs are on the machines here
        history.note(kinds.MOVED_IN, "", {"shop": story.scenario.shop})
        for at, _, act in sorted(story.acts, key=lambda one: one[:2]):
            told[0] = at
            act(history)
        told[0] = NOW
        for job in jobs:
            history.adopt(job)
    return len(jobs) + sum(lot.machines for lot in LOTS)


def invented(
    entries: Sequence[Entry],
    check_list: CheckList,
    seed: int = SEED,
    scenario: Scenario | None = None,
) -> Story:
    """The story of the eight lots; the same entries, list and seed give the same one."""
    scenario = scenario or shipped_scenario()
    faults = Faults(entries, seed, scenario)
    story = Story(check_list, {entry.slug: entry for entry in entries}, scenario)
    if not faults.entries:
        return story
    for lot in LOTS:
        rng = Random(f"lot {seed} {lot.name}")
        came = datetime(2026, lot.month, lot.day, 8, 0, tzinfo=UTC)
        story.note(
            came,
            kinds.LOT,
            lot=lot.name,
            bought_on=f"2026-{lot.month:02d}-{lot.day:02d}",
            cents=lot.cents,
            freight_cents=lot.freight_cents,
            claimed=lot.machines,
            seller=scenario.seller,
            note=NOTE,
        )
        machines = list(_machines(lot, faults, came, rng))
        story.donors = [
            machine for machine in machines if machine.end.startswith("donor")
        ]
        for machine in machines:
            _live(story, lot, machine)
    return story


def _machines(
    lot: InventedLot, faults: Faults, came: datetime, rng: Random
) -> Iterator[InventedMachine]:
    """The machines of a lot, each with its fault and the end of its story."""
    listed = list(faults.scenario.models)
    models = rng.sample(listed, min(lot.models, len(listed)))
    for number, end in enumerate(_ends(lot, rng), 1):
        own = Random(f"machine {lot.name} {number}")
        at = came + timedelta(minutes=4 * number)
        yield InventedMachine(
            f"{lot.name}-{number:03d}", _fault_among(models, faults, own), end, at, own
        )


def _fault_among(models: Sequence[str], faults: Faults, rng: Random) -> Fault:
    """The next fault that falls on one of these models."""
    while True:
        fault = faults.draw(rng)
        if fault.model in models:
            return fault


def _ends(lot: InventedLot, rng: Random) -> list[str]:
    """How the story of each machine of a lot ends, in no order."""
    if lot.name == "P8":
        return ["arrived"] * lot.machines
    shares = IN_THE_MIDDLE if lot.name == "P7" else DONE_WITH
    whole = sum(shares.values())
    ends = []
    for end, share in shares.items():
        ends += [end] * round(share * lot.machines / whole)
    ends = (ends + ["sold"] * lot.machines)[: lot.machines]
    rng.shuffle(ends)
    return ends


def _live(story: Story, lot: InventedLot, machine: InventedMachine) -> None:
    """One machine from its arrival as far as its story goes."""
    _came_in(story, lot, machine)
    if machine.end in ("unseen", "arrived"):
        return
    at = _looked_at(story, machine)
    match machine.end:
        case "locked":
            story.note(at, kinds.GONE, tag=machine.tag, how="returned", cents=0)
        case "bench" | "part":
            _on_the_bench(story, machine, at)
        case "waste":
            story.note(at, kinds.GONE, tag=machine.tag, how="waste", cents=0)
        case "donor" | "donor-gone":
            _given_up(story, machine, at)
        case "check":
            _repaired(story, machine, machine.fault, at)
        case "ready" | "sold":
            _finished(story, machine, at)


def _came_in(story: Story, lot: InventedLot, machine: InventedMachine) -> None:
    """The arrival; some machines come without a word of what is wrong with them."""
    rng = machine.rng
    shelf = "DE" if lot.name == "P8" else "ABC"
    place = f"{rng.choice(shelf)}{int(machine.tag[-3:])}"
    silent = machine.end == "unseen" or (
        machine.end in ("sold", "ready", "arrived") and rng.random() < WORDLESS
    )
    words = "" if silent else complaint(machine.fault.entry, rng, story.scenario)
    story.note(
        machine.came,
        kinds.UNIT_IN,
        tag=machine.tag,
        model=machine.fault.model,
        lot=lot.name,
        words=words,
        place=place,
        serial=f"INV{rng.randrange(10**8):08d}",
    )


def _looked_at(story: Story, machine: InventedMachine) -> datetime:
    """The lines that are looked at on arrival; gives when somebody goes on with the machine."""
    rng, at = machine.rng, machine.came
    by = rng.choice(PEOPLE)
    for line in story.check_list.on_arrival:
        locked = machine.end == "locked" and line.name == story.scenario.locks
        if line.name in story.scenario.first_looks:
            at += timedelta(minutes=1)
            story.shown(at, machine, line, "bad" if locked else "good", by)
    return at + timedelta(days=1 + rng.randrange(4), hours=rng.randrange(1, 8))


def _given_up(story: Story, machine: InventedMachine, at: datetime) -> None:
    """A donor, which goes away once its parts are taken if its story ends so."""
    story.note(at, kinds.DONOR, tag=machine.tag, why="worth more in parts")
    if machine.end == "donor-gone":
        story.note(
            at + timedelta(days=20), kinds.GONE, tag=machine.tag, how="waste", cents=0
        )


def _on_the_bench(story: Story, machine: InventedMachine, at: datetime) -> None:
    """A job is open, and where the machine waits for a part, that is wanted."""
    part = next(iter(machine.fault.parts), story.scenario.usual_part)

    def act(history: History) -> None:
        words = complaint(machine.fault.entry, machine.rng, story.scenario, 0.0)
        job = history.open_job(machine.fault.model, machine.tag, words)
        if machine.end == "part":
            history.note(kinds.PART_WANTED, job, {"tag": machine.tag, "part": part})

    story.tell(at, act)


def _repaired(
    story: Story, machine: InventedMachine, fault: Fault, at: datetime
) -> str:
    """The fault was found and mended; gives who did it."""
    rng = machine.rng
    part = rng.choice(fault.parts) if fault.parts else ""
    donor = _donor(story, machine, part, at)
    by = rng.choice(PEOPLE)
    machine.jobs += 1
    job = Job(
        job=derived_id(f"{story.scenario.shop} {machine.tag} {machine.jobs}"),
        shop=story.scenario.shop,
        model=fault.model,
        unit=machine.tag,
        words=complaint(fault.entry, rng, story.scenario),
        cause=fault.name,
        minutes=float(rng.randrange(8, 55)),
        part=part,
        donor=donor,
        closed_at=at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        note=NOTE,
        by=by,
    )
    story.tell(at, lambda history: _adopted(history, job))
    return by


def _adopted(history: History, job: Job) -> None:
    history.adopt(job)


def _donor(story: Story, machine: InventedMachine, part: str, at: datetime) -> str:
    """The donor of the lot that gives a part: of the same model, or of one that it fits; it gives each part once.

    One try across models in six fails, and the reason is written down.
    """
    scenario = story.scenario
    if not part or part in scenario.consumables:
        return ""
    for donor in story.donors:
        model = donor.fault.model
        same = model == machine.fault.model
        fits = same or scenario.fits_across(part, model, machine.fault.model)
        if not fits or (donor.tag, part) in story.gone_parts:
            continue
        story.gone_parts.add((donor.tag, part))
        if same or machine.rng.randrange(MISFITS):
            return donor.tag
        story.note(
            at,
            kinds.FIT,
            part=part,
            from_model=model,
            to_model=machine.fault.model,
            shown="failed",
            why=machine.rng.choice(scenario.misfits),
            source=machine.tag,
        )
    return ""


def _finished(story: Story, machine: InventedMachine, at: datetime) -> None:
    """Repaired, a hidden fault found and mended on one in eight, checked line by line, signed, and sold or ready."""
    rng = machine.rng
    hands = {_repaired(story, machine, machine.fault, at)}
    at += timedelta(days=1, hours=rng.randrange(1, 5))
    by = rng.choice(PEOPLE)
    lines = [line for line in story.check_list.checks if not line.first]
    if lines and rng.randrange(HIDDEN_FAULT) == 0:
        hidden = rng.choice(lines)
        story.shown(at, machine, hidden, "bad", by)
        at += timedelta(minutes=25)
        hands.add(_repaired(story, machine, story.behind(hidden, machine.fault), at))
    check_outs = InventedCheckOuts(story.check_list.lines, CHECK_OUTS, story.scenario)
    looks = tuple(check_outs.looks(machine.tag, machine.fault.model))
    for look in looks:
        at += timedelta(minutes=max(1.0, look.line.minutes))
        story.shown(at, machine, look.line, look.shown, by, value=look.value)
    at += timedelta(minutes=30)
    signer = next((one for one in PEOPLE if one not in hands), "XX")
    read = {
        look.line.reads: look.value
        for look in looks
        if look.line.reads in ("look", "wear", "wipe")
    }
    story.note(at, kinds.SIGNED, tag=machine.tag, by=signer, open="", **read)
    if machine.end == "sold":
        at += timedelta(days=rng.randrange(1, 9))
        story.note(
            min(at, NOW),
            kinds.GONE,
            tag=machine.tag,
            how="sold",
            cents=100 * rng.randrange(90, 260),
        )
