"""The desk for machines: each by its tag, the lots they came in, and what is written down of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kb.base.trouble import NotThere, Refusal
from kb.bench.shop import Desk
from kb.history import History, kinds
from kb.history.intake import clean, tag_key
from kb.history.jobs import OpenJob
from kb.history.kinds import Kind
from kb.history.record import Record
from kb.history.units import Unit, body_of, unit_of
from kb.index.connections import over_a_sound_index
from kb.index.floor import UnitLine, line_of
from kb.index.index import Index
from kb.library import house
from kb.library.checklist import CheckLine
from kb.machines.lots import Lot, LotTold, lot_key, lot_of, lots_told, natural
from kb.machines.units import FloorState, FloorUnit, floor_unit, is_unknown

if TYPE_CHECKING:  # what reads lists is loaded by whoever takes one in
    from kb.machines.arrival import InShop, Pallet
    from kb.machines.labels import Label


class NoMachine(NotThere):
    """No record names this tag."""

    def __init__(self, tag: str) -> None:
        self.tag = " ".join(clean(tag).split())[:60]
        super().__init__(f"no record names a machine {self.tag}; take it in, or look at how its label is read")


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine with all that its records tell, its state and its next step."""

    unit: Unit
    stands: FloorUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrived:
    """One machine as it is taken in at the bench; `looks` is what the lines looked at on arrival showed."""

    lot: str = ""
    tag: str = ""
    model: str = ""
    words: str = ""
    place: str = ""
    by: str = ""
    looks: Mapping[str, str] = field(default_factory=dict)


