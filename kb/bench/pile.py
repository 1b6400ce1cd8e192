"""The desk for the pile: which machine next, how many will work and when, and what can be built from several."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import permutations, product

from kb.base.trouble import Refusal
from kb.bench.machines import MachineDesk
from kb.bench.parts import PartsDesk, in_all_words
from kb.bench.shop import Desk, Shop
from kb.diagnosis.case import PART_MINUTES
from kb.history import kinds
from kb.history.jobs import body_of
from kb.history.units import Unit
from kb.library.machine import CompleteMachine
from kb.machines import complaints
from kb.machines.arrival import free_tags
from kb.machines.complaints import BelievedCause
from kb.machines.lots import lot_key
from kb.machines.parts_told import PartsTold, PricePaid
from kb.machines.pile import (
    LoosePiece,
    Piece,
    Pile,
    Recipe,
    Waiting,
    assembled,
    foretold,
    front,
    outlooks,
    planned,
)
from kb.machines.pile.assembly import Addition, Assembly
from kb.machines.pile.forecast import Forecast
from kb.machines.pile.outlook import Outlook
from kb.machines.pile.plan import PilePlan
from kb.machines.units import FloorState, FloorUnit, complaint_of, is_unknown

#: A part of one model counts as one that serves another from this chance of fitting on.
SERVES = 0.8
#: Hours of a day at the bench, where nothing else is said.
HOURS = 8.0
#: What the tags of machines begin with that were built from several.
BUILT = "Built"
#: Plays of a forecast on a page: enough for its range, quick enough to wait for.
PLAYS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class PileView:
    """A pile as it stands: its machines with their outlook, the plan, the forecast, and what can be built.

    `unseen` are machines without a complaint that nobody has looked at, on which nothing can be reckoned; `urgent`
    those whose complaint tells of a danger, with what to do at once: they cannot wait for their turn; `heard` has
    the words that tell of it.
    `pools` tells for each pool of parts its kind and the model that names it, `paid` what pieces that would complete a
    machine cost last, by kind and model.
    """

    pile: Pile
    outlooks: tuple[Outlook, ...]
    plan: PilePlan
    forecast: Forecast
    assembly: Assembly
    units: Mapping[str, FloorUnit]
    unseen: tuple[str, ...]
    pools: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    paid: Mapping[tuple[str, str], PricePaid] = field(default_factory=dict)
    urgent: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    heard: Mapping[str, str] = field(default_factory=dict)

    def price_of(self, added: Addition) -> PricePaid:
        """What the piece that would complete one machine more cost last."""
        return self.paid.get((added.part, added.model), PricePaid(added.cents))


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What the arithmetic says of a pile."""

    outlooks: tuple[Outlook, ...]
    plan: PilePlan
    forecast: Forecast


@dataclass(frozen=True, slots=True)
class Giver:
    """A donor with all that its records tell, its model as lists show it, and what may be wrong with it."""

    unit: Unit
    model: str
    causes: tuple[BelievedCause, ...]


class Pools:
    """Names pools of parts that serve each other: a kind of part, and the first model of those it fits."""

    def __init__(self, told: PartsTold, models: Iterable[str]) -> None:
        self._told = told
        self._models = sorted(set(models))
        self._names: dict[tuple[str, str], str] = {}
        self.named: dict[str, tuple[str, str]] = {}

    def of(self, part: str, model: str) -> str:
        """The pool of a part of that model."""
        if (part, model) not in self._names:
            first = next(
                (one for one in self._models if self._serves(part, one, model)), model
            )
            name = f"{part}, {first}" if first else part
            self._names[part, model] = name
            self.named[name] = (part, first)
        return self._names[part, model]

    def _serves(self, part: str, giver: str, receiver: str) -> bool:
        return giver == receiver or self._told.chance(part, giver, receiver) >= SERVES


