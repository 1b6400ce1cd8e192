"""The habits of twelve invented models, hidden from it: what each is prone to, and how faults are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from random import Random

from kb.model import WEIGHT_ODDS, Entry

#: The models, all invented, with the odds that a machine of the pile is one.
MODELS = {
    "Tern 13": 16, "Skua 14": 14, "Plover 15": 13, "Fulmar 14": 11, "Gannet 15": 10, "Kittiwake 14": 9,
    "Curlew 13": 8, "Turnstone 15": 8, "Dunlin 12": 7, "Whimbrel 14": 7, "Godwit 13": 6, "Eider 17": 6,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Habit:
    """A weakness of a model: the share of its jobs that turn out to be this cause."""

    model: str
    cause: str
    share: float

    @property
    def entry(self) -> str:
        """The slug of the entry the cause belongs to."""
        return self.cause.partition("/")[0]


HABITS = (
    Habit("Tern 13", "battery-not-detected/light-board", 0.12),
    Habit("Tern 13", "charge-light-but-no-start/button-ribbon", 0.07),
    Habit("Tern 13", "wifi-weak/antenna-swapped", 0.05),
    Habit("Skua 14", "row-of-keys-dead/connector-dirt", 0.12),
    Habit("Skua 14", "shuts-off-under-load/power-plug", 0.07),
    Habit("Plover 15", "hinge-stiff-or-cracked/torn-inserts", 0.12),
    Habit("Plover 15", "image-depends-on-lid-angle/hinge-strain", 0.07),
    Habit("Plover 15", "usb-port-loose/board-screw", 0.05),
    Habit("Fulmar 14", "usb-c-charger-not-accepted/port-board", 0.12),
    Habit("Fulmar 14", "wont-wake-from-sleep/lid-sensor", 0.08),
    Habit("Gannet 15", "no-sign-of-life/side-board", 0.12),
    Habit("Gannet 15", "charge-plug-loose/solder-crack", 0.08),
    Habit("Kittiwake 14", "wifi-missing/card-seat", 0.12),
    Habit("Kittiwake 14", "memory-slot-dead/cooler-strain", 0.08),
    Habit("Curlew 13", "half-the-screen-blank/cable-seat", 0.13),
    Habit("Curlew 13", "lid-sensor-stuck/magnet-side", 0.09),
    Habit("Turnstone 15", "drive-not-detected/drive-ribbon", 0.13),
    Habit("Turnstone 15", "starts-then-cuts-off/heat-sink", 0.09),
    Habit("Dunlin 12", "plugged-in-not-charging/id-line", 0.13),
    Habit("Dunlin 12", "touchpad-pointer-jumps/swollen-pack", 0.09),
    Habit("Whimbrel 14", "no-image-machine-runs/panel-fuse", 0.13),
    Habit("Whimbrel 14", "keyboard-light-dead/light-ribbon", 0.09),
    Habit("Godwit 13", "power-button-unreliable/button-ribbon", 0.14),
    Habit("Godwit 13", "fingerprint-reader-dead/paired-board", 0.10),
    Habit("Eider 17", "garbled-graphics/graphics-chip", 0.14),
    Habit("Eider 17", "one-of-two-fans-stopped/fan-plug", 0.10),
)

#: Entries that come up often in any shop, at these odds against one of the others (assumption).
COMMON = frozenset({
    "battery-drains-fast", "no-boot-device", "slow-at-everything", "plugged-in-not-charging", "runs-hot",
    "fan-noisy", "no-sign-of-life", "single-key-dead", "screen-cracked", "stuck-at-logo", "drive-health-warning",
    "stickers-and-residue", "hinge-stiff-or-cracked", "charge-plug-loose", "wifi-drops", "liquid-spill",
    "usb-port-loose", "no-image-machine-runs",
})  # fmt: skip
COMMON_ODDS = 5.0

#: Which models share a part that fits all of them, by part; every other part fits its own model alone.
FAMILIES: dict[str, tuple[tuple[str, ...], ...]] = {
    "fan": (("Tern 13", "Godwit 13"), ("Skua 14", "Fulmar 14", "Whimbrel 14")),
    "panel": (("Skua 14", "Fulmar 14"), ("Plover 15", "Gannet 15", "Turnstone 15"), ("Tern 13", "Curlew 13")),
    "keyboard": (("Plover 15", "Turnstone 15"), ("Kittiwake 14", "Whimbrel 14")),
    "memory module": (tuple(MODELS),),
    "M.2 drive": (tuple(MODELS),),
    "wireless card": (tuple(MODELS),),
    "charger": (tuple(MODELS),),
    "heat sink": (("Tern 13", "Godwit 13"),),
    "camera module": (("Skua 14", "Fulmar 14", "Kittiwake 14"), ("Plover 15", "Gannet 15")),
    "hinge set": (("Plover 15", "Turnstone 15"),),
    "touchpad": (("Curlew 13", "Godwit 13"), ("Skua 14", "Kittiwake 14")),
    "speaker set": (("Gannet 15", "Turnstone 15"),),
}

#: How far this shop's causes stray from the entries' weights: standard deviation of the logarithm of their odds.
STRAY = 0.5


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a machine, before anybody knows."""

    model: str
    entry: Entry
    cause: str

    @property
    def name(self) -> str:
        """`entry/cause`."""
        return f"{self.entry.slug}/{self.cause}"


