"""Purchases of parts, read from a list of them: every problem is named by its line before anything is written down."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date
from typing import TypeVar

from kb.base.trouble import Refusal
from kb.history.intake import NAME_LIMIT, tag_key
from kb.history.spreadsheet import moment_of, order_of
from kb.history.trouble import NotAccepted
from kb.language.nearest import nearest
from kb.machines import typed_lists
from kb.machines.cost.money import cents_of
from kb.machines.typed_lists import ListForm, Row, Table
from kb.model import Remark

#: What a column may be called, folded; the first is the name that is told.
HEADINGS: Mapping[str, tuple[str, ...]] = {
    "part": ("part", "article", "item", "what", "description"),
    "model": ("model", "for model", "machine model"),
    "count": ("count", "pieces", "quantity", "qty"),
    "total": ("total", "sum", "cost", "paid", "amount"),
    "each": ("each", "price", "price each", "unit price"),
    "for": ("for", "tag", "machine", "unit"),
    "bought": ("bought", "bought on", "ordered", "day", "date"),
    "came": ("came", "came on", "received", "arrived"),
    "purchase": ("purchase", "order", "order no", "order number", "invoice", "number"),
}
#: A list of purchases as it is written.
FORM = ListForm(HEADINGS, needed="part", example="part,model,count,total,bought")
#: Most lines in one list, and most pieces on one line.
MOST, MOST_PIECES = 2_000, 1_000
_STEERING = re.compile(r"[\x00-\x1f\x7f]")

Given = TypeVar("Given")
Found = TypeVar("Found")


@dataclass(frozen=True, slots=True, kw_only=True)
class Buying:
    """One line of a list: pieces of a part for so many cents in all, and the token by which it comes in once.

    `bought_on` and `came_on` are days as YYYY-MM-DD, empty for today and for not yet.
    """

    purchase: str
    part: str
    count: int
    cents: int
    model: str
    tag: str
    bought_on: str
    came_on: str
    line: int = 0
    token: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchasesKnown:
    """What a shop knows already: parts, models, machines by folded tag, names of purchases, and its currency.

    `as_written` says that parts and models which nobody knows here are meant as they stand; `same` gives other names
    of models (folded) with the models that they mean.
    """

    parts: Sequence[str] = ()
    models: Sequence[str] = ()
    same: Mapping[str, str] = field(default_factory=dict)
    tags: Mapping[str, str] = field(default_factory=dict)
    purchases: frozenset[str] = frozenset()
    currency: str = ""
    today: date = date.max
    as_written: bool = False
    used: Callable[[str], bool] = field(default=lambda token: False)


@dataclass(frozen=True, slots=True)
class PurchaseList:
    """A list that was read: what would be written down, what was before, and what is wrong, by line."""

    buying: tuple[Buying, ...] = ()
    known: tuple[Buying, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def cents(self) -> int:
        """What all of the new ones cost."""
        return sum(one.cents for one in self.buying)


def read_purchases(text: str, file: str, shop: PurchasesKnown) -> PurchaseList:
    """The purchases that a list tells of, held against what the shop knows; the same list again changes nothing."""
    table = typed_lists.read_table(text, file, FORM)
    judge = _PurchaseJudge(table, file, shop)
    for row in table.rows[:MOST]:
        judge.take(row)
    if len(table.rows) > MOST:
        judge.remarks.append(
            Remark(
                file,
                table.rows[MOST].line,
                f"more than {MOST} purchases",
                "split the list",
            )
        )
    remarks = sorted((*table.remarks, *judge.remarks), key=lambda remark: remark.line)
    return PurchaseList(tuple(judge.good), tuple(judge.known), tuple(remarks))


class _PurchaseJudge:
    """Takes the rows of one list in turn; a class because a row is held against those before it."""

    def __init__(self, table: Table, file: str, shop: PurchasesKnown) -> None:
        self._file, self._shop = file, shop
        self.good: list[Buying] = []
        self.known: list[Buying] = []
        self.remarks: list[Remark] = []
        self._names = set(shop.purchases)
        self._alike: Counter[str] = Counter()
        self._of_order: Counter[str] = Counter()
        days = [
            row.values.get(name, "")
            for row in table.rows
            for name in ("bought", "came")
        ]
        self._order = order_of([day for day in days if day])

    def take(self, row: Row) -> None:
        """Keep a row as good, known or wrong."""
        reading = _Reading()
        reading.problems += _unreadable(row)
        buying = self._buying(row.values, reading)
        if buying:
            reading.of(
                self._keep, replace(buying, line=row.line, token=self._token(row)), None
            )
        self.remarks += [
            Remark(self._file, row.line, one.problem, one.instead)
            for one in reading.problems
        ]

    def _keep(self, buying: Buying) -> None:
        """Keep a purchase among the known or the good ones; raises NotAccepted for the name of another one."""
        name = buying.purchase.casefold()
        if self._shop.used(buying.token):
            self.known.append(buying)
        elif name in self._names:
            raise NotAccepted(
                f"a purchase {buying.purchase[:40]} is written down already, and not as it stands here",
                "if this is another line of that order, give it a number of its own",
            )
        else:
            self.good.append(buying)
            self._names.add(name)

    def _buying(self, told: Mapping[str, str], reading: _Reading) -> Buying | None:
        """The purchase of a row; None where something is wrong with it."""
        part = reading.of(self._part, told.get("part", ""), "")
        model = reading.of(self._model, told.get("model", ""), "")
        count = reading.of(_count, told.get("count", ""), 1)
        prices = _Prices(
            told.get("total", ""), told.get("each", ""), count, self._shop.currency
        )
        cents = reading.of(_cents, prices, 0)
        tag = reading.of(self._tag, told.get("for", ""), "")
        bought_on = reading.of(self._day, told.get("bought", ""), "")
        came_on = reading.of(self._day, told.get("came", ""), "")
        if came_on and came_on < bought_on:
            reading.problems.append(
                NotAccepted(
                    f"it came on {came_on}, before it was bought", "write the days anew"
                )
            )
        if reading.problems:
            return None
        return Buying(
            purchase=self._purchase(told.get("purchase", "")),
            part=part,
            model=model,
            count=count,
            cents=cents,
            tag=tag,
            bought_on=bought_on,
            came_on=came_on,
        )

    def _part(self, given: str) -> str:
        if not given:
            raise NotAccepted(
                "the part is missing", "write what was bought, such as panel"
            )
        return self._named(given, "part", self._shop.parts)

    def _model(self, given: str) -> str:
        same = self._shop.same
        return self._named(
            same.get(given.casefold(), given),
            "model",
            [*self._shop.models, *same.values()],
        )

    def _named(self, given: str, what: str, names: Sequence[str]) -> str:
        """The name as the shop spells it; one that is near a known one is probably a slip."""
        spelt = {name.casefold(): name for name in names}
        known = not given or given.casefold() in spelt or self._shop.as_written
        near = None if known else nearest(given, names)
        if near:
            told = f"no {what} here is called {given[:40]}; the nearest is {near}"
            raise NotAccepted(
                told, f"write {near}, or say that names are meant as written"
            )
        return spelt.get(given.casefold(), given)

    def _tag(self, given: str) -> str:
        if given and tag_key(given) not in self._shop.tags:
            raise NotAccepted(
                f"no machine here has the tag {given[:40]}",
                "read its label again, or leave it empty",
            )
        return self._shop.tags.get(tag_key(given), "")

    def _day(self, given: str) -> str:
        if not given:
            return ""
        day = moment_of(given, self._order, UTC)[:10]
        if day > self._shop.today.isoformat():
            raise NotAccepted(
                f"the day {day} has not come yet",
                "write the year anew, or leave it empty",
            )
        return day

    def _purchase(self, given: str) -> str:
        """A name of its own for a line: its order's, with a number from the second line of that order on."""
        if not given:
            return next(_free_names(self._names))
        self._of_order[given.casefold()] += 1
        number = self._of_order[given.casefold()]
        return given if number == 1 else f"{given}-{number}"

    def _token(self, row: Row) -> str:
        said = "\x1f".join(row.values.get(name, "") for name in HEADINGS)
        self._alike[said] += 1
        return hashlib.sha256(
            f"bought\x1f{said}\x1f{self._alike[said]}".encode("utf-8", "replace")
        ).hexdigest()[:32]


