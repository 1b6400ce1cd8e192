"""The desk for parts: who has one that fits, what machines wait for, and what left donors."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.bench.asking import AskingDesk
from kb.bench.checkout import CheckOutDesk
from kb.bench.jobs import JobDesk, so_far
from kb.bench.machines import MachineDesk
from kb.bench.shop import Desk, Shop
from kb.diagnosis.answer import Outline
from kb.diagnosis.answering import Complaint
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.intake import tag_key
from kb.history.jobs import OpenJob
from kb.history.marks import Tip
from kb.history.record import Record
from kb.history.units import Moved, Unit
from kb.index.connections import over_a_sound_index
from kb.index.floor import OF_PARTS, UnitLine
from kb.index.jobs import JobRow
from kb.language.nearest import nearest
from kb.library.checklist import CheckList
from kb.library.machine import MachinePart
from kb.machines import complaints, donors
from kb.machines.checkout.shares import Looks, in_all
from kb.machines.complaints import BelievedCause
from kb.machines.donors import (
    UNNOTICED,
    PartOfDonor,
    Source,
    Suspicion,
    Tries,
    after_line,
)
from kb.machines.drawer import DrawerPiece, PieceFitted
from kb.machines.fits import Fitting
from kb.machines.parts_told import Donated, PartsTold, PricePaid, parts_told
from kb.machines.units import FloorUnit, complaint_of, floor_unit

#: A part that the list of a complete machine does not name: minutes out and in (common practice, no source).
UNLISTED_PART = MachinePart(name="", out=10.0, fit=10.0, depth=2)


#: Entries that are reckoned with for a machine.
ENTRIES = 8
#: Two models may want the same piece from this chance on that it fits the other.
RIVAL = 0.5
#: Why a part that was taken for a machine did not help.
TurnedOut = Literal["did not fit", "was dead", "not the cause"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOffer:
    """A donor that may give a part, or a piece in the drawer: the evidence that it fits, how likely it is good, where.

    `piece` is None for a part that is still in its donor, which stands at `place`.
    """

    place: str
    fitting: Fitting
    source: Source
    piece: DrawerPiece | None = None

    @property
    def count(self) -> int:
        """How many there are of it."""
        return self.piece.count if self.piece else 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSources:
    """Who has a part: donors and the drawer in the order of trying, and what a new one costs (None if none was bought).

    `did_not_fit` are those of models of which one was tried in vain.
    """

    part: str
    model: str
    offers: tuple[PartOffer, ...]
    tries: Tries
    did_not_fit: tuple[PartOffer, ...]
    price: PricePaid | None
    days: int | None
    waiting: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedPart:
    """A part that machines of one model wait for: their tags, the donors or drawers that may give it, the price."""

    part: str
    model: str
    tags: tuple[str, ...]
    donors: tuple[str, ...]
    on_the_way: int
    price: PricePaid | None

    @property
    def to_order(self) -> int:
        """How many are neither on the way nor likely to be had from a donor."""
        return max(len(self.tags) - len(self.donors) - self.on_the_way, 0)


class PartsDesk(Desk):
    """Where parts are looked for, taken and tried; what was worked out is kept until the history goes on."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop)
        self._told: tuple[Tip | None, PartsTold] = (None, PartsTold())
        self._grounds: tuple[object, ...] = ()
        self._answers: dict[object, Outline | None] = {}
        self._looks: dict[str, tuple[Mapping[str, Looks], Mapping[str, Looks]]] = {}
        self._givers: dict[FloorUnit, tuple[Unit, tuple[BelievedCause, ...]]] = {}
        self._served_by: tuple[CheckList | None, dict[str, frozenset[str]]] = (None, {})

    def told(self) -> PartsTold:
        """All that records tell of parts."""
        tip, told = self._told
        now = self.shop.history().tip()
        if tip != now:
            told = self._told_now()
            self._told, self._looks, self._givers = (now, told), {}, {}
        grounds = self._grounds_now()
        if self._grounds != grounds:
            self._grounds, self._answers, self._givers = grounds, {}, {}
        return told

    @property
    def grounds(self) -> object:
        """What all beliefs of machines hang on, as of the last telling."""
        return self._grounds

    @over_a_sound_index
    def _told_now(self) -> PartsTold:
        with self.files.floor() as (index, history):
            seqs = index.floor.loose_records(OF_PARTS) if history else []
            records = history.records(seqs) if history and seqs else ()
        with self.shop.knowing() as knowledge:
            index = knowledge.index
            jobs = list(index.jobs.donated())
            models = index.floor.models_of(tag_key(job.donor) for job in jobs)
            told = parts_told(records, [_donated(job, models) for job in jobs])
            if not told.drawer:
                return told
            since = min(piece.at for piece in told.drawer)
            fitted = index.jobs.fitted({piece.part for piece in told.drawer}, since)
            givers = index.floor.models_of(
                tag_key(piece.origin) for piece in told.drawer
            )
            return told.with_jobs(map(_fitted, fitted), givers)

    @over_a_sound_index
    def _grounds_now(self) -> tuple[object, ...]:
        """What all answers hang on: sheets, words, jobs that count, how these age, and what the bench lacks."""
        with self.shop.knowing() as knowledge:
            taken_in = map(knowledge.index.about, ("sheets", "counted", "generation"))
            return *taken_in, self.shop.ageing, self.shop.settings

    @over_a_sound_index
    def donors(self) -> tuple[FloorUnit, ...]:
        """The machines that are here for their parts, by tag."""
        with self.files.floor() as (index, _):
            return tuple(floor_unit(line) for line in index.floor.donors())

    @over_a_sound_index
    def wanting(self) -> tuple[FloorUnit, ...]:
        """The machines that wait for a part, by tag."""
        with self.files.floor() as (index, _):
            return tuple(floor_unit(line) for line in index.floor.wanting())

    def who_has(
        self, part: str, model: str, besides: str = "", *, least: float = 0.0
    ) -> PartSources:
        """The donors that may give a part to a model, best chance a minute first; `besides` is the one that asks.

        Donors whose part fits less likely than `least` are passed over.
        """
        name, model = self.named(part), self.shop.same_models().kept(model)
        told = self.told()
        wanting = [unit.line for unit in self.wanting()]
        wanted = {
            line.tag: line.wanted
            for line in wanting
            if _serves_both(told, name, model, line.model)
        }
        waiting = donors.also_wanted(name, wanted, besides)
        offers = tuple(self._offers(name, model, told, waiting, least))
        # without those that cannot serve
        order = donors.in_order([one.source for one in offers])
        by_source = {id(one.source): one for one in offers}
        return PartSources(
            part=name,
            model=model,
            offers=tuple(by_source[id(source)] for source in order.order),
            tries=order,
            did_not_fit=tuple(
                one for one in offers if one.fitting.verdict == "did not fit"
            ),
            price=told.price(name, model),
            days=told.days(name),
            waiting=waiting,
        )

    def wanted(self) -> tuple[WantedPart, ...]:
        """What machines wait for, most wanted first."""
        told = self.told()
        asked = defaultdict[tuple[str, str], list[str]](list)
        for unit in self.wanting():
            for part in unit.line.wanted:
                asked[part, unit.line.model].append(unit.line.tag)
        needs = defaultdict[str, dict[str, int]](dict)
        for (part, model), tags in asked.items():
            needs[part][model] = len(tags)
        coming = {
            part: told.coming(part, of_models) for part, of_models in needs.items()
        }
        found = [
            WantedPart(
                part=part,
                model=model,
                tags=tuple(tags),
                donors=self._likely_givers(part, model, told),
                on_the_way=coming[part][model],
                price=told.price(part, model),
            )
            for (part, model), tags in asked.items()
        ]
        return tuple(
            sorted(found, key=lambda one: (-len(one.tags), one.part, one.model))
        )

    def _likely_givers(self, part: str, model: str, told: PartsTold) -> tuple[str, ...]:
        """The donors and drawers that as likely as not have a part that serves, each as often as it has one."""
        givers: list[str] = []
        for offer in self._offers(part, model, told, ()):
            if offer.source.chance >= 0.5:
                givers += [offer.source.tag] * offer.count
        return tuple(givers)

    def take(
        self,
        donor: str,
        part: str,
        tag: str = "",
        *,
        good: str = "unknown",
        token: str = "",
    ) -> Record:
        """Write down that a part left a donor, for a machine if that is known; a part leaves once.

        Refusal if it has left already, also where two take it at the same moment.
        """
        name = self.named(part)
        machines = MachineDesk(self.shop)
        receiver = machines.unit(tag).tag if tag.strip() else ""
        history = self.shop.history()
        with history.together():
            if written := history.written_with(token):
                return written
            giver = machines.unit(donor)
            self._refuse_to_give(giver, name, receiver)
            body = {"donor": giver.tag, "part": name, "tag": receiver, "good": good}
            return history.note(kinds.PART_OUT, "", body, token)

    def _refuse_to_give(self, giver: Unit, name: str, receiver: str) -> None:
        """Raise Refusal where a machine is no donor, or has that part no more, or would get it itself."""
        if tag_key(receiver) == giver.key:
            raise Refusal(
                worded(
                    "{name} cannot go from {tag} into itself; name the machine that gets it",
                    name=name,
                    tag=giver.tag,
                )
            )
        if not giver.is_donor:
            raise Refusal(
                worded(
                    "{tag} is no donor: its own repair needs the {name}; give it up for its parts first",
                    tag=giver.tag,
                    name=name,
                )
            )
        gone = [one for one in giver.given if one.part == name]
        if len(gone) >= self.held(name, giver.model).count:
            raise Refusal(
                worded(
                    "{name} has left {tag} already; look for another donor",
                    name=name,
                    tag=giver.tag,
                )
            )

    def take_piece(self, record: str, tag: str, token: str = "") -> Record:
        """Write down that a piece was taken out of the drawer for a machine; `record` is that which laid it in.

        Refusal if it is there no more, also where two take it at the same moment.
        """
        machines, history = MachineDesk(self.shop), self.shop.history()
        receiver = machines.unit(tag).tag
        with history.together():
            if written := history.written_with(token):
                return written
            piece = next(
                (one for one in self.told().drawer if one.record == record), None
            )
            if piece is None:
                raise Refusal(
                    worded("that piece is in the drawer no more; look for another one")
                )
            if piece.is_bought:  # none came, one of those that lay there goes
                body = {
                    "purchase": piece.origin,
                    "count": 0,
                    "part": piece.part,
                    "tag": receiver,
                }
                return history.note(kinds.PART_IN, "", body, token)
            machines.strike(
                record, f"it went to {receiver}", token_beside(token, "struck")
            )
            gone = {
                "donor": piece.origin,
                "part": piece.part,
                "tag": receiver,
                "good": piece.good,
            }
            return history.note(kinds.PART_OUT, "", gone, token)

    def tried(
        self,
        part: str,
        giver: str,
        receiver: str,
        *,
        shown: str,
        why: str = "",
        source: str = "",
        token: str = "",
    ) -> Record:
        """Write down that a part of one model worked, failed for a reason of fit, or is claimed to fit another."""
        body = {
            "part": self.named(part),
            "from_model": giver,
            "to_model": receiver,
            "shown": shown,
        }
        body |= {
            name: value for name, value in (("why", why), ("source", source)) if value
        }
        return self.shop.history().note(kinds.FIT, "", body, token)

    def turned_out(
        self,
        part: str,
        tag: str,
        shown: TurnedOut,
        why: str = "",
        token: str = "",
        *,
        source: str = "",
    ) -> Record:
        """Write down why a donor's part did not help a machine: it did not fit, was dead, or was not the cause.

        Only the first speaks against the fit; the part goes to the drawer then, and the machine waits on, as it does
        for a dead one. A part that was not the cause has fitted, which `source` may say. Refusal if no such part was
        taken for the machine.
        """
        name = self.named(part)
        machines, history = MachineDesk(self.shop), self.shop.history()
        with history.together():
            if written := history.written_with(token):
                return written
            unit = machines.unit(tag)
            moved = _last_taken(unit, name)
            giver = machines.unit(moved.donor).model
            if shown == "not the cause":
                return self.tried(
                    name, giver, unit.model, shown="worked", source=source, token=token
                )
            machines.strike(moved.record, f"it {shown}", token_beside(token, "struck"))
            gone = {"donor": moved.donor, "part": name, "tag": unit.tag, "good": "no"}
            if shown == "was dead":
                return history.note(kinds.PART_OUT, "", gone, token)
            into_drawer = gone | {"tag": "", "good": "unknown"}
            history.note(kinds.PART_OUT, "", into_drawer, token_beside(token, "out"))
            return self.tried(
                name, giver, unit.model, shown="failed", why=why, token=token
            )

    def answer(self, line: FloorUnit) -> Outline | None:
        """What is believed of the fault of a machine: by its open job, else by its complaint; None without words."""
        return self.answers([line])[0]

    def answers(self, lines: Sequence[FloorUnit]) -> list[Outline | None]:
        """The same of many machines, for which the files are looked at once."""
        kept = self._answers  # those of now: another thread may begin new ones
        asked = {_question(line.line): line.line for line in lines}
        complained = {}
        for key, unit in asked.items():
            complaint = self._complaint(unit) if key not in kept else None
            if complaint:
                complained[key] = complaint
        if complained:
            found = AskingDesk(self.shop).outlines(complained.values())
            kept.update(zip(complained, found, strict=True))
        return [kept.get(_question(line.line)) for line in lines]

    def at_once(self, unit: FloorUnit) -> dict[str, tuple[str, ...]]:
        """What is to be done at once with a machine, by the words that tell of it: each of its open jobs is heard."""
        answer, jobs = self.answer(unit), unit.line.open_jobs
        if len(jobs) < 2 and not (answer and answer.at_once):
            return {}
        asked = [self._of_job(job) for job in jobs]
        answers = [*AskingDesk(self.shop).outlines(asked[:-1]), answer]
        words = [one.text for one in asked] or [unit.line.words]
        return {
            told: one.at_once
            for told, one in zip(words, answers, strict=True)
            if one and one.at_once
        }

    def at_once_beside(self, job: OpenJob) -> tuple[str, ...]:
        """What the other open jobs of its machine say is to be done at once: who works on this one is near it too."""
        line = MachineDesk(self.shop).line(job.unit) if job.unit.strip() else None
        others = [one for one in line.open_jobs if one != job.job] if line else []
        answers = AskingDesk(self.shop).outlines(map(self._of_job, others))
        return tuple(dict.fromkeys(deed for one in answers for deed in one.at_once))

    def _of_job(self, name: str) -> Complaint:
        job = JobDesk(self.shop).job(name)
        return Complaint(
            text=job.words,
            model=job.model,
            findings=job.outcomes,
            at=so_far(job),
            limit=ENTRIES,
        )

    def _complaint(self, unit: UnitLine) -> Complaint | None:
        if unit.open_jobs:
            return self._of_job(unit.open_jobs[-1])
        words = complaint_of(unit)
        return Complaint(text=words, model=unit.model, limit=ENTRIES) if words else None

    def goodness(
        self, part: str, unit: Unit, causes: tuple[BelievedCause, ...]
    ) -> float:
        """How likely a part of a machine is good: by what is wrong with it, its check-out lines, and its model."""
        suspected = complaints.suspicions(causes, self.shop.customs.spread())
        return self._good(part, unit.model, suspected, self._line_shown(part, unit))

    def goodness_listed(
        self, line: UnitLine, causes: tuple[BelievedCause, ...]
    ) -> Callable[[str], float]:
        """The same by part of a machine as lists show it, which need not be read record by record."""
        suspected = complaints.suspicions(causes, self.shop.customs.spread())
        failed = frozenset(line.failed_lines)
        looked_at = failed.union(line.good_lines)

        def good(part: str) -> float:
            named = self._lines_for(part)
            shown = None if named.isdisjoint(looked_at) else named.isdisjoint(failed)
            return self._good(part, line.model, suspected, shown)

        return good

    def _good(
        self,
        part: str,
        model: str,
        suspected: tuple[Suspicion, ...],
        shown: bool | None,
    ) -> float:
        here, elsewhere = self._looked_at(part, model)
        known = PartOfDonor(
            part=part,
            suspicions=suspected,
            on_model=here,
            on_others=elsewhere,
            line=shown,
        )
        return donors.good(known)

    def piece_goodness(self, piece: DrawerPiece) -> float:
        """How likely a piece in the drawer is good: a new one is, one from a donor as it would be in there still."""
        if piece.is_bought:
            return 1.0
        try:
            donor = MachineDesk(self.shop).machine(piece.origin)
        except NotThere:
            return 1.0 - UNNOTICED
        good = self.goodness(
            piece.part, donor.unit, complaints.believed(self.answer(donor.stands))
        )
        return after_line(good, True) if piece.good == "yes" else good

    def _offers(
        self,
        part: str,
        model: str,
        told: PartsTold,
        waiting: tuple[str, ...],
        least: float = 0.0,
    ) -> Iterator[PartOffer]:
        yield from self._loose(part, model, told, waiting, least)
        for line in self.donors():
            held = self.held(part, line.line.model)
            if told.gone.get((line.line.key, part), 0) >= held.count:
                continue
            known = told.fitting(part, line.line.model, model)
            if known.likely < least:
                continue
            good = self.goodness(part, *self._giver(line))
            source = Source(
                tag=line.line.tag,
                fits=known.likely,
                good=good,
                minutes=held.out + held.fit,
                wanted_by=waiting,
            )
            yield PartOffer(place=line.line.place, fitting=known, source=source)

    def _loose(
        self,
        part: str,
        model: str,
        told: PartsTold,
        waiting: tuple[str, ...],
        least: float,
    ) -> Iterator[PartOffer]:
        """The pieces in the drawer, which nobody has to take out of anything."""
        for piece in told.drawer:
            if piece.part != part:
                continue
            known = told.fitting(part, piece.model, model)
            if known.likely < least:
                continue
            source = Source(
                tag=piece.name,
                fits=known.likely,
                good=self.piece_goodness(piece),
                minutes=self.held(part, piece.model).fit,
                wanted_by=waiting,
            )
            yield PartOffer(place="", fitting=known, source=source, piece=piece)

    def _giver(self, line: FloorUnit) -> tuple[Unit, tuple[BelievedCause, ...]]:
        """All that records tell of a donor, and what is believed of it."""
        givers = self._givers  # those of now: another thread may begin new ones
        if line not in givers:
            givers[line] = (
                MachineDesk(self.shop).unit(line.line.tag),
                complaints.believed(self.answer(line)),
            )
        return givers[line]

    def _line_shown(self, part: str, unit: Unit) -> bool | None:
        """What the last line of the check-out that a part serves has shown on a machine."""
        named = self._lines_for(part)
        last = None
        for shown in sorted(unit.lines.values(), key=lambda one: one.seq):
            if shown.line in named and shown.shown in ("good", "bad"):
                last = shown.shown == "good"
        return last

    def _looked_at(self, part: str, model: str) -> tuple[Looks, Looks]:
        """What the lines that a part serves showed on machines of the model, and on all others."""
        looks = self._looks  # that of now: another thread may begin a new one
        if model not in looks:
            looks[model] = CheckOutDesk(self.shop).looks(model)
        here, elsewhere = looks[model]
        named = self._lines_for(part)
        return in_all(here, named), in_all(elsewhere, named)

    def _lines_for(self, part: str) -> frozenset[str]:
        """The names of the check-out lines that a part serves."""
        now = self.shop.customs.check_list()
        check_list, served_by = self._served_by
        if check_list is not now:
            self._served_by = _, served_by = now, {}
        if part not in served_by:
            served_by[part] = frozenset(
                line.name for line in now.lines if part in line.parts
            )
        return served_by[part]

    def held(self, part: str, model: str) -> MachinePart:
        """A part as a machine of that model holds it; as good as any for one that the shop's list does not name."""
        return self.shop.customs.complete_machine().part(part, model) or UNLISTED_PART

    def named(self, name: str) -> str:
        """The one spelling of a part; one that neither the library nor a purchase knows stays as it is written.

        Raises NotThere for one near a known one, which would make a second part of a slip.
        """
        plain, parts = " ".join(name.split()), self.shop.customs.trade().parts
        if not plain:
            raise Refusal(worded("no part is named; write one such as panel"))
        if known := self.shop.customs.trade().spelled(plain):
            return known
        bought = {one.part for one in self.told().purchases}
        if plain not in bought and (near := nearest(plain, parts)):
            raise NotThere(
                worded(
                    "there is no part `{part}`; did you mean `{near}`?",
                    part=plain[:60],
                    near=near,
                )
            )
        return plain


