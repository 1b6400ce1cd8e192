"""The front door of a shop's bench: its desks, each for one kind of question. Knows nothing of web or command line."""

from __future__ import annotations

from pathlib import Path

from kb.base.clock import Clock, utc_now
from kb.bench.arrivals import ArrivalDesk
from kb.bench.asking import AskingDesk
from kb.bench.checkout import CheckOutDesk
from kb.bench.cost import CostDesk
from kb.bench.entries import EntryDesk
from kb.bench.health import HealthDesk
from kb.bench.jobs import JobDesk
from kb.bench.looking_back import LookingBackDesk
from kb.bench.machines import MachineDesk
from kb.bench.parts import PartsDesk
from kb.bench.past import PastDesk
from kb.bench.pile import PileDesk
from kb.bench.shop import Shop
from kb.history import History


class Bench:
    """A shop's bench over its folder: twelve desks over one shop, in the order in which a job meets them.

    Safe to be used from several threads, each with its own connections.
    """

    def __init__(self, folder: Path, stock: Path | None = None, clock: Clock = utc_now) -> None:
        self.shop = Shop(folder, stock, clock)
        self.asking = AskingDesk(self.shop)
        self.jobs = JobDesk(self.shop)
        self.entries = EntryDesk(self.shop)
        self.machines = MachineDesk(self.shop)
        self.arrivals = ArrivalDesk(self.shop)
        self.checkout = CheckOutDesk(self.shop)
        self.cost = CostDesk(self.shop)
        self.parts = PartsDesk(self.shop)
        self.pile = PileDesk(self.shop)
        self.past = PastDesk(self.shop)
        self.looking_back = LookingBackDesk(self.shop)
        self.health = HealthDesk(self.shop)

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
