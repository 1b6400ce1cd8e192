"""The arrival of a pallet: a list of machines read from text, every problem named by line before anything is kept."""

from __future__ import annotations

import hashlib
import itertools
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from kb.base.worded import worded
from kb.history.intake import NAME_LIMIT, WORDS_LIMIT, tag_key
from kb.language import named
from kb.language.nearest import nearest
from kb.machines import typed_lists
from kb.machines.lots import lot_key
from kb.machines.typed_lists import ListForm, Row, Table
from kb.machines.units import UnitLine, is_unknown
from kb.model import Remark

#: What a column may be called, folded; the first is the name that is told.
HEADINGS: Mapping[str, tuple[str, ...]] = {
    "tag": (
        "tag",
        "label",
        "unit",
        "asset",
        "asset tag",
        "asset no",
        "asset number",
        "machine no",
        "no",
        "id",
    ),
    "model": ("model", "machine", "product", "type", "designation", "description"),
    "words": (
        "words",
        "complaint",
        "fault",
        "faults",
        "symptom",
        "problem",
        "defect",
        "issue",
        "remark",
        "remarks",
    ),
    "place": ("place", "shelf", "location", "position"),
    "look": ("look", "grade", "condition", "cosmetics"),
    "serial": ("serial", "serial number", "serial no", "s/n", "sn"),
    "lot": ("lot", "pallet", "batch"),
}
_LIMITS = {"words": WORDS_LIMIT}
_FIGURE = re.compile(r"\d+[.,]0+|\d(?:[.,]\d+)?e[+]?\d+", re.IGNORECASE)
_STEERING = re.compile(r"[\x00-\x1f\x7f]")
#: Most machines in one list.
MOST = 5_000
#: A pallet as it is written.
FORM = ListForm(HEADINGS, needed="model", example="tag,model,complaint,place")


