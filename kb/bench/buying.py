"""The desk for buying parts: purchases taken in by list, and each piece that came matched to a machine that waits."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.base.trouble import NotThere, Refusal
from kb.bench.asking import AskingDesk
from kb.bench.machines import MachineDesk
from kb.bench.parts import PartsDesk
from kb.bench.shop import Desk, Shop
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.intake import tag_key
from kb.history.record import Record
from kb.machines.parts_told import Purchase
from kb.machines.units import FloorUnit, is_unknown

if TYPE_CHECKING:  # what reads lists is loaded by whoever takes one in
    from kb.machines.purchases import PurchaseList, PurchasesKnown


@dataclass(frozen=True, slots=True, kw_only=True)
class PiecesMatched:
    """Pieces of a purchase that came: the machines that waited for one, longest wait first, and how many are left over.

    The rest lies in the drawer.
    """

    purchase: Purchase
    units: tuple[FloorUnit, ...]
    rest: int


class BuyingDesk(Desk):
    """Where parts are bought, and where they come in."""

    def __init__(self, shop: Shop, parts: PartsDesk) -> None:
        super().__init__(shop)
        self._parts = parts

    def read(
        self, text: str, file: str = "list", as_written: bool = False
    ) -> PurchaseList:
        """A list of purchases (CSV with headings) as it would be written down, every problem by line; nothing is."""
        from kb.machines.purchases import read_purchases

        return read_purchases(text, file, self._known(as_written))

    def take_in(
        self, text: str, file: str = "list", as_written: bool = False
    ) -> PurchaseList:
        """The same, with the good lines written down, all or none; the same list again writes nothing new."""
        history = self.shop.history()
        with history.together():
            listed = self.read(text, file, as_written)
            for one in listed.buying:
                bought = Purchase(
                    purchase=one.purchase,
                    part=one.part,
                    model=one.model,
                    count=one.count,
                    cents=one.cents,
                    tag=one.tag,
                    at=one.bought_on or self.shop.clock().date().isoformat(),
                )
                self._bought(bought, one.token)
                if one.came_on:
                    told = {"part": one.part, "tag": one.tag, "came_on": one.came_on}
                    self._came(one.purchase, one.count, told, f"{one.token}-came")
        return listed

    def buy(self, purchase: Purchase, token: str = "") -> Record:
        """Write down one purchase; Refusal for a name that another has already."""
        with self.shop.history().together():
            written = self.shop.history().written_with(token)
            if written is None and purchase.purchase.casefold() in self._names():
                raise Refusal(
                    f"a purchase {purchase.purchase[:40]} is written down already; give this one another name"
                )
            return self._bought(purchase, token)

    def came(self, purchase: str, count: int = 0, token: str = "") -> PiecesMatched:
        """Write down that so many pieces of a purchase came (0 for all that are on the way), and for which machines.

        Raises NotThere for a purchase that nobody wrote down, Refusal if fewer are on the way.
        """
        history = self.shop.history()
        with history.together():
            bought = self._purchase(purchase)
            if history.written_with(token_beside(token, "0")):
                return PiecesMatched(purchase=bought, units=(), rest=0)
            pieces = self._on_the_way(bought, count)
            units = tuple(self._waiting_for(bought))[:pieces]
            rest = pieces - len(units)
            for number, unit in enumerate(units):
                told = {"part": bought.part, "tag": unit.line.tag}
                self._came(bought.purchase, 1, told, token_beside(token, str(number)))
            if rest:
                self._came(
                    bought.purchase,
                    rest,
                    {"part": bought.part},
                    token_beside(token, str(len(units))),
                )
        return PiecesMatched(purchase=bought, units=units, rest=rest)

    def _bought(self, purchase: Purchase, token: str) -> Record:
        body = {
            "purchase": purchase.purchase,
            "part": purchase.part,
            "model": purchase.model,
            "count": purchase.count,
            "cents": purchase.cents,
            "for": purchase.tag,
            "bought_on": purchase.at,
        }
        return self.shop.history().note(kinds.PART_BOUGHT, "", body, token)

    def _came(
        self, purchase: str, count: int, told: dict[str, str], token: str
    ) -> Record:
        body = {"purchase": purchase, "count": count} | {
            name: value for name, value in told.items() if value
        }
        return self.shop.history().note(kinds.PART_IN, "", body, token)

    def _purchase(self, name: str) -> Purchase:
        """The purchase of that name, whatever its case; raises NotThere."""
        wanted = " ".join(name.split()).casefold()
        found = next(
            (
                one
                for one in self._parts.told().purchases
                if one.purchase.casefold() == wanted
            ),
            None,
        )
        if found is None:
            named = name.strip()[:40]
            raise NotThere(
                f"no purchase {named} is written down; `benchlore parts --coming` lists what is on the way"
            )
        return found

    def _on_the_way(self, bought: Purchase, count: int) -> int:
        left = bought.count - bought.came
        if not left:
            raise Refusal(
                f"all pieces of {bought.purchase} came already; nothing of it is on the way"
            )
        if count > left:
            raise Refusal(
                f"{count} pieces of {bought.purchase} cannot come; {left} of {bought.count} are on the way"
            )
        return count or left

    def _waiting_for(self, bought: Purchase) -> Iterator[FloorUnit]:
        """The machines that wait for such a part: the one it was bought for, then by how long they have waited."""
        machines = MachineDesk(self.shop)
        told = self._parts.told()
        waits: list[tuple[bool, int, FloorUnit]] = []
        for unit in self._parts.wanting():
            if bought.part not in unit.line.wanted:
                continue
            own = tag_key(bought.tag) == unit.line.key
            if own or told.serves(bought, unit.line.model):
                wanted = machines.unit(unit.line.tag).wanted
                since = min(one.seq for one in wanted if one.part == bought.part)
                waits.append((not own, since, unit))
        if not any(own for own, _, _ in waits):
            yield from self._bought_for(bought)
        yield from (unit for _, _, unit in sorted(waits, key=lambda one: one[:2]))

    def _bought_for(self, bought: Purchase) -> Iterator[FloorUnit]:
        """The machine that a purchase names though it waits for nothing: if it is here, and has no such part yet."""
        machines = MachineDesk(self.shop)
        if not bought.tag or machines.line(bought.tag) is None:
            return
        found = machines.machine(bought.tag)
        unit = found.unit
        had = {one.part for one in unit.pieces} | {one.part for one in unit.taken}
        had |= {one.part for one in unit.work}
        if bought.part not in had and not (unit.gone or unit.is_donor):
            yield found.stands

    def _names(self) -> frozenset[str]:
        return frozenset(
            one.purchase.casefold() for one in self._parts.told().purchases
        )

    def _known(self, as_written: bool) -> PurchasesKnown:
        from kb.machines.purchases import PurchasesKnown

        history = self.shop.history()
        lines = [unit.line for unit in MachineDesk(self.shop).units()]
        models = {one.casefold(): one for one in AskingDesk(self.shop).models()}
        models |= {
            line.model.casefold(): line.model
            for line in lines
            if not is_unknown(line.model)
        }
        return PurchasesKnown(
            parts=sorted(self.shop.customs.trade().parts),
            models=sorted(models.values()),
            same=history.same_models().by_name,
            tags={line.key: line.tag for line in lines},
            purchases=self._names(),
            currency=self.shop.settings.currency,
            today=self.shop.clock().date(),
            as_written=as_written,
            used=lambda token: history.written_with(token) is not None,
        )
