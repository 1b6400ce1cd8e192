"""The desk for machines: each by its tag, the lots they came in, and what is written down of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import as_told, worded
from kb.bench.shop import Desk
from kb.history import History, kinds
from kb.history.intake import clean, tag_key
from kb.history.jobs import OpenJob
from kb.history.kinds import Kind
from kb.history.record import Record
from kb.history.units import Unit, unit_of
from kb.index.connections import over_a_sound_index
from kb.index.floor import UnitLine, line_of
from kb.index.index import Index
from kb.index.refresh import floor_read
from kb.language.nearest import nearest
from kb.library.checklist import CheckLine
from kb.machines.lots import Lot, LotTold, lot_key, lot_of, lots_told
from kb.machines.units import FloorUnit, floor_unit

#: Signs that would end the caption of a picture in Markdown.
_NO_MARKS = str.maketrans("[]()\\\n", "      ")


#: Signs of a label that are taken for one another.
_MISREAD = str.maketrans("oilzsb", "011258")


def misread(tag: str, tags: Iterable[str]) -> list[str]:
    """The tags that one nobody knows may be a misreading of: the same but for look-alike signs, hyphens and zeros.

    If there are none, the one that is written most like it.

    >>> misread("H-O3", ["H-003", "H-030"]), misread("p7 12", ["P7-012"]), misread("P7-0l2", ["P7-012"])
    (['H-003'], ['P7-012'], ['P7-012'])
    >>> misread("P7-022", ["P7-023"]), misread("X", ["P7-023"])
    (['P7-023'], [])
    """
    known = list(tags)
    near = nearest(tag.strip(), known)
    return read_alike(tag, known) or ([near] if near else [])


def read_alike(tag: str, tags: Iterable[str]) -> list[str]:
    """The tags that differ from this one by look-alike signs, hyphens and zeros alone.

    >>> read_alike("P7-01O", ["P7-010", "P7-011"]), read_alike("P7-012", ["P7-011"])
    (['P7-010'], [])
    """
    return [one for one in tags if _shape(one) == _shape(tag)]


def _shape(tag: str) -> tuple[str, ...]:
    """A tag as letters and numbers, in which look-alikes are one, without the zeros before a number."""
    plain = tag.casefold().translate(_MISREAD)
    pieces = re.findall(r"[0-9]+|[^\W0-9_]+", plain)
    return tuple(piece.lstrip("0") for piece in pieces)


class NoMachine(NotThere):
    """No record names this tag."""

    def __init__(self, tag: str) -> None:
        self.tag = " ".join(clean(tag).split())[:60]
        super().__init__(
            worded(
                "no record names a machine {tag}; take it in, or look at how its label is read",
                tag=self.tag,
            )
        )


class StillBeingRead(NotThere):
    """What was named is not among the machines read so far, while others are still being read."""

    def __init__(self, read: int, records: int) -> None:
        super().__init__(
            worded(
                "it is not among the machines read so far, and others are still being read: "
                "{read} of {records} records are; ask again in a moment",
                read=min(read, records),
                records=records,
            )
        )


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine with all that its records tell, its state and its next step."""

    unit: Unit
    stands: FloorUnit


