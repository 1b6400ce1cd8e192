"""Published belief networks as a file of pgmpy brings them, and exact inference in them by eliminating variables.

Both are a reference for tests and no part of the program; what is read are the BIF files of the pgmpy package, which
`.ci/run` fetches and `BENCHLORE_NETWORKS` names.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float64]

_VARIABLE = re.compile(r"variable\s+(\S+)\s*\{[^}]*\{([^}]*)\}")
_TABLE = re.compile(
    r"probability\s*\(\s*([^)|\s]+)\s*(?:\|([^)]*))?\)\s*\{(.*?)\n\}", re.DOTALL
)
_ROW = re.compile(r"(?:\(([^)]*)\)|table)\s*([^;]*);")


@dataclass(frozen=True)
class Factor:
    """A table over some variables, an axis for each."""

    names: tuple[str, ...]
    table: Table

    def times(self, other: Factor) -> Factor:
        """The product over the variables of both."""
        names = tuple(dict.fromkeys((*self.names, *other.names)))
        axis = {name: place for place, name in enumerate(names)}
        operands: list[Any] = [self.table, [axis[name] for name in self.names]]
        operands += [
            other.table,
            [axis[name] for name in other.names],
            list(range(len(names))),
        ]
        table: Table = np.einsum(*operands)
        return Factor(names, table)

    def without(self, name: str) -> Factor:
        """The variable summed out."""
        place = self.names.index(name)
        table: Table = np.add.reduce(self.table, axis=place, keepdims=True).squeeze(
            axis=place
        )
        return Factor(self.names[:place] + self.names[place + 1 :], table)

    def given(self, name: str, state: int) -> Factor:
        """The variable in one state."""
        if name not in self.names:
            return self
        place = self.names.index(name)
        table: Table = self.table.take([state], axis=place).squeeze(axis=place)
        return Factor(self.names[:place] + self.names[place + 1 :], table)


@dataclass(frozen=True)
class Network:
    """A belief network: the states of every variable, and P(variable | parents), the variable's own axis last."""

    states: Mapping[str, tuple[str, ...]]
    tables: Mapping[str, Factor]

    def joint(self, kept: Sequence[str], evidence: Mapping[str, int] = {}) -> Table:
        """P(kept, evidence), exactly: an axis for each kept variable in their order."""
        factors = list(self.tables.values())
        for name, state in evidence.items():
            factors = [factor.given(name, state) for factor in factors]
        left = set(self.states) - set(kept) - set(evidence)
        while left:
            name = min(left, key=lambda one: (_size(one, factors), one))
            left.discard(name)
            touched = [factor for factor in factors if name in factor.names]
            factors = [factor for factor in factors if name not in factor.names]
            factors.append(reduce(Factor.times, touched).without(name))
        whole = reduce(Factor.times, factors)
        return whole.table.transpose([whole.names.index(name) for name in kept])

    def descendants(self, name: str) -> list[str]:
        """The variables that hang on this one, by name."""
        found: set[str] = set()
        while True:
            more = {
                one
                for one, table in self.tables.items()
                if {name, *found} & set(table.names[:-1])
            } - found
            if not more:
                return sorted(found)
            found |= more

    def drawn(self, chance: np.random.Generator) -> dict[str, int]:
        """The states of all variables in one case."""
        told: dict[str, int] = {}
        while len(told) < len(self.tables):
            for name, table in self.tables.items():
                if name not in told and all(
                    parent in told for parent in table.names[:-1]
                ):
                    row = table.table[
                        tuple(told[parent] for parent in table.names[:-1])
                    ]
                    told[name] = int(chance.choice(len(row), p=row / row.sum()))
        return told


def network(path: Path) -> Network:
    """The network in a (packed) BIF file."""
    text = gzip.decompress(path.read_bytes()).decode()
    states = {name: tuple(_listed(inside)) for name, inside in _VARIABLE.findall(text)}
    tables = {}
    for name, given, body in _TABLE.findall(text):
        parents = _listed(given)
        shape = [len(states[one]) for one in (*parents, name)]
        table = np.zeros(shape)
        for row, numbers in _ROW.findall(body):
            place = tuple(
                states[one].index(state)
                for one, state in zip(parents, _listed(row), strict=True)
            )
            table[place] = [float(number) for number in numbers.split(",")]
        tables[name] = Factor(
            (*parents, name), table / table.sum(axis=-1, keepdims=True)
        )
    return Network(states, tables)


def _listed(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]


def _size(name: str, factors: Collection[Factor]) -> int:
    """How many variables stand in the table that eliminating this one makes."""
    return len(
        {other for factor in factors if name in factor.names for other in factor.names}
    )