class _Reading:
    """Reads the values of one row, and keeps what is wrong with them."""

    def __init__(self) -> None:
        self.problems: list[NotAccepted] = []

    def of(
        self, reader: Callable[[Given], Found], given: Given, otherwise: Found
    ) -> Found:
        """What a reader makes of a value; `otherwise` where it refuses."""
        try:
            return reader(given)
        except NotAccepted as wrong:
            self.problems.append(wrong)
        except Refusal as refusal:
            problem, _, instead = str(refusal).partition("; ")
            self.problems.append(NotAccepted(problem, instead))
        return otherwise


@dataclass(frozen=True, slots=True)
class _Prices:
    """What a line says of money: all pieces, or one, and how many there are."""

    total: str
    each: str
    count: int
    currency: str


def _cents(prices: _Prices) -> int:
    """What all pieces of a line cost."""
    sums = []
    if prices.total:
        sums.append(cents_of(prices.total, prices.currency))
    if prices.each:
        sums.append(prices.count * cents_of(prices.each, prices.currency))
    if not sums:
        raise NotAccepted(
            "the price is missing",
            "write what all pieces cost under total, or one under each",
        )
    if min(sums) < 0:
        raise NotAccepted("a price is below 0", "leave out what was given back")
    if sums[0] != sums[-1]:
        told = f"{prices.count} at {prices.each} are not {prices.total}"
        raise NotAccepted(told, "mend one of the three, or leave one price out")
    return sums[0]


def _unreadable(row: Row) -> Iterator[NotAccepted]:
    for column, value in row.values.items():
        if len(value) > NAME_LIMIT:
            yield NotAccepted(
                f"the {column} has {len(value)} characters",
                f"shorten it to {NAME_LIMIT}",
            )
        elif _STEERING.search(value):
            yield NotAccepted(
                f"the {column} holds a sign that cannot be read", "write it anew"
            )


def _count(given: str) -> int:
    if not given:
        return 1
    number = int(given) if given.isascii() and given.isdigit() else 0
    if not 1 <= number <= MOST_PIECES:
        raise NotAccepted(
            f"`{given[:20]}` is no number of pieces",
            f"write one from 1 to {MOST_PIECES}",
        )
    return number


def _free_names(used: set[str]) -> Iterator[str]:
    """Names of purchases that nobody used: B-001 and so on, from the one after the highest.

    >>> next(_free_names({"b-007", "4711"})), next(_free_names(set()))
    ('B-008', 'B-001')
    """
    numbers = [int(name[2:]) for name in used if re.fullmatch(r"b-[0-9]{1,9}", name)]
    first = max(numbers, default=0) + 1
    return (f"B-{number:03d}" for number in range(first, first + MOST + 1))
