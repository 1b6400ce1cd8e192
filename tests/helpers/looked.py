"""Machines that were looked at line by line, by the shipped list."""

from __future__ import annotations

from kb.history.jobs import OpenJob
from kb.history.units import LineShown, Moved, RepairDone, Shown, Unit
from kb.library import checklist, machine
from kb.library.shelf import stock_folder
from kb.machines.checkout.standing import Depths, LineStanding, repairs_on, standings
from kb.model import Entry, Job

HOUSE = stock_folder() / "house"
LINES = checklist.parse((HOUSE / "checkout.md").read_text("utf-8")).lines
PARTS = machine.parse((HOUSE / "machine.md").read_text("utf-8"))


def shown(line: str, how: Shown, seq: int, job: str = "") -> LineShown:
    return LineShown(line=line, shown=how, seq=seq, record=f"r{seq}", job=job)


def worked(seq: int, part: str = "", fix: str = "x/y", job: str = "j1") -> RepairDone:
    return RepairDone(seq=seq, at="", job=job, by="AW", fix=fix, part=part)


def unit(
    lines: list[LineShown],
    work: tuple[RepairDone, ...] = (),
    moved: tuple[Moved, ...] = (),
    job: str = "",
) -> Unit:
    closed = Job(job, "Tern 13", "x/y", "2026-11-29T10:00:00Z", "shop") if job else None
    jobs = (OpenJob(job=job, closed=closed),) if job else ()
    return Unit(
        key="p7",
        tag="P7",
        lines={one.line: one for one in lines},
        work=work,
        moved=moved,
        jobs=jobs,
    )


def stands(of: Unit, library: tuple[Entry, ...] = ()) -> dict[str, LineStanding]:
    entries = {entry.slug: entry for entry in library}
    depths = Depths("Tern 13", PARTS, LINES, entries.get)
    return {one.line.name: one for one in standings(LINES, of, repairs_on(of, depths))}


def states(of: Unit, library: tuple[Entry, ...] = ()) -> dict[str, str]:
    return {name: one.state.value for name, one in stands(of, library).items()}


def all_good(work: tuple[RepairDone, ...] = (), moved: tuple[Moved, ...] = ()) -> Unit:
    return unit([shown(line.name, "good", 10) for line in LINES], work, moved)