def in_all_words(dangers: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """What is to be done at once whatever words tell of it, each deed once."""
    deeds = [deed for told in dangers.values() for deed in told]
    return tuple(dict.fromkeys(deeds))


def _last_taken(unit: Unit, part: str) -> Moved:
    """The donor's part that was last taken for a machine and is in no job of it; Refusal if none was."""
    taken = [one for one in unit.taken if one.part == part and not one.job]
    if not taken:
        raise Refusal(
            f"no donor gave a {part} for {unit.tag}; take one with --take first"
        )
    return taken[-1]


def _question(unit: UnitLine) -> tuple[object, ...]:
    """What the answer to a machine's words hangs on, beside what all answers do.

    Where no job is open these are words and model alone, so that machines of one model that suffer from the same
    have one answer.
    """
    of_its_job = (unit.key, unit.last_at, unit.open_jobs) if unit.open_jobs else ()
    return *of_its_job, unit.words, unit.model


def _serves_both(told: PartsTold, part: str, model: str, other: str) -> bool:
    """Whether a part that fits one model is as likely as not to fit the other, so that both may want the same piece."""
    return model == other or told.fitting(part, model, other).likely >= RIVAL


def _fitted(job: JobRow) -> PieceFitted:
    """What a job without a donor tells of the part that ended it."""
    return PieceFitted(job.part, tag_key(job.unit), job.model, job.closed_at)


def _donated(job: JobRow, models: Mapping[str, str]) -> Donated:
    """What a job with a donor tells of the part."""
    donor = tag_key(job.donor)
    return Donated(
        part=job.part,
        donor=donor,
        giver=models.get(donor, ""),
        receiver=job.model,
        at=job.closed_at,
        job=job.job,
    )