class MachineDesk(Desk):
    """Where machines are looked up by tag and lots by name, and where what happens to them is written down."""

    @over_a_sound_index
    def unit(self, tag: str) -> Unit:
        """The machine of a tag, however its case and blanks are written; raises NoMachine, or what the history does."""
        self.shop.history()  # a history that cannot be used is told, and not taken for one without the machine
        with self.files.floor() as (index, history):
            return self._unit(index, history or self.shop.history(), tag)

    def machine(self, tag: str) -> Machine:
        """The same with its state and its next step."""
        unit = self.unit(tag)
        return Machine(unit, floor_unit(line_of(unit), self.names_on_arrival()))

    @over_a_sound_index
    def line(self, tag: str) -> UnitLine | None:
        """The machine of a tag as lists show it, or None; quicker than all its records."""
        with self.files.floor() as (index, _):
            return index.floor.line(tag_key(clean(tag)))

    @over_a_sound_index
    def units(self, lot: str = "") -> tuple[FloorUnit, ...]:
        """The machines of a lot, or all that the shop knows, by tag, with state and next step."""
        looks = self.names_on_arrival()
        with self.files.floor() as (index, _):
            return tuple(floor_unit(line, looks) for line in index.floor.lines(lot.strip()))

    def lot(self, name: str) -> Lot:
        """The lot of that name with its machines; raises NotThere if neither a purchase nor a machine names it."""
        told = self.lots_told().get(lot_key(name))
        units = self.units(name.strip()) if name.strip() else ()
        if not (told or units):
            raise NotThere(f"no machine came in a lot {clean(name).strip()[:60]}; name one of the lots of this shop")
        spelt = (told.lot if told else "") or units[0].line.lot
        return lot_of(spelt, told or LotTold(lot=spelt), units)

    def lots(self) -> tuple[Lot, ...]:
        """Every lot, the one with the latest news first."""
        told = self.lots_told()
        found: dict[str, list[FloorUnit]] = {key: [] for key in told}
        for unit in self.units():
            if unit.line.lot:
                found.setdefault(lot_key(unit.line.lot), []).append(unit)
        lots = []
        for key, units in found.items():
            spelt = told[key].lot if key in told else units[0].line.lot
            lots.append(lot_of(spelt, told.get(key, LotTold(lot=spelt)), units))
        return tuple(sorted(lots, key=_latest_first))

    @over_a_sound_index
    def lots_told(self) -> Mapping[str, LotTold]:
        """What was told of purchases, by folded name of the lot."""
        with self.files.floor() as (index, history):
            seqs = index.floor.loose_records()
            return lots_told(history.records(seqs)) if history and seqs else {}

    def open_jobs(self, tag: str) -> tuple[OpenJob, ...]:
        """The open jobs of a machine, none for one that nobody knows."""
        line = self.line(tag) if tag.strip() else None
        return tuple(self.shop.history().job_state(job) for job in line.open_jobs) if line else ()

    def arrival_lines(self) -> tuple[CheckLine, ...]:
        """The lines of the check-out list that are looked at as soon as a machine comes in."""
        return house.check_list(self.shop.shelf).on_arrival

    def names_on_arrival(self) -> frozenset[str]:
        """The names of those lines; none if there is no list."""
        try:
            return frozenset(line.name for line in self.arrival_lines())
        except (NotThere, OSError):
            return frozenset()

    # Machines that come in

    def read_pallet(self, text: str, lot: str, file: str = "list", new_models: bool = False) -> Pallet:
        """A list of machines (CSV with headings) as it would come in, every problem by line; nothing is written."""
        from kb.machines import arrival

        if not lot.strip():
            raise Refusal("the lot is missing; say in which lot these machines came")
        return arrival.judge(arrival.read_table(text, file), lot, self._in_shop(), file, new_models)

    def take_in(self, text: str, lot: str, file: str = "list", new_models: bool = False) -> Pallet:
        """The same, with the good machines written down, all or none; the same list again writes nothing new."""
        history = self.shop.history()
        with history.together():
            pallet = self.read_pallet(text, lot, file, new_models)
            for machine in pallet.arriving:
                history.note(kinds.UNIT_IN, "", machine.body(pallet.lot), machine.token)
        return pallet

    def arrive(self, told: Arrived, token: str = "") -> str:
        """Take in one machine with its first looks, and give its tag; without one it gets the next free of its lot.

        Raises Refusal for a tag under which a machine came in already.
        """
        history = self.shop.history()
        with history.together():
            if earlier := history.written_with(token) if token else None:
                return str(body_of(earlier).get("tag", ""))
            tag = told.tag.strip() or self.next_tag(told.lot)
            known = self.line(tag)
            if known and known.came_at:
                raise Refusal(f"a machine with the tag {known.tag} came in already; give this one another tag")
            facts = {"model": told.model, "lot": told.lot, "words": told.words, "place": told.place}
            history.note(kinds.UNIT_IN, "", {"tag": tag, **{k: v for k, v in facts.items() if v.strip()}}, token)
            for number, (line, shown) in enumerate(told.looks.items()):
                body = {"tag": tag, "line": line, "shown": shown, "by": told.by}
                history.note(kinds.FUNCTION, "", body, f"{token}-{number}" if token else "")
        return " ".join(tag.split())

    def next_tag(self, lot: str) -> str:
        """The next tag of a lot that no machine has."""
        from kb.machines import arrival

        with self.files.floor() as (index, _):
            return next(arrival.free_tags(lot, {line.key for line in index.floor.lines()}))

    def _in_shop(self) -> InShop:
        from kb.machines.arrival import InShop

        history = self.shop.history()
        with self.files.floor() as (index, _):
            lines = list(index.floor.lines())
        models = {line.model.casefold(): line.model for line in lines if not is_unknown(line.model)}
        return InShop(
            arrived=frozenset(line.key for line in lines if line.came_at),
            models=tuple(models.values()),
            serials=frozenset(line.serial.casefold() for line in lines if line.serial),
            tags=frozenset(line.key for line in lines),
            used=lambda token: history.written_with(token) is not None,
        )

    def labels(self, lot: str = "", tags: Sequence[str] = (), address: str = "") -> list[Label]:
        """The labels of a lot's machines, or of those tags, by tag; with an address their codes lead to the pages.

        A tag that nobody knows yet gets a label too, so that machines can be labelled before they are taken in.
        """
        from kb.machines import labels
        from kb.machines.labels import Label

        lines = [one.line for one in self.lot(lot).units if one.state is not FloorState.GONE] if lot else []
        made = [(line.tag, line.model, line.lot) for line in sorted(lines, key=lambda line: natural(line.tag))]
        for tag in filter(str.strip, tags):
            line = self.line(tag)
            made.append((line.tag, line.model, line.lot) if line else (" ".join(clean(tag).split())[:60], "", ""))
        return [
            Label(tag, model, of, labels.address_code(tag, address) if address else labels.tag_code(tag))
            for tag, model, of in made
        ]

    # What is written down

    def note(self, tag: str, text: str, by: str = "", token: str = "") -> Record:
        """Put a note on a machine; raises NoMachine."""
        if not text.strip():
            raise Refusal("the note is empty; write down what is worth knowing")
        return self.write(kinds.UNIT_NOTE, {"tag": self._known(tag), "text": text.strip(), "by": by}, token)

    def move(self, tag: str, place: str, token: str = "") -> Record:
        """Say where a machine stands from now on."""
        return self.write(kinds.UNIT_MOVED, {"tag": self._known(tag), "place": place}, token)

    def hand_over(self, tag: str, to: str, by: str = "", token: str = "") -> Record:
        """Say who has a machine from now on, by initials."""
        return self.write(kinds.HANDED, {"tag": self._known(tag), "to": to, "by": by}, token)

    def want(self, tag: str, part: str, job: str = "", token: str = "") -> Record:
        """Say that a machine waits for a part, and for which of its jobs."""
        return self.write(kinds.PART_WANTED, {"tag": self._known(tag), "part": part}, token, job)

    def correct(self, tag: str, told: Mapping[str, str], token: str = "") -> Record:
        """Correct what is known of a machine: model, lot, words, place, look, serial; what is empty stays as it was."""
        given = {name: value for name, value in told.items() if value.strip()}
        if not given:
            raise Refusal("nothing was given to correct; write what is different")
        return self.write(kinds.UNIT_IN, {"tag": self._known(tag), **given}, token)

    def give_up(self, tag: str, why: str, token: str = "") -> Record:
        """Give a machine up for its parts."""
        return self.write(kinds.DONOR, {"tag": self._known(tag), "why": why}, token)

    def take_back_from_parts(self, tag: str, why: str = "", token: str = "") -> Record:
        """Say that a machine is no donor any more."""
        return self.write(kinds.UNDONOR, {"tag": self._known(tag), "why": why}, token)

    def let_go(self, tag: str, how: str, cents: int = 0, token: str = "") -> Record:
        """Say that a machine has left the shop: sold, given, waste or returned, and for how much in whole cents."""
        return self.write(kinds.GONE, {"tag": self._known(tag), "how": how, "cents": cents}, token)

    def strike(self, record: str, why: str, token: str = "") -> Record:
        """Say that a record of the floor, named by its id, was wrong; it stays, and counts no more."""
        return self.write(kinds.STRUCK, {"record": record, "why": why}, token)

    def write(self, kind: Kind, body: Mapping[str, object], token: str = "", job: str = "") -> Record:
        """Write one record of the floor; the same token again writes nothing new."""
        return self.shop.history().note(kind, job, body, token)

    def _known(self, tag: str) -> str:
        """The tag as the machine's label has it; raises NoMachine."""
        return self.unit(tag).tag

    def _unit(self, index: Index, history: History, tag: str) -> Unit:
        key = tag_key(clean(tag))
        seqs = index.floor.records_of(key) if key else []
        unit = unit_of(key, history.records(seqs)) if seqs else None
        if unit is None or not unit.is_there:
            raise NoMachine(tag)
        return unit


def _latest_first(lot: Lot) -> tuple[bool, tuple[int, ...], str]:
    latest = max((unit.line.last_at for unit in lot.units), default="")
    return (not latest, tuple(-ord(sign) for sign in latest), lot.name)
