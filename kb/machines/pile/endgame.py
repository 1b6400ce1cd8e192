"""The endgame of a pile: what its last few machines are worth, and the best next step, over all that may show."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from kb.machines.pile.gametree import Endgame, GameTree
from kb.machines.pile.waiting import Offer, Pile, Waiting, offers

#: Machines that may still work, at most, and ways their causes may turn out together.
LAST, WAYS = 4, 700
#: Chances and machines below this are none.
_NOTHING = 1e-9


def is_small(pile: Pile) -> bool:
    """Whether a pile is small enough to be played by everything that may show."""
    alive = _alive(pile)
    if len(alive) > LAST:
        return False
    return math.prod(2 if one.known else len(one.remedies) + 2 for one in alive) <= WAYS


def solved(pile: Pile) -> Endgame:
    """The exact optimum of a small pile: every order of looks, repairs, pieces and purchases, after all that may show.

    Dynamic programming over what is known of each machine, what is left of each donor, and minutes and cents left. A
    machine's pieces tell of its cause and so of each other. Of donors that cannot work themselves each pool keeps its
    best pieces, one for each machine that may want it and one to spare, each good or bad by itself.

    >>> from kb.machines.pile.waiting import Remedy
    >>> setting = Remedy(cause="setting", belief=0.5, minutes=5)
    >>> unseen = Waiting(tag="P7-12", look=10, remedies=(setting,))
    >>> sure = Waiting(tag="P7-13", look=0, remedies=(Remedy(cause="fan", belief=1, minutes=12),))
    >>> found = solved(Pile(waiting=(unseen, sure), minutes=16))
    >>> found.expected, found.step.tag
    (1.0, 'P7-13')
    """
    return GameTree(_slim(pile)).solved()


def _alive(pile: Pile) -> list[Waiting]:
    """The machines that may still be brought to work within the minutes left."""
    alive = []
    for machine in pile.waiting:
        soonest = min(map(machine.minutes_until, machine.remedies), default=math.inf)
        if soonest <= pile.minutes + _NOTHING:
            alive.append(machine)
    return alive


def _slim(pile: Pile) -> Pile:
    """The pile with nothing in it that cannot matter: machines that may work, and pieces that somebody may want."""
    alive = _alive(pile)
    wanting = Counter(pool for machine in alive for pool in machine.wants)
    kept = []
    for machine in alive:
        own = Counter(machine.wants)
        kept.append(
            _with(machine, {pool for pool in wanting if wanting[pool] > own[pool]})
        )
    others = [
        *pile.donors,
        *(machine for machine in pile.waiting if machine not in alive),
    ]
    best = _best_offers(others, wanting)
    donors = [
        _as_it_is(_with(donor, best[donor.tag]))
        for donor in others
        if donor.tag in best
    ]
    return replace(pile, waiting=tuple(kept), donors=tuple(donors))


def _best_offers(
    donors: Sequence[Waiting], wanting: Mapping[str, int]
) -> dict[str, set[str]]:
    """The pools for which each donor keeps its piece: of every pool the best, one for each wanting and one to spare."""
    found = defaultdict[str, list[Offer]](list)
    for offer in offers(donors):
        if offer.part in wanting and offer.good > _NOTHING:
            found[offer.part].append(offer)
    kept = defaultdict[str, set[str]](set)
    for pool, offered in found.items():
        offered.sort(key=lambda offer: (-offer.good, offer.tag))
        for offer in offered[: wanting[pool] + 1]:
            kept[offer.tag].add(pool)
    return kept


def _as_it_is(donor: Waiting) -> Waiting:
    """A donor that cannot work itself, its pieces independent of each other and of what may be wrong with it."""
    pieces = tuple(replace(piece, sound=donor.good(piece)) for piece in donor.pieces)
    return replace(donor, remedies=(), pieces=pieces)


def _with(machine: Waiting, pools: set[str]) -> Waiting:
    return replace(
        machine, pieces=tuple(piece for piece in machine.pieces if piece.part in pools)
    )