class Faults:
    """The faults of the invented shop's machines, drawn from its habits and from what fails anywhere.

    Habits whose entry or cause is not among the entries are left out.
    """

    def __init__(self, entries: Sequence[Entry], seed: int) -> None:
        self.entries = {entry.slug: entry for entry in sorted(entries, key=lambda one: one.slug) if entry.causes}
        self.habits = tuple(habit for habit in HABITS if self._known(habit))
        self._odds = {
            slug: [WEIGHT_ODDS[cause.weight] * _stray(seed, f"{slug}/{cause.slug}") for cause in entry.causes]
            for slug, entry in self.entries.items()
        }
        usual = [COMMON_ODDS if slug in COMMON else 1.0 for slug in self.entries]
        self._slugs = tuple(self.entries)
        self._entry_odds = list(
            accumulate(odds * _stray(seed, slug) for odds, slug in zip(usual, self._slugs, strict=True))
        )
        self._models, self._model_odds = tuple(MODELS), list(accumulate(MODELS.values()))

    def draw(self, rng: Random) -> Fault:
        """The fault of the next machine: one of its model's habits, or what fails anywhere."""
        model = rng.choices(self._models, cum_weights=self._model_odds)[0]
        left = rng.random()
        for habit in self.habits:
            if habit.model == model:
                left -= habit.share
                if left < 0:
                    return Fault(model, self.entries[habit.entry], habit.cause.partition("/")[2])
        return self._of_entry(model, rng.choices(self._slugs, cum_weights=self._entry_odds)[0], rng)

    def of_entry(self, slug: str, rng: Random) -> Fault:
        """A fault of that entry on any model, habits aside."""
        return self._of_entry(rng.choices(self._models, cum_weights=self._model_odds)[0], slug, rng)

    def _of_entry(self, model: str, slug: str, rng: Random) -> Fault:
        entry = self.entries[slug]
        return Fault(model, entry, rng.choices([cause.slug for cause in entry.causes], self._odds[slug])[0])

    def _known(self, habit: Habit) -> bool:
        entry = self.entries.get(habit.entry)
        return entry is not None and entry.cause(habit.cause.partition("/")[2]) is not None


def _stray(seed: int, name: str) -> float:
    """How far this shop's odds of an entry or a cause stray from the usual ones, whatever else the library holds."""
    return Random(f"faults {seed} {name}").lognormvariate(0.0, STRAY)
