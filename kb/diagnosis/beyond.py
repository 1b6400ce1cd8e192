"""Beyond this shop: what other shops had, as a level of belief between a sheet's weights and the shop's own jobs."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from kb.base.pooling import USUAL, Shares, smoothed
from kb.index.elsewhere import Elsewhere


@dataclass(frozen=True, kw_only=True)
class Beyond:
    """What other shops had by name, as it weighs, of all models and of the one at hand.

    `strength` says how many jobs of the shop's own weigh as much, 0 for as many as what is written weighs; `jobs` in so
    many `shops` are told to people.
    """

    everywhere: Mapping[str, float]
    here: Mapping[str, float] = field(default_factory=dict)
    strength: float = 0.0
    jobs: int = 0
    shops: int = 0

    @cached_property
    def whole(self) -> float:
        """What they had of all names."""
        return sum(self.everywhere.values())

    def share(self, name: str) -> float:
        """The share that a name has of what they had: on the model, as far as they know it, else on all.

        >>> had = Beyond(everywhere={"plug": 1.0, "pack": 3.0}, here={"plug": 8.0})
        >>> had.share("plug"), had.share("board"), Beyond(everywhere={}).share("plug")
        (0.625, 0.0, 0.0)
        """
        of_all = self.everywhere.get(name, 0.0) / self.whole if self.whole else 0.0
        on_it = sum(self.here.values())
        return (self.here.get(name, 0.0) + USUAL * of_all) / (on_it + USUAL)

    def weights(
        self, names: Collection[str], others: float, each: float
    ) -> dict[str, float]:
        """What is written and they had of those names and, under "", of all others: each name weighs so much by itself.

        >>> Beyond(everywhere={"a": 5.0, "b": 1.0, "c": 3.0}).weights(["a", "b"], others=2, each=30.0)
        {'a': 35.0, 'b': 31.0, '': 63.0}
        """
        found = {name: each + self.everywhere.get(name, 0.0) for name in names}
        if others:
            found[""] = self.whole + each * (len(found) + others) - sum(found.values())
        return found


def of_causes(found: Elsewhere) -> Beyond:
    """What they had of one sheet, by cause."""
    sheet = found.sheet
    return Beyond(
        everywhere=sheet.causes,
        here=found.here.causes,
        strength=sheet.strength,
        jobs=sheet.jobs,
        shops=sheet.shops,
    )


def of_sheets(
    found: Mapping[str, Elsewhere], library: Collection[str]
) -> Beyond | None:
    """How often they had each sheet that the library has, None for no shops."""
    if not found:
        return None
    known = {slug: one for slug, one in found.items() if slug in library}
    return Beyond(
        everywhere={slug: one.sheet.often for slug, one in known.items()},
        here={slug: one.here.often for slug, one in known.items() if one.here.often},
    )


def upper(
    written: Mapping[str, float],
    own_elsewhere: Mapping[str, float],
    beyond: Beyond | None,
    prior_jobs: float,
    model_jobs: float,
) -> dict[str, float]:
    """The shares on a model before the shop's own jobs on it are counted; they sum to one.

    What is written, then other shops, then the shop's own jobs on other models, then other shops' jobs on this model,
    each over the one before as counts over a Dirichlet (`kb.base.pooling.smoothed`). Without other shops it is the
    shares of the shop alone.

    >>> had = Beyond(everywhere={"plug": 30.0, "pack": 10.0}, here={"pack": 8.0}, strength=20.0)
    >>> upper({"plug": 1, "pack": 3}, {"plug": 5.0}, had, 10.0, 8.0)
    {'plug': 0.36, 'pack': 0.64}
    """
    whole = sum(written.values())
    shares: Shares = (
        {name: weight / whole for name, weight in written.items()} if whole else {}
    )
    if beyond is None:
        return smoothed(shares, own_elsewhere, prior_jobs)
    everywhere = smoothed(shares, beyond.everywhere, prior_jobs)
    of_shop = smoothed(everywhere, own_elsewhere, beyond.strength or prior_jobs)
    return smoothed(of_shop, beyond.here, model_jobs)
