"""The front door of a shop's bench: its desks, each for one kind of question. Knows nothing of web or command line."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from kb.base.clock import Clock, utc_now
from kb.bench.asking import AskingDesk
from kb.bench.entries import EntryDesk
from kb.bench.health import HealthDesk
from kb.bench.jobs import JobDesk
from kb.bench.looking_back import LookingBackDesk
from kb.bench.shop import Shop
from kb.history import History

# and where they are asked for: a search at the terminal need not wait for the floor's arithmetic
if TYPE_CHECKING:
    from kb.bench.arrivals import ArrivalDesk
    from kb.bench.buying import BuyingDesk
    from kb.bench.checkout import CheckOutDesk
    from kb.bench.cost import CostDesk
    from kb.bench.learning import LearningDesk
    from kb.bench.machines import MachineDesk
    from kb.bench.models import ModelDesk
    from kb.bench.parts import PartsDesk
    from kb.bench.past import PastDesk
    from kb.bench.pile import PileDesk


class Bench:
    """A shop's bench over its folder: fifteen desks over one shop, the rarer ones made when they are asked for.

    Safe to be used from several threads, each with its own connections.
    """

    def __init__(
        self, folder: Path, stock: Path | None = None, clock: Clock = utc_now
    ) -> None:
        self.shop = Shop(folder, stock, clock)
        self.asking = AskingDesk(self.shop)
        self.jobs = JobDesk(self.shop)
        self.entries = EntryDesk(self.shop)
        self.looking_back = LookingBackDesk(self.shop)
        self.health = HealthDesk(self.shop)

    @cached_property
    def machines(self) -> MachineDesk:
        """The desk for machines and lots."""
        from kb.bench.machines import MachineDesk

        return MachineDesk(self.shop)

    @cached_property
    def arrivals(self) -> ArrivalDesk:
        """The desk for machines that come in."""
        from kb.bench.arrivals import ArrivalDesk

        return ArrivalDesk(self.shop)

    @cached_property
    def checkout(self) -> CheckOutDesk:
        """The desk for check-outs."""
        from kb.bench.checkout import CheckOutDesk

        return CheckOutDesk(self.shop)

    @cached_property
    def cost(self) -> CostDesk:
        """The desk for cost."""
        from kb.bench.cost import CostDesk

        return CostDesk(self.shop)

    @cached_property
    def parts(self) -> PartsDesk:
        """The desk for parts."""
        from kb.bench.parts import PartsDesk

        return PartsDesk(self.shop)

    @cached_property
    def buying(self) -> BuyingDesk:
        """The desk for buying parts."""
        from kb.bench.buying import BuyingDesk

        return BuyingDesk(self.shop, self.parts)

    @cached_property
    def pile(self) -> PileDesk:
        """The desk for the pile."""
        from kb.bench.pile import PileDesk

        return PileDesk(self.shop, self.parts)

    @cached_property
    def learning(self) -> LearningDesk:
        """The desk for learning from other shops."""
        from kb.bench.learning import LearningDesk

        return LearningDesk(self.shop)

    @cached_property
    def models(self) -> ModelDesk:
        """The desk for the names of models."""
        from kb.bench.models import ModelDesk

        return ModelDesk(self.shop)

    @cached_property
    def past(self) -> PastDesk:
        """The desk for old jobs that come in from lists."""
        from kb.bench.past import PastDesk

        return PastDesk(self.shop)

    @property
    def folder(self) -> Path:
        """The shop's folder."""
        return self.shop.folder

    def history(self) -> History:
        """The history, opened for this thread; made by the first call that needs one."""
        return self.shop.history()

    def close(self) -> None:
        """Let this thread's files go."""
        self.shop.files.close()
