"""The trade of a library, read from its `house/trade.toml`: areas, parts, tools, states of a machine, own sentences.

Everything here is data of the library: another trade brings another file, and the program stays as it is.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from kb.base.tomltext import is_names
from kb.library.stock import OWN_TRADE, TRADE
from kb.model import Remark

FILE = TRADE
#: What a shop adds to it: parts and tools of its own.
OWN = OWN_TRADE


@dataclass(frozen=True)
class Trade:
    """What the sheets of a library may name, and what the program says in its trade's words.

    `areas` may be empty: then any will do. `measuring` are tools with which one measures, `verbs` those
    with which fixes begin beside the usual ones. `states` are what a machine
    still does, from least to most, with the words that pages use; `asks` names what a test may ask of a machine, with
    the states that give it; `implied` what tools ask of it. `reads` holds, by what a line of the check-out reads, the
    question and the heading on the sheet. `tells` and `complaints` are offered to tap; `says` holds single sentences.
    """

    areas: tuple[str, ...] = ()
    parts: frozenset[str] = frozenset()
    tools: frozenset[str] = frozenset()
    measuring: frozenset[str] = frozenset()
    verbs: frozenset[str] = frozenset()
    tells: tuple[str, ...] = ()
    complaints: tuple[str, ...] = ()
    states: Mapping[str, str] = field(default_factory=dict)
    asks: Mapping[str, frozenset[str]] = field(default_factory=dict)
    implied: Mapping[str, str] = field(default_factory=dict)
    reads: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    says: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[Remark, ...] = ()

    @property
    def names(self) -> frozenset[str]:
        """The names of all parts and tools."""
        return self.parts | self.tools

    def spelled(self, text: str) -> str:
        """The part or tool of that name whatever the case and blanks, empty if there is none.

        >>> Trade(parts=frozenset({"USB-C charger"})).spelled(" usb-c  Charger"), Trade().spelled("charger")
        ('USB-C charger', '')
        """
        return self._by_folded.get(_folded(text), "")

    def told_in_order(self, told: Collection[str]) -> list[str]:
        """What lines of a check-out read, in the order of `reads`; what that does not name comes last.

        >>> Trade(reads={"wear": ("", ""), "look": ("", "")}).told_in_order(["oil", "look", "wear"])
        ['wear', 'look', 'oil']
        """
        known = [name for name in self.reads if name in told]
        return known + [name for name in told if name not in self.reads]

    def states_for(
        self, asked: Collection[str], tools: Collection[str]
    ) -> tuple[str, ...]:
        """The states in which a machine gives what is asked of it and what these tools ask of it; empty for any.

        >>> trade = Trade(states={"dead": "", "runs": ""}, asks={"runs": frozenset({"runs"})}, implied={"app": "runs"})
        >>> trade.states_for((), ("app",)), trade.states_for((), ("torch",))
        (('runs',), ())
        """
        implied = [self.implied[tool] for tool in tools if tool in self.implied]
        given = [self.asks[one] for one in {*asked, *implied} if one in self.asks]
        if not given:
            return ()
        in_all = frozenset.intersection(*given)
        return tuple(state for state in self.states if state in in_all)

    @cached_property
    def _by_folded(self) -> Mapping[str, str]:
        return {_folded(name): name for name in sorted(self.names)}


def parse(text: str, file: str = f"house/{FILE}") -> Trade:
    r"""The trade that a file tells of, with what is wrong in it; what cannot be read is left out.

    >>> read = parse('areas = ["wheels"]\nparts = "rim"\n[states]\nrolls = "rolling"')
    >>> read.areas, dict(read.states), [str(remark) for remark in read.remarks]
    (('wheels',), {'rolls': 'rolling'}, ['house/trade.toml:2: `parts` is no list of names; write parts = ["..."]'])
    """
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else 1
        return Trade(
            remarks=(
                Remark(file, line, f"this cannot be read ({error})", "mend that line"),
            )
        )
    read = _TradeReader(given, text, file)
    return Trade(
        areas=read.names("areas"),
        parts=frozenset(read.names("parts")),
        tools=frozenset(read.names("tools")),
        measuring=frozenset(read.names("measuring")),
        verbs=frozenset(read.names("verbs")),
        tells=read.names("tells"),
        complaints=read.names("complaints"),
        states=read.table("states", str, _is_text),
        asks=read.table("asks", frozenset, is_names),
        implied=read.table("implied", str, _is_text),
        reads=read.table("reads", tuple, _is_pair),
        says=read.table("says", str, _is_text),
        remarks=tuple(
            sorted((*read.remarks, *read.strangers()), key=lambda remark: remark.line)
        ),
    )


def own_names(text: str, trade: Trade) -> Trade:
    r"""The parts and tools of its own that a shop's file names, beside those of its trade, with what is wrong in it.

    A name that is nearly one of the trade, or is one, is a wish.

    >>> read = own_names('parts = ["drive sled",\n"batery"]\ntool = 1', Trade(parts=frozenset({"battery"})))
    >>> sorted(read.parts), [f"{one.line}: {one.problem}" for one in read.remarks]
    (['batery', 'drive sled'], ['2: `batery` is nearly `battery`, which any sheet may name', '3: nothing reads `tool`'])
    """
    file = f"house/{OWN}"
    read = parse(text, file)
    lines = _TradeReader({}, text, file)
    remarks = list(read.remarks)
    others = Trade.__dataclass_fields__.keys() - {"parts", "tools", "remarks"}
    extra = sorted(one for one in others if getattr(read, one))
    remarks += [
        lines.at(key, f"nothing reads `{key}` here", "name parts and tools")
        for key in extra
    ]
    for name in sorted(read.names):
        told = _known_already(name, trade)
        if told:
            remarks.append(replace(lines.at(name, *told), wish=True))
    remarks.sort(key=lambda remark: remark.line)
    return Trade(parts=read.parts, tools=read.tools, remarks=tuple(remarks))


def _known_already(name: str, trade: Trade) -> tuple[str, str] | None:
    """That a name is one of the trade, or nearly one, and what to do then; None for one of the shop's own."""
    known = trade.spelled(name)
    if known:
        return f"`{name[:40]}` is known anyway, as `{known}`", "take it out of the list"
    near = difflib.get_close_matches(name, sorted(trade.names), 1, 0.7)
    if near:
        return (
            f"`{name[:40]}` is nearly `{near[0]}`, which any sheet may name",
            f"write {near[0]} if that is meant",
        )
    return None


