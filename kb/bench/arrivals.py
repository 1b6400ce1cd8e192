"""The desk for arrivals: machines taken in by list or one by one, and their labels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.asking import AskingDesk
from kb.bench.machines import MachineDesk
from kb.bench.shop import Desk, Shop
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.intake import clean
from kb.history.jobs import body_of
from kb.machines.lots import natural
from kb.machines.units import FloorState, UnitLine, is_unknown

if TYPE_CHECKING:  # what reads lists is loaded by whoever takes one in
    from kb.machines.arrival import InShop, Pallet
    from kb.machines.labels import Label


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


class ArrivalDesk(Desk):
    """Where machines come in, and where labels are made for them."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop)
        self._machines = MachineDesk(shop)

    def read_pallet(
        self, text: str, lot: str, file: str = "list", new_models: bool = False
    ) -> Pallet:
        """A list of machines (CSV with headings) as it would come in, every problem by line; nothing is written."""
        from kb.machines import arrival

        if not lot.strip():
            raise Refusal(
                worded("the lot is missing; say in which lot these machines came")
            )
        return arrival.judge(
            arrival.read_table(text, file), lot, self._in_shop(), file, new_models
        )

    def take_in(
        self, text: str, lot: str, file: str = "list", new_models: bool = False
    ) -> Pallet:
        """The same, with the good machines written down, all or none; the same list again writes nothing new."""
        history = self.shop.history()
        with history.together():
            pallet = self.read_pallet(text, lot, file, new_models)
            for machine in (*pallet.arriving, *pallet.further):
                history.note(kinds.UNIT_IN, "", machine.body(pallet.lot), machine.token)
        return pallet

    def arrive(self, told: Arrived, token: str = "") -> str:
        """Take in one machine with its first looks, and give its tag; without one it gets the next free of its lot.

        Raises Refusal for a tag under which a machine came in already.
        """
        history = self.shop.history()
        with history.together():
            if earlier := history.written_with(token):
                return str(body_of(earlier).get("tag", ""))
            tag = told.tag.strip() or self.next_tag(told.lot)
            known = self._machines.line(tag)
            if known and known.came_at:
                raise Refusal(_taken(known))
            facts = {
                "model": told.model,
                "lot": told.lot,
                "words": told.words,
                "place": told.place,
            }
            history.note(
                kinds.UNIT_IN,
                "",
                {"tag": tag, **{k: v for k, v in facts.items() if v.strip()}},
                token,
            )
            self._shown(tag, told.looks, told.by, token)
        return " ".join(tag.split())

    def look_at(
        self, tag: str, looks: Mapping[str, str], by: str = "", token: str = ""
    ) -> None:
        """Write down what lines of the check-out list showed on a machine, all or none."""
        if not looks:
            raise Refusal(
                worded("nothing was looked at; say of one line at least what it showed")
            )
        history, known = self.shop.history(), self._machines.unit(tag).tag
        with history.together():
            self._shown(known, looks, by, token)

    def _shown(self, tag: str, looks: Mapping[str, str], by: str, token: str) -> None:
        for number, (line, shown) in enumerate(looks.items()):
            body = {"tag": tag, "line": line, "shown": shown, "by": by}
            self.shop.history().note(
                kinds.FUNCTION, "", body, token_beside(token, str(number))
            )

    def next_tag(self, lot: str) -> str:
        """The next tag of a lot that no machine has."""
        from kb.machines import arrival

        with self.files.floor() as (index, _):
            return next(
                arrival.free_tags(lot, {line.key for line in index.floor.lines()})
            )

    def _in_shop(self) -> InShop:
        from kb.machines.arrival import InShop

        history = self.shop.history()
        with self.files.floor() as (index, _):
            lines = list(index.floor.lines())
        models = {
            model.casefold(): model
            for model in reversed(AskingDesk(self.shop).models())
        }
        models |= {
            line.model.casefold(): line.model
            for line in lines
            if not is_unknown(line.model)
        }
        return InShop(
            arrived={line.key: line for line in lines if line.came_at},
            models=tuple(models.values()),
            same=history.same_models().by_name,
            serials=frozenset(line.serial.casefold() for line in lines if line.serial),
            tags=frozenset(line.key for line in lines),
            used=lambda token: history.written_with(token) is not None,
        )

    def labels(
        self, lot: str = "", tags: Sequence[str] = (), address: str = ""
    ) -> list[Label]:
        """The labels of a lot's machines, or of those tags, by tag; with an address their codes lead to the pages.

        A tag that nobody knows yet gets a label too, so that machines can be labelled before they are taken in.
        """
        from kb.machines import labels
        from kb.machines.labels import Label

        units = self._machines.lot(lot).units if lot else ()
        lines = [one.line for one in units if one.state is not FloorState.GONE]
        made = [
            (line.tag, line.model, line.lot)
            for line in sorted(lines, key=lambda line: natural(line.tag))
        ]
        for tag in filter(str.strip, tags):
            line = self._machines.line(tag)
            if line:
                made.append((line.tag, line.model, line.lot))
            else:
                made.append((" ".join(clean(tag).split())[:60], "", ""))
        found = []
        for tag, model, of in made:
            code = (
                labels.address_code(tag, address) if address else labels.tag_code(tag)
            )
            found.append(Label(tag, model, of, code))
        return found


def _taken(known: UnitLine) -> str:
    """That a machine came in under a tag already, and what is to be done."""
    if known.gone:
        return worded(
            "{tag} left the shop before; if it is back, say so on its page, else give this one another tag",
            tag=known.tag,
        )
    return worded(
        "a machine with the tag {tag} came in already; give this one another tag",
        tag=known.tag,
    )