class PileDesk(Desk):
    """Where all machines are looked at together; the last view is kept as long as what it hangs on."""

    def __init__(self, shop: Shop, parts: PartsDesk) -> None:
        super().__init__(shop)
        self._parts = parts
        self._kept: tuple[object, PileView] | None = None
        self._last: tuple[Pile, Reckoned] | None = None

    def view(self, lot: str = "", hours: float = HOURS, cents: int = 0) -> PileView:
        """The pile of a lot, or of the whole floor, with so many hours and so much money left."""
        told, customs = self._parts.told(), self.shop.customs
        grounds = (
            self.shop.history().tip(),
            self._parts.grounds,
            customs.check_list(),
            customs.complete_machine(),
        )
        asked = (*grounds, lot_key(lot), hours, cents)
        kept = self._kept  # that of now: another thread may put its own there
        if kept and kept[0] == asked:
            return kept[1]
        with customs.held():
            view = self._reckoned(told, lot, hours, cents)
        self._kept = (asked, view)
        return view

    def _reckoned(
        self, told: PartsTold, lot: str, hours: float, cents: int
    ) -> PileView:
        units = MachineDesk(self.shop).units()
        pools = Pools(told, (unit.line.model for unit in units))
        open_ones = [unit for unit in units if _is_waiting(unit) and _is_of(lot, unit)]
        givers = self._givers(units)
        self._parts.answers(open_ones)  # all at once; each is asked for below
        waiting = []
        for unit in open_ones:
            machine = self._waiting(unit, pools)
            if machine:
                waiting.append((unit, machine))
        asked = complaints.parts_asked_for(machine for _, machine in waiting)
        donors = [self._donor(giver, asked, told, pools) for giver in givers]
        pile = Pile(
            waiting=tuple(
                self._lending(machine, unit, asked, pools) for unit, machine in waiting
            ),
            donors=(*donors, *self._lying_loose(asked, told, pools)),
            minutes=60.0 * hours,
            cents=cents,
            prices=_known_prices(asked, told, pools),
        )
        built, told_of_it = self._built(givers, told), self._arithmetic(pile)
        urgent, heard = self._dangers(open_ones)
        return PileView(
            pile=pile,
            outlooks=told_of_it.outlooks,
            plan=told_of_it.plan,
            forecast=told_of_it.forecast,
            assembly=built,
            units={unit.line.tag: unit for unit in units},
            unseen=tuple(unit.line.tag for unit in open_ones if self._is_unseen(unit)),
            pools=pools.named,
            paid=_paid_for(built, told),
            urgent=urgent,
            heard=heard,
        )

    def _dangers(
        self, units: Sequence[FloorUnit]
    ) -> tuple[dict[str, tuple[str, ...]], dict[str, str]]:
        """By tag what is to be done at once with the machines that tell of a danger, and the words that tell of it."""
        told = {unit.line.tag: self._parts.at_once(unit) for unit in units}
        dangers = {tag: deeds for tag, deeds in told.items() if deeds}
        urgent = {tag: in_all_words(deeds) for tag, deeds in dangers.items()}
        return urgent, {tag: " / ".join(deeds) for tag, deeds in dangers.items()}

    def _arithmetic(self, pile: Pile) -> Reckoned:
        """What is said of a pile; of one like the last what was said of that: most records leave it as it is."""
        last = self._last  # that of now: another thread may put its own there
        if last and last[0] == pile:
            return last[1]
        reached = front(pile)
        found = Reckoned(
            outlooks=tuple(outlooks(pile)),
            plan=planned(reached),
            forecast=foretold(reached, plays=PLAYS),
        )
        self._last = (pile, found)
        return found

    def build(self, model: str, token: str = "") -> str:
        """Put the likeliest complete machine of a model together: it gets a tag of its own, and its parts leave donors.

        Gives the tag. Refusal where none can be built.
        """
        machines, history = MachineDesk(self.shop), self.shop.history()
        with history.together():
            if written := history.written_with(token):
                return str(body_of(written).get("tag", ""))
            units = machines.units()
            told = self._parts.told()
            found = self._built(self._givers(units), told).machines
            kept = history.same_models().kept(model).strip().casefold()
            built = next((one for one in found if one.model.casefold() == kept), None)
            if built is None:
                raise Refusal(
                    f"no complete {model.strip()[:60]} can be put together out of the donors that are here"
                )
            tag = next(free_tags(BUILT, (unit.line.key for unit in units)))
            machines.write(kinds.UNIT_IN, {"tag": tag, "model": built.model}, token)
            machines.write(
                kinds.UNIT_NOTE,
                {"tag": tag, "text": f"built from {', '.join(built.tags)}"},
            )
            for piece in built.pieces:
                if piece.piece.record:
                    self._parts.take_piece(piece.piece.record, tag)
                else:
                    self._parts.take(piece.piece.tag, piece.piece.part, tag)
        return tag

    def _givers(self, units: Iterable[FloorUnit]) -> list[Giver]:
        """The donors among machines."""
        machines = MachineDesk(self.shop)
        lines = [unit for unit in units if unit.state is FloorState.DONOR]
        answers = self._parts.answers(lines)
        return [
            Giver(
                machines.unit(line.line.tag),
                line.line.model,
                complaints.believed(answer),
            )
            for line, answer in zip(lines, answers, strict=True)
        ]

    def _waiting(self, unit: FloorUnit, pools: Pools) -> Waiting | None:
        """A machine as the pile reckons with it; None for one of which nothing is known."""
        line, answer = unit.line, self._parts.answer(unit)

        def pool_of(part: str) -> str:
            return pools.of(part, line.model)

        if line.wanted:
            part = line.wanted[0]
            minutes = self._parts.held(part, line.model).fit + PART_MINUTES
            return complaints.wanting(line.tag, part, minutes, pool_of, answer)
        if line.to_fit:
            part = line.to_fit[0]
            return complaints.fitting(
                line.tag, part, self._parts.held(part, line.model).fit, pool_of, answer
            )
        if answer is None:
            return None
        return complaints.waiting(
            line.tag, answer, complaints.believed(answer), pool_of
        )

    def _donor(
        self, giver: Giver, asked: Iterable[str], told: PartsTold, pools: Pools
    ) -> Waiting:
        """What a donor still holds of what is asked for, each piece with the chance that it is good and fits."""
        pieces = []
        for pool in asked:
            part, _ = pools.named[pool]
            left = self._parts.held(part, giver.model).count - told.gone.get(
                (giver.unit.key, part), 0
            )
            if left > 0 and pools.of(part, giver.model) == pool:
                pieces.append(
                    Piece(
                        part=pool,
                        sound=self._parts.goodness(part, giver.unit, giver.causes),
                    )
                )
        return Waiting(tag=giver.unit.tag, look=0.0, pieces=tuple(pieces))

    def _lying_loose(
        self, asked: Collection[str], told: PartsTold, pools: Pools
    ) -> Iterator[Waiting]:
        """The pieces in the drawer that are asked for, each as a donor of its own that needs no taking out."""
        for piece in told.drawer:
            pool = pools.of(piece.part, piece.model)
            if pool in asked and not is_unknown(piece.model):
                good = self._parts.piece_goodness(piece)
                for number in range(1, piece.count + 1):
                    which = f" {number}" if number > 1 else ""
                    tag = f"{piece.name}, {piece.part}{which}"
                    yield Waiting(
                        tag=tag, look=0.0, pieces=(Piece(part=pool, sound=good),)
                    )

    def _lending(
        self, machine: Waiting, unit: FloorUnit, asked: Iterable[str], pools: Pools
    ) -> Waiting:
        """The machine with the pieces that it could give to others if it were given up, each as good as a donor's."""
        line = unit.line
        if is_unknown(line.model):
            return machine
        causes = () if machine.known else complaints.believed(self._parts.answer(unit))
        good_of = self._parts.goodness_listed(line, causes)
        pieces = []
        for pool in asked:
            part, _ = pools.named[pool]
            if pools.of(part, line.model) == pool:
                sound = _but_for(machine.suspected(pool), good_of(part))
                pieces.append(Piece(part=pool, sound=sound))
        return replace(machine, pieces=tuple(pieces))

    def _built(self, givers: list[Giver], told: PartsTold) -> Assembly:
        """The complete machines that the donors can be put together to, and what one bought part would add."""
        whole = self.shop.customs.complete_machine()
        models = sorted(
            {giver.model for giver in givers if not is_unknown(giver.model)}
        )
        recipes = [
            Recipe(model=model, parts=tuple(part.name for part in whole.parts(model)))
            for model in models
        ]
        pieces = [
            piece for giver in givers for piece in self._left_of(giver, told, whole)
        ]
        for loose in told.drawer if recipes else ():
            good = self._parts.piece_goodness(loose)
            one = LoosePiece(
                tag=loose.name,
                part=loose.part,
                model=loose.model,
                good=good,
                record=loose.record,
            )
            pieces += [one] * loose.count
        kinds = {piece.part for piece in pieces}
        return assembled(
            recipes, pieces, _fits(kinds, models, told), _prices(kinds, models, told)
        )

    def _left_of(
        self, giver: Giver, told: PartsTold, whole: CompleteMachine
    ) -> Iterator[LoosePiece]:
        """The pieces that a donor still has, each with the chance that it is good."""
        for part in whole.parts(giver.model):
            if part.count > told.gone.get((giver.unit.key, part.name), 0):
                good = self._parts.goodness(part.name, giver.unit, giver.causes)
                yield LoosePiece(
                    tag=giver.unit.tag, part=part.name, model=giver.model, good=good
                )

    def _is_unseen(self, unit: FloorUnit) -> bool:
        line = unit.line
        return not (line.wanted or line.to_fit or line.open_jobs or complaint_of(line))