class MachineDesk(Desk):
    """Where machines are looked up by tag and lots by name, and where what happens to them is written down."""

    @over_a_sound_index
    def unit(self, tag: str) -> Unit:
        """The machine of a tag, however its case and blanks are written.

        Raises NoMachine, StillBeingRead while others are being read, or what the history does.
        """
        # a history that cannot be used is told, and not taken for one without the machine
        self.shop.history()
        with self.files.floor() as (index, history):
            return self._unit(index, history or self.shop.history(), tag)

    def machine(self, tag: str) -> Machine:
        """The same with its state and its next step."""
        unit = self.unit(tag)
        return Machine(
            unit,
            floor_unit(line_of(unit), self._names_on_arrival(), self._first_look()),
        )

    @over_a_sound_index
    def line(self, tag: str) -> UnitLine | None:
        """The machine of a tag as lists show it, or None; quicker than all its records."""
        with self.files.floor() as (index, _):
            return index.floor.line(tag_key(clean(tag)))

    @over_a_sound_index
    def units(self, lot: str = "") -> tuple[FloorUnit, ...]:
        """The machines of a lot, or all that the shop knows, by tag, with state and next step."""
        looks, first_look = self._names_on_arrival(), self._first_look()
        with self.files.floor() as (index, _):
            return tuple(
                floor_unit(line, looks, first_look)
                for line in index.floor.lines(lot.strip())
            )

    def lot(self, name: str) -> Lot:
        """The lot of that name with its machines; raises NotThere if neither a purchase nor a machine names it.

        While machines are being read that is StillBeingRead.
        """
        told = self.lots_told().get(lot_key(name))
        units = self.units(name.strip()) if name.strip() else ()
        if told is None and not units:
            with self.files.floor() as (index, history):
                self._look_again(index, history or self.shop.history())
            wanted = clean(name).strip()[:60]
            raise NotThere(
                worded(
                    "no machine came in a lot {name}; name one of the lots of this shop",
                    name=wanted,
                )
            )
        return _told_or_named(told, units)

    def lots(self, units: Sequence[FloorUnit] | None = None) -> tuple[Lot, ...]:
        """Every lot, the one with the latest news first; `units` are all machines where the caller has them already."""
        told = self.lots_told()
        found: dict[str, list[FloorUnit]] = {key: [] for key in told}
        for unit in self.units() if units is None else units:
            if unit.line.lot:
                found.setdefault(lot_key(unit.line.lot), []).append(unit)
        lots = [_told_or_named(told.get(key), units) for key, units in found.items()]
        return tuple(sorted(lots, key=_latest_first))

    @over_a_sound_index
    def lots_told(self) -> Mapping[str, LotTold]:
        """What was told of purchases, by folded name of the lot."""
        with self.files.floor() as (index, history):
            seqs = index.floor.loose_records((kinds.LOT.name,))
            return lots_told(history.records(seqs)) if history and seqs else {}

    def open_jobs(self, tag: str) -> tuple[OpenJob, ...]:
        """The open jobs of a machine, none for one that nobody knows."""
        line = self.line(tag) if tag.strip() else None
        if line is None:
            return ()
        return tuple(self.shop.history().job_state(job) for job in line.open_jobs)

    def arrival_lines(self) -> tuple[CheckLine, ...]:
        """The lines of the check-out list that are looked at as soon as a machine comes in."""
        return self.shop.customs.check_list().on_arrival

    def _first_look(self) -> str:
        """What is looked at first on any machine, as the trade says it."""
        return as_told(self.shop.customs.trade().says.get("first_look", ""))

    def _names_on_arrival(self) -> frozenset[str]:
        """The names of those lines; none if there is no list."""
        try:
            return frozenset(line.name for line in self.arrival_lines())
        except (NotThere, OSError):
            return frozenset()

    # What is written down

    def note(self, tag: str, text: str, by: str = "", token: str = "") -> Record:
        """Put a note on a machine; raises NoMachine."""
        if not text.strip():
            raise Refusal(worded("the note is empty; write down what is worth knowing"))
        return self.write(
            kinds.UNIT_NOTE,
            {"tag": self._known(tag), "text": text.strip(), "by": by},
            token,
        )

    def add_picture(
        self, tag: str, sent: bytes, caption: str = "", by: str = "", token: str = ""
    ) -> Record:
        """Put a picture on a machine, drawn anew; raises album.PictureRefused or shelf.NotSaved."""
        from kb.library.album import Album

        known = self._known(tag)
        file = Album(self.shop.shelf).keep("machine", sent)
        words = caption.translate(_NO_MARKS).strip()
        return self.write(
            kinds.UNIT_NOTE,
            {"tag": known, "text": f"![{words}](pictures/{file})", "by": by},
            token,
        )

    def move(self, tag: str, place: str, token: str = "") -> Record:
        """Say where a machine stands from now on."""
        return self.write(
            kinds.UNIT_MOVED, {"tag": self._known(tag), "place": place}, token
        )

    def hand_over(self, tag: str, to: str, by: str = "", token: str = "") -> Record:
        """Say who has a machine from now on, by initials."""
        return self.write(
            kinds.HANDED, {"tag": self._here(tag, token), "to": to, "by": by}, token
        )

    def want(self, tag: str, part: str, job: str = "", token: str = "") -> Record:
        """Say that a machine waits for a part, and for which of its jobs."""
        return self.write(
            kinds.PART_WANTED, {"tag": self._here(tag, token), "part": part}, token, job
        )

    def correct(self, tag: str, told: Mapping[str, str], token: str = "") -> Record:
        """Correct what is known of a machine: model, lot, words, place, look, serial; what is empty stays as it was."""
        given = {name: value for name, value in told.items() if value.strip()}
        if not given:
            raise Refusal(
                worded("nothing was given to correct; write what is different")
            )
        return self.write(kinds.UNIT_IN, {"tag": self._known(tag), **given}, token)

    def give_up(
        self, tag: str, why: str, token: str = "", back: bool = False
    ) -> Record:
        """Give a machine up for its parts, or with `back` say that it is no donor any more."""
        return self.write(
            kinds.UNDONOR if back else kinds.DONOR,
            {"tag": self._here(tag, token), "why": why},
            token,
        )

    def let_go(self, tag: str, how: str, cents: int = 0, token: str = "") -> Record:
        """Say that a machine has left the shop: sold, given, waste or returned, and for how much in whole cents."""
        return self.write(
            kinds.GONE,
            {"tag": self._here(tag, token), "how": how, "cents": cents},
            token,
        )

    def strike(self, record: str, why: str, token: str = "") -> Record:
        """Say that a record of the floor, named by its id, was wrong; it stays, and counts no more."""
        return self.write(kinds.STRUCK, {"record": record, "why": why}, token)

    def write(
        self, kind: Kind, body: Mapping[str, object], token: str = "", job: str = ""
    ) -> Record:
        """Write one record of the floor; the same token again writes nothing new."""
        return self.shop.history().note(kind, job, body, token)

    def _known(self, tag: str) -> str:
        """The tag as the machine's label has it; raises NoMachine."""
        return self.unit(tag).tag

    def _here(self, tag: str, token: str) -> str:
        """The same of a machine that has not left: another bench may have let it go meanwhile. Raises Refusal."""
        unit = self.unit(tag)
        if unit.gone and not self.shop.history().written_with(token):
            raise Refusal(
                worded(
                    "{tag} has left the shop; if it is here, say first on its page that it is back",
                    tag=unit.tag,
                )
            )
        return unit.tag

    def _unit(self, index: Index, history: History, tag: str) -> Unit:
        key = tag_key(clean(tag))
        seqs = index.floor.records_of(key) if key else []
        unit = unit_of(key, history.records(seqs)) if seqs else None
        if unit is None or not unit.is_there:
            self._look_again(index, history)
            raise NoMachine(tag)
        return unit

    def _look_again(self, index: Index, history: History) -> None:
        """Raises StillBeingRead while machines are being read, so that nobody is told that one does not exist."""
        if self.files.being_read():
            raise StillBeingRead(floor_read(index), history.tip().count)


def _told_or_named(told: LotTold | None, units: Sequence[FloorUnit]) -> Lot:
    """The lot as it was told of, or of which machines say the name alone."""
    told = told or LotTold(lot=units[0].line.lot)
    return lot_of(told.lot, told, units)


def _latest_first(lot: Lot) -> tuple[bool, tuple[int, ...], str]:
    latest = max((unit.line.last_at for unit in lot.units), default="")
    return (not latest, tuple(-ord(sign) for sign in latest), lot.name)
