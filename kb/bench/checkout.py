"""The desk for check-outs: how far a machine's is, what comes next and why, and what is shown, waived and signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import listed, worded
from kb.bench.machines import MachineDesk, NoMachine
from kb.bench.shop import Desk
from kb.diagnosis.knowledge import ShopKnowledge
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.intake import clean
from kb.history.jobs import OpenJob
from kb.history.record import Record
from kb.history.units import Signature, Unit
from kb.index.connections import over_a_sound_index
from kb.language.nearest import nearest
from kb.library.checklist import CheckLine, CheckList
from kb.machines.checkout import handover
from kb.machines.checkout.handover import Readings
from kb.machines.checkout.shares import Looks, leaning
from kb.machines.checkout.standing import (
    Depths,
    LineStanding,
    LineState,
    repairs_on,
    standings,
)
from kb.machines.checkout.way import LineToDo, WayOn, counted_lines, way_on


class NoLine(NotThere):
    """The check-out list has no line of that name."""


class NotReady(Refusal):
    """The machine cannot be signed: the sentence says all that is left."""


class RepairerSigns(Refusal):
    """Whoever repaired a machine does not sign its check-out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckOut:
    """The check-out of one machine as it stands: its lines in the list's order, and the way on.

    `kept_here_by` is all that keeps it from being signed, a sentence each; `signature` the one that stands.
    """

    unit: Unit
    checklist: CheckList
    standing: tuple[LineStanding, ...]
    way: WayOn
    kept_here_by: tuple[str, ...]
    signature: Signature | None

    @property
    def is_ready(self) -> bool:
        """Whether it can be signed."""
        return not self.kept_here_by

    @property
    def settled(self) -> int:
        """How many lines are settled."""
        return sum(one.is_settled for one in self.standing)

    @property
    def saved(self) -> float:
        """The minutes that this order saves against the list's own, on the mean."""
        return self.way.listed_minutes - self.way.expected_minutes

    @property
    def grade(self) -> tuple[str, str] | None:
        """The grade of its look with what that means, None if its look was told in words alone, or not at all."""
        letter = self.readings.look.partition(":")[0].strip()
        looks = [one.line for one in self.standing if one.line.reads == "look"]
        grades = [grade for line in looks for grade in line.grades]
        return next((grade for grade in grades if grade[0] == letter), None)

    @property
    def repairs(self) -> tuple[OpenJob, ...]:
        """The jobs with which something was mended on it."""
        return tuple(job for job in self.unit.jobs if job.confirmed)

    @property
    def next_line(self) -> LineToDo | None:
        """The line to do next, None if nothing is left that can be done."""
        return self.way.todo[0] if self.way.todo else None

    @property
    def failed(self) -> tuple[LineStanding, ...]:
        """The lines that failed and are not mended."""
        return tuple(one for one in self.standing if one.state is LineState.FAILED)

    @property
    def readings(self) -> Readings:
        """Wear, look and wipe record as they were written down."""
        return handover.readings(self.standing)

    @property
    def told_readings(self) -> dict[str, str]:
        """All that was read, by what the lines of the list read."""
        return handover.told_readings(self.standing)

    @property
    def open_points(self) -> tuple[str, ...]:
        """What was waived or is not there, each with its reason."""
        return handover.open_points(self.standing)

    def at(self, line: str) -> LineStanding | None:
        """The line of that name as it stands, or None."""
        return next((one for one in self.standing if one.line.name == line), None)


@dataclass(frozen=True, slots=True)
class Failed:
    """A line that was shown bad, the job that it opened, and the words that the job is searched with."""

    line: str
    job: str
    words: str