@dataclass(frozen=True, slots=True, kw_only=True)
class Arriving:
    """One machine of a list: its line in the file, what is told of it, and the token by which it comes in once."""

    line: int
    tag: str
    model: str
    words: str = ""
    place: str = ""
    look: str = ""
    serial: str = ""
    token: str = ""

    def body(self, lot: str) -> Mapping[str, object]:
        """What the history keeps of it; what is empty is left out."""
        told = {
            "model": self.model,
            "words": self.words,
            "place": self.place,
            "look": self.look,
            "serial": self.serial,
        }
        return {"tag": self.tag, "lot": lot} | {
            name: value for name, value in told.items() if value
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class InShop:
    """What a shop knows already: the machines that came in, all tags, models and serials, and whether a token was used.

    Tags and serials are folded; `same` gives other names of models (folded) with the models that they mean.
    """

    arrived: Mapping[str, UnitLine] = field(default_factory=dict)
    models: Sequence[str] = ()
    same: Mapping[str, str] = field(default_factory=dict)
    serials: frozenset[str] = frozenset()
    tags: frozenset[str] = frozenset()
    used: Callable[[str], bool] = field(default=lambda token: False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pallet:
    """A list that was read: machines to take in, those taken in before, and what is wrong, by line.

    `further` are machines that are in already and of which the list tells more, such as the look of each;
    `new_models` models that the shop has not seen, with how many machines are of each.
    """

    lot: str
    arriving: tuple[Arriving, ...] = ()
    known: tuple[Arriving, ...] = ()
    further: tuple[Arriving, ...] = ()
    remarks: tuple[Remark, ...] = ()
    new_models: Mapping[str, int] = field(default_factory=dict)


def read_table(text: str, file: str) -> Table:
    """The rows of a list of machines, under whatever of the known headings it has."""
    return typed_lists.read_table(text, file, FORM)


def judge(
    table: Table, lot: str, shop: InShop, file: str, new_models: bool = False
) -> Pallet:
    """The machines of a list that can be taken in, and every problem of the others.

    `new_models` says that models which nobody has seen here are meant as they are written. A machine without a tag
    gets the next free one of the lot; a list that was taken in before changes nothing.
    """
    judged = _Judge(lot.strip(), shop, file, new_models)
    judged.learn_spellings(row.values.get("model", "") for row in table.rows)
    for row in table.rows[:MOST]:
        judged.take(row)
    if len(table.rows) > MOST:
        judged.remarks.append(
            Remark(
                file,
                table.rows[MOST].line,
                worded("more than {most} machines", most=MOST),
                worded("split the list"),
            )
        )
    remarks = sorted((*table.remarks, *judged.remarks), key=lambda remark: remark.line)
    return Pallet(
        lot=lot.strip(),
        arriving=tuple(judged.numbered()),
        known=tuple(judged.known),
        further=tuple(judged.further),
        remarks=tuple(remarks),
        new_models=dict(judged.unseen),
    )


class _Judge:
    """Takes the rows of one list in turn; a class because a row is held against those before it."""

    def __init__(self, lot: str, shop: InShop, file: str, new_models: bool) -> None:
        self.lot, self.shop, self.file, self.new_models = lot, shop, file, new_models
        self.good: list[Arriving] = []
        self.known: list[Arriving] = []
        self.further: list[Arriving] = []
        self.remarks: list[Remark] = []
        self.unseen: Counter[str] = Counter()
        self._spelt = {
            model.casefold(): model for model in (*shop.models, *shop.same.values())
        } | dict(shop.same)
        self._tags: dict[str, int] = {}
        self._serials: dict[str, int] = {}
        self._alike: Counter[str] = Counter()
        self._here: dict[str, str] = {}

    def learn_spellings(self, models: Iterable[str]) -> None:
        """Of new names in the list that differ in case, spaces and hyphens alone, the most frequent one is meant."""
        counted = Counter(
            model for model in models if self._known(model) not in self._spelt.values()
        )
        for names in named.alike(counted):
            most = max(names, key=lambda name: counted[name])
            self._here |= dict.fromkeys(names, most)

    def take(self, row: Row) -> None:
        """Keep a row as good, known or wrong."""
        machine = self._machine(row)
        problems = list(self._problems(machine, row))
        if not problems:
            problems = self._sorted_in(machine)
        self.remarks += [
            Remark(self.file, row.line, problem, instead)
            for problem, instead in problems
        ]
        for seen, value in (
            (self._tags, tag_key(machine.tag)),
            (self._serials, machine.serial.casefold()),
        ):
            if value:
                seen.setdefault(value, row.line)

    def numbered(self) -> Iterator[Arriving]:
        """The good ones, those without a tag with the next free one of the lot."""
        used = {*self.shop.tags, *self._tags}
        free = free_tags(self.lot, used)
        for machine in self.good:
            yield machine if machine.tag else replace(machine, tag=next(free))

    def _machine(self, row: Row) -> Arriving:
        told = {
            name: row.values.get(name, "")
            for name in ("tag", "model", "words", "place", "look", "serial")
        }
        said = "\x1f".join((self.lot.casefold(), *told.values()))
        self._alike[said] += 1
        token = hashlib.sha256(
            f"{said}\x1f{self._alike[said]}".encode("utf-8", "replace")
        ).hexdigest()[:32]
        told["model"] = self._known(told["model"])
        return Arriving(line=row.line, token=token, **told)

    def _known(self, model: str) -> str:
        """The model as the shop writes it, whatever its case, spaces and hyphens; one that is new as it is given."""
        known = self._spelt.get(model.casefold()) or named.spelt(
            model, self.shop.models
        )
        return self._here.get(known, known)

    def _problems(self, machine: Arriving, row: Row) -> Iterator[tuple[str, str]]:
        """What is wrong with a machine by itself."""
        for column, value in row.values.items():
            yield from _wrong_value(column, value)
        lot = row.values.get("lot", "")
        if lot and lot.casefold() != self.lot.casefold():
            yield (
                worded(
                    "the line says lot {lot}, the list is of {lot2}",
                    lot=lot[:40],
                    lot2=self.lot,
                ),
                worded("take it in with its own lot"),
            )
        if not machine.model:
            yield (
                worded("the model is missing"),
                worded("write it, or `unknown` until somebody has looked"),
            )
        elif near := self._nearest_seen(machine.model):
            yield (
                worded(
                    "no machine was ever a {model}; the nearest is {near}",
                    model=machine.model[:40],
                    near=near,
                ),
                worded("write {near}, or say that new models are meant", near=near),
            )
        yield from _wrong_tag(machine.tag)

    def _nearest_seen(self, model: str) -> str:
        """The model that one which nobody has seen here is probably meant to be, empty if it may stand as it is."""
        if self.new_models or is_unknown(model) or model.casefold() in self._spelt:
            return ""
        return nearest(model, list(self.shop.models))

    def _sorted_in(self, machine: Arriving) -> list[tuple[str, str]]:
        """Keep a machine among the known or the good ones; gives what it clashes with, if anything."""
        if self.shop.used(machine.token):
            self.known.append(machine)
            return []
        there = self.shop.arrived.get(tag_key(machine.tag))
        is_listed = tag_key(machine.tag) in self._tags
        if there and not is_listed and self._is_same(machine, there):
            kept = self.further if _tells_more(machine, there) else self.known
            kept.append(machine)
            return []
        clash = self._clash(machine)
        if clash is None:
            self._keep(machine)
        return [clash] if clash else []

    def _is_same(self, machine: Arriving, there: UnitLine) -> bool:
        """Whether a line tells of the machine that is in the shop under its tag: nothing in it contradicts that one."""
        if there.gone or lot_key(there.lot) != lot_key(self.lot):
            return False
        if machine.model.casefold() != self._known(there.model).casefold():
            return False
        for told, known in _told_and_known(machine, there):
            if told and known and told.casefold() != known.casefold():
                return False
        return True

    def _clash(self, machine: Arriving) -> tuple[str, str] | None:
        """Where a tag or a serial is another machine's already."""
        key, serial = tag_key(machine.tag), machine.serial.casefold()
        if key in self._tags:
            return worded(
                "the tag {tag} stands on line {tags} too",
                tag=machine.tag[:40],
                tags=self._tags[key],
            ), worded("give one of them another tag")
        if key in self.shop.arrived:
            return _in_already(machine.tag, self.shop.arrived[key])
        if serial and serial in self._serials:
            return worded(
                "the serial {serial} stands on line {serials} too",
                serial=machine.serial[:40],
                serials=self._serials[serial],
            ), worded("read it again")
        if serial and serial in self.shop.serials:
            return worded(
                "a machine with the serial {serial} is in the shop already",
                serial=machine.serial[:40],
            ), worded("read it again")
        return None

    def _keep(self, machine: Arriving) -> None:
        self.good.append(machine)
        is_spelt = machine.model.casefold() in self._spelt
        if not is_spelt and not is_unknown(machine.model):
            self.unseen[machine.model] += 1


def _tells_more(machine: Arriving, there: UnitLine) -> bool:
    """Whether a line says something of a machine that the shop does not know of it; the look is not in its lists."""
    return bool(machine.look) or any(
        told and not known for told, known in _told_and_known(machine, there)
    )


def _told_and_known(machine: Arriving, there: UnitLine) -> tuple[tuple[str, str], ...]:
    """What a line tells of a machine, each beside what is known of it."""
    return (
        (machine.words, there.words),
        (machine.place, there.place),
        (machine.serial, there.serial),
    )


def _in_already(tag: str, there: UnitLine) -> tuple[str, str]:
    """That another machine has a tag, and what is to be done if it is the same one after all."""
    if there.gone:
        return worded(
            "a machine with the tag {tag} left the shop before", tag=tag[:40]
        ), worded(
            "if it is back, say so on its page or with `benchlore unit {tag} --back`; else give this one another tag",
            tag=tag[:40],
        )
    return worded(
        "a machine with the tag {tag} is in the shop already, and other things are told of it",
        tag=tag[:40],
    ), worded(
        "if it is the same one, leave the line out and correct it on its page; else give this one another tag; "
        "`benchlore unit {tag}` shows the other",
        tag=tag[:40],
    )


def _wrong_value(column: str, value: str) -> Iterator[tuple[str, str]]:
    """What is wrong with the text of a column, whichever it is."""
    heading = HEADINGS[column][0]
    limit = _LIMITS.get(column, NAME_LIMIT)
    if len(value) > limit:
        yield (
            worded(
                "the {headings} has {value} characters",
                headings=heading,
                value=len(value),
            ),
            worded("shorten it to {limit}", limit=limit),
        )
    elif _STEERING.search(value):
        yield (
            worded("the {headings} holds a sign that cannot be read", headings=heading),
            worded("write it anew"),
        )


def _wrong_tag(tag: str) -> Iterator[tuple[str, str]]:
    """What is wrong with a tag as it is written."""
    if not tag:
        return
    if _FIGURE.fullmatch(tag):
        yield (
            worded(
                "the tag {tag} looks like a number that a spreadsheet has rewritten",
                tag=tag[:40],
            ),
            worded("keep that column as text"),
        )
    elif not re.search(r"\w", tag):
        yield (
            worded("the tag {tag} holds neither a letter nor a digit", tag=tag[:40]),
            worded("write what stands on the label"),
        )
    elif "/" in tag or "\\" in tag:
        yield (
            worded(
                "the tag {tag} holds a stroke, which no address of a page takes",
                tag=tag[:40],
            ),
            worded("write it with a hyphen"),
        )


def free_tags(lot: str, used: Iterable[str]) -> Iterator[str]:
    """The tags of a lot that are free, from the one after the highest: its name, a hyphen and at least three digits.

    >>> tags = free_tags("P7", {"p7-009", "p7-0012", "p8-500"})
    >>> next(tags), next(tags)
    ('P7-0013', 'P7-0014')
    >>> next(free_tags("P9", ()))
    'P9-001'
    """
    begins = f"{tag_key(lot)}-"
    ends = [tag[len(begins) :] for tag in used if tag.startswith(begins)]
    numbers = [end for end in ends if re.fullmatch("[0-9]{1,9}", end)]
    width = max(3, *map(len, numbers)) if numbers else 3
    first = max(map(int, numbers), default=0) + 1
    name = "".join(lot.split()) or "M"
    return (f"{name}-{number:0{width}d}" for number in itertools.count(first))