class _TradeReader:
    """Takes what it knows out of a file; a class because every step adds to the same list of remarks."""

    def __init__(self, given: Mapping[str, Any], text: str, file: str) -> None:
        self._given, self._lines, self._file = given, text.splitlines(), file
        self.remarks: list[Remark] = []

    def names(self, key: str) -> tuple[str, ...]:
        """The names of a list."""
        value = self._given.get(key, [])
        if is_names(value):
            return tuple(value)
        self._remark(key, f"`{key}` is no list of names", f'write {key} = ["..."]')
        return ()

    def table(
        self, key: str, made: Callable[[Any], Any], fits: Callable[[Any], bool]
    ) -> dict[str, Any]:
        """A table, without the lines whose values do not fit."""
        value = self._given.get(key, {})
        if not isinstance(value, dict):
            self._remark(key, f"`{key}` is no table", f"write [{key}] above its lines")
            return {}
        table = {}
        for name, held in value.items():
            if fits(held):
                table[name] = made(held)
            else:
                self._remark(
                    name,
                    f"`{name}` under [{key}] is not in its form",
                    "see the file that ships for its form",
                )
        return table

    def strangers(self) -> list[Remark]:
        """What names a state or a need that the file does not have, and what nothing reads."""
        states, asks = self._given.get("states", {}), self._given.get("asks", {})
        known = Trade.__dataclass_fields__.keys() - {"remarks"}
        unknown = [name for name in self._given if name not in known]
        found = [
            self.at(name, f"nothing reads `{name[:40]}`", "take it out")
            for name in unknown
        ]
        for name, held in _pairs(asks):
            named = held if is_names(held) else []
            missing = [state for state in named if state not in states]
            found += [
                self.at(name, f"there is no state `{one}`", "name one of [states]")
                for one in missing
            ]
        for name, held in _pairs(self._given.get("implied", {})):
            if held not in asks:
                found.append(
                    self.at(
                        name,
                        f"nothing is called `{held}` under [asks]",
                        "name one of those",
                    )
                )
        return found

    def _remark(self, key: str, problem: str, instead: str) -> None:
        self.remarks.append(self.at(key, problem, instead))

    def at(self, key: str, problem: str, instead: str) -> Remark:
        """What is wrong with a name, by the line that begins with it."""
        begun = (
            number
            for number, line in enumerate(self._lines, 1)
            if line.lstrip(' ["').startswith(key)
        )
        return Remark(self._file, next(begun, 1), problem, instead)


def _pairs(given: Any) -> list[tuple[str, Any]]:
    return list(given.items()) if isinstance(given, dict) else []


def _is_text(given: Any) -> bool:
    return isinstance(given, str)


def _is_pair(given: Any) -> bool:
    return is_names(given) and len(given) == 2


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