def _but_for(suspected: float, good: float) -> float:
    """How likely a piece is good if it is not what is wrong with its machine, which is believed so much."""
    return min(good / (1 - suspected), 1.0) if suspected < 1 else 1.0


def _fits(
    kinds: Collection[str], models: Sequence[str], told: PartsTold
) -> dict[tuple[str, str, str], float]:
    """By kind, giving and taking model the chance that a part of one serves the other, where it is a good one."""
    fits = {}
    for kind, (giving, taking) in product(kinds, permutations(models, 2)):
        chance_of_it = told.chance(kind, giving, taking)
        if chance_of_it >= SERVES:
            fits[kind, giving, taking] = chance_of_it
    return fits


def _prices(
    kinds: Collection[str], models: Sequence[str], told: PartsTold
) -> dict[tuple[str, str], int]:
    """By kind and model what a piece cost last, in cents, where one was ever bought."""
    prices = {
        (kind, model): told.price(kind, model) for kind, model in product(kinds, models)
    }
    return {pair: paid.cents for pair, paid in prices.items() if paid}


def _paid_for(built: Assembly, told: PartsTold) -> dict[tuple[str, str], PricePaid]:
    """By kind and model what each piece that would complete a machine cost last."""
    prices = {
        (one.part, one.model): told.price(one.part, one.model)
        for one in built.additions
    }
    return {pair: paid for pair, paid in prices.items() if paid}


def _known_prices(
    asked: Iterable[str], told: PartsTold, pools: Pools
) -> dict[str, int]:
    """By pool of what is asked for what a piece cost last, in cents, where one was ever bought."""
    prices = {pool: told.price(*pools.named[pool]) for pool in asked}
    return {pool: paid.cents for pool, paid in prices.items() if paid}


def _is_waiting(unit: FloorUnit) -> bool:
    return unit.state in (FloorState.WAITING, FloorState.BENCH, FloorState.PART)


def _is_of(lot: str, unit: FloorUnit) -> bool:
    """Whether a machine is of a lot; all are of the one without a name."""
    return not lot.strip() or lot_key(unit.line.lot) == lot_key(lot)