class CheckOutDesk(Desk):
    """Where machines are checked before they are handed over."""

    def of(self, tag: str) -> CheckOut:
        """The check-out of the machine of that tag; raises NoMachine, or what the history does."""
        unit = MachineDesk(self.shop).unit(tag)
        checklist = self.shop.customs.check_list()
        standing, way = self._reckoned(unit, checklist)
        return CheckOut(
            unit=unit,
            checklist=checklist,
            standing=standing,
            way=way,
            kept_here_by=handover.kept_here_by(unit, standing),
            signature=handover.signature_that_stands(unit, standing),
        )

    def line(self, name: str) -> CheckLine:
        """The line of the list of that name, however its case is written; raises NoLine with the nearest one."""
        lines = {
            line.name.casefold(): line for line in self.shop.customs.check_list().lines
        }
        wanted = name.strip().casefold()
        if wanted not in lines:
            near = nearest(wanted, list(lines))
            instead = worded("it has {lines}", lines=", ".join(lines))
            if near:
                instead = worded("did you mean `{name}`?", name=lines[near].name)
            told = clean(name).strip()[:60]
            raise NoLine(
                worded(
                    "the check-out list has no line `{name}`; {instead}",
                    name=told,
                    instead=instead,
                )
            )
        return lines[wanted]

    def good(
        self, tag: str, line: str, value: str = "", by: str = "", token: str = ""
    ) -> Record:
        """Write down that a line showed good, or that a step of work is done; `value` is what was read with it.

        Raises NoLine, and Refusal for a line that comes after one that is not settled, and for a pinned one of which
        something is read (how it was wiped) where nothing was: the record is part of it (NIST SP 800-88 Rev. 2).
        """
        stands = self.of(tag)
        found = self.line(line)
        if found.first and found.reads and not value.strip():
            raise Refusal(
                worded(
                    "{name} is good with its record alone; write down how, with what result, and how that was verified",
                    name=found.name,
                )
            )
        unsettled = {one.line.name for one in stands.standing if not one.is_settled}
        waits = [name for name in found.after if name in unsettled]
        if waits:
            raise Refusal(
                worded(
                    "{name} comes after {waits}; show that first",
                    name=found.name,
                    waits=" and ".join(waits),
                )
            )
        return self._shown(stands.unit, found, "good", token, value=value, by=by)

    def bad(
        self, tag: str, line: str, words: str = "", by: str = "", token: str = ""
    ) -> Failed:
        """Write down that a line failed, and open the job in which the fault is looked for, with these words.

        Without words it is searched with the first fault picture of the line. A line that failed already and whose
        job is still open keeps that job.
        """
        stands = self.of(tag)
        found = self.line(line)
        if found.work:
            raise Refusal(
                worded(
                    "{name} is a step of work and cannot fail; show the line that failed as bad",
                    name=found.name,
                )
            )
        before = stands.at(found.name)
        if (
            before
            and before.state is LineState.FAILED
            and self._is_open(stands.unit, before)
        ):
            job = before.shown.job if before.shown else ""
            return Failed(
                found.name,
                job,
                next(one.words for one in stands.unit.jobs if one.job == job),
            )
        said = words.strip() or self._picture(found)
        history = self.shop.history()
        with history.together():
            job = history.open_job(
                stands.unit.model, stands.unit.tag, said, token_beside(token, "job")
            )
            self._shown(
                stands.unit, found, "bad", token, why=words.strip(), by=by, job=job
            )
        return Failed(found.name, job, said)

    def waive(
        self, tag: str, line: str, why: str, by: str = "", token: str = ""
    ) -> Record:
        """Let a machine go without a line, for a reason that stands on its sheet.

        Raises Refusal without a reason, and for a pinned line: what can hurt or is law is not waived.
        """
        stands = self.of(tag)
        found = self.line(line)
        if found.first:
            raise Refusal(
                worded(
                    "{name} is never waived: what can hurt, or is law, is shown good or mended",
                    name=found.name,
                )
            )
        if found.work:
            raise Refusal(
                worded(
                    "{name} is a step of work and is not waived; say when it is done",
                    name=found.name,
                )
            )
        if not why.strip():
            raise Refusal(
                worded(
                    "{name} is waived for a reason alone; say why in a few words",
                    name=found.name,
                )
            )
        return self._shown(stands.unit, found, "waived", token, why=why.strip(), by=by)

    def not_there(
        self, tag: str, line: str, why: str = "", by: str = "", token: str = ""
    ) -> Record:
        """Write down that a machine has nothing that a line could show: no camera, no card reader.

        A pinned line needs a reason, such as that no pack is fitted.
        """
        stands = self.of(tag)
        found = self.line(line)
        if found.first and not why.strip():
            raise Refusal(
                worded(
                    "{name} is a pinned line; say in a few words why there is nothing to look at",
                    name=found.name,
                )
            )
        return self._shown(
            stands.unit, found, "not-there", token, why=why.strip(), by=by
        )

    def take_back(self, tag: str, line: str, token: str = "") -> None:
        """Strike what a line showed last; a job that its failure opened is put away if nothing was found on it."""
        stands = self.of(tag)
        found = self.line(line)
        shown = stands.unit.lines.get(found.name)
        if shown is None:
            raise Refusal(
                worded(
                    "{name} showed nothing yet; there is nothing to take back",
                    name=found.name,
                )
            )
        history = self.shop.history()
        opened = [job for job in stands.unit.open_jobs if job.job == shown.job]
        untouched = [
            job for job in opened if not (job.findings or job.failed_fixes or job.notes)
        ]
        with history.together():
            history.note(
                kinds.STRUCK,
                "",
                {"record": shown.record, "why": "taken back at the check-out"},
                token,
            )
            for job in untouched:
                history.retract(
                    job.job,
                    f"{found.name} was taken back",
                    token=token_beside(token, "job"),
                )

    def sign(self, tag: str, by: str, token: str = "") -> Record:
        """Sign the check-out of a machine; raises NotReady with all that is left, RepairerSigns, Refusal without name.

        With the signature go the battery's wear, the look, the wipe record, the open points and the list's mark.
        """
        stands = self.of(tag)
        initials = by.strip()
        if not initials:
            raise Refusal(worded("the signature is missing; give your initials"))
        if not stands.is_ready:
            raise NotReady(
                worded(
                    "{tag} is not ready to be signed: {reasons}",
                    tag=stands.unit.tag,
                    reasons=listed(stands.kept_here_by),
                )
            )
        if initials.casefold() in stands.unit.repairers:
            told = worded(
                "{initials} repaired {tag}, and whoever repaired does not sign",
                initials=initials,
                tag=stands.unit.tag,
            )
            raise RepairerSigns(
                worded("{told}; have somebody else go through it and sign", told=told)
            )
        read = stands.readings
        body = {
            "tag": stands.unit.tag,
            "by": initials,
            "look": read.look,
            "wear": read.wear,
            "wipe": read.wipe,
            "open": "; ".join(stands.open_points),
            "list": handover.fingerprint(stands.checklist.lines),
        }
        return self.shop.history().note(kinds.SIGNED, "", body, token)

    def opened_by(self, job: str, tag: str) -> str:
        """The line of a machine's check-out whose failure opened a job, empty if none did or no record names it."""
        try:
            unit = MachineDesk(self.shop).unit(tag)
        except NoMachine:
            return ""
        return next(
            (shown.line for shown in unit.lines.values() if shown.job == job), ""
        )

    def pictures_of(self, line: CheckLine) -> tuple[str, ...]:
        """The titles of the fault pictures that a line leads to when it fails."""
        with self.shop.knowing() as knowledge:
            entries = [knowledge.entry(slug) for slug in line.sheets]
        return tuple(entry.title for entry in entries if entry)

    def deeds_after(self, stands: CheckOut) -> tuple[str, ...]:
        """What is to be done at once where a pinned line failed: a pack that swells, a lock."""
        lines = [one.line for one in stands.failed if one.line.first]
        with self.shop.knowing() as knowledge:
            entries = [knowledge.entry(slug) for line in lines for slug in line.sheets]
        deeds: dict[str, None] = {}
        for entry in filter(None, entries):
            deeds |= dict.fromkeys(entry.deeds)
        return tuple(deeds)

    @over_a_sound_index
    def looks(self, model: str) -> tuple[dict[str, Looks], dict[str, Looks]]:
        """What check-outs showed of each line, on machines of this model and on all others."""
        here: dict[str, Looks] = {}
        elsewhere: dict[str, Looks] = {}
        with self.files.floor() as (index, _):
            for line, is_here, bad, seen in index.floor.shown(model):
                counts = here if is_here else elsewhere
                counts[line] = Looks(bad, seen)
        return here, elsewhere

    @over_a_sound_index
    def _reckoned(
        self, unit: Unit, checklist: CheckList
    ) -> tuple[tuple[LineStanding, ...], WayOn]:
        """How the lines stand, and the way on, by all that the shop knows."""
        lines = checklist.lines
        with self.shop.knowing(unit.model) as knowledge:
            depths = Depths(
                unit.model, self.shop.customs.complete_machine(), lines, knowledge.entry
            )
            standing = standings(lines, unit, repairs_on(unit, depths))
            leanings = _leanings(lines, knowledge)
        here, elsewhere = self.looks(unit.model)
        return standing, way_on(
            standing, counted_lines(lines, here, elsewhere, leanings)
        )

    def _picture(self, line: CheckLine) -> str:
        """The words for a failed line of which nothing was said: its first fault picture, else its name."""
        return next(iter(self.pictures_of(line)), line.name.replace("-", " "))

    def _shown(
        self,
        unit: Unit,
        line: CheckLine,
        shown: str,
        token: str,
        *,
        job: str = "",
        **told: str,
    ) -> Record:
        body: Mapping[str, object] = {
            "tag": unit.tag,
            "line": line.name,
            "shown": shown,
            **told,
        }
        return self.shop.history().note(kinds.FUNCTION, job, body, token)

    def _is_open(self, unit: Unit, stands: LineStanding) -> bool:
        return stands.shown is not None and any(
            job.job == stands.shown.job for job in unit.open_jobs
        )


def _leanings(
    lines: tuple[CheckLine, ...], knowledge: ShopKnowledge
) -> dict[str, float]:
    """How far complaints about the model lead away from what is expected of each line."""
    told = knowledge.counts.told
    jobs_here, jobs_elsewhere = (
        round(sum(told.here.values())),
        round(sum(told.elsewhere.values())),
    )
    found = {}
    for line in lines:
        here = round(sum(told.here.get(sheet, 0.0) for sheet in line.sheets))
        elsewhere = round(sum(told.elsewhere.get(sheet, 0.0) for sheet in line.sheets))
        found[line.name] = leaning(
            Looks(here, jobs_here), Looks(elsewhere, jobs_elsewhere)
        )
    return found
