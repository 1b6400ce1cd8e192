"""Returns: a machine that had left stands here again, and one that was entered by mistake counts no more."""

from __future__ import annotations

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.front import Bench
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.record import Record
from kb.history.standing import standing
from kb.history.units import WAS_AWAY, Unit

#: Why records of a machine count no more.
BACK, NEVER_CAME = "it is back", "entered by mistake"


def come_back(bench: Bench, tag: str, words: str = "", token: str = "") -> str:
    """Say that a machine which had left is here again, and with words open the job for what is wrong now.

    That it left counts no more, nor what it was sold for. With words, or a day later, it was in other hands: what the
    check-out showed first, such as that it is wiped, is to be shown again, and its signature is void. Gives the id of
    the job, empty without words. Raises NoMachine, and Refusal for a machine that has not left.
    """
    history, unit = bench.history(), bench.machines.unit(tag)
    with history.together():
        if not history.written_with(token_beside(token, "0")):
            if not unit.gone:
                raise Refusal(
                    worded(
                        "{tag} has not left the shop; there is nothing to take back",
                        tag=unit.tag,
                    )
                )
            left = [
                one for one in _standing(bench, unit) if one.kind == kinds.GONE.name
            ]
            _strike(bench, left, WAS_AWAY if words.strip() else BACK, token)
        if not words.strip():
            return ""
        return bench.jobs.begin(words, unit.model, unit.tag, token_beside(token, "job"))


def never_came(bench: Bench, tag: str, token: str = "") -> None:
    """Say that a machine was entered by mistake, such as twice: nothing that was written of it counts any more.

    Raises NoMachine, and Refusal where work, parts or a signature show that it was there.
    """
    history = bench.history()
    if history.written_with(token_beside(token, "0")):
        return
    unit = bench.machines.unit(tag)
    if unit.jobs or unit.moved or unit.pieces or unit.signature:
        raise Refusal(
            worded(
                "{tag} has jobs, parts or a signature: it was here; say how it left instead",
                tag=unit.tag,
            )
        )
    with history.together():
        _strike(bench, _standing(bench, unit), NEVER_CAME, token)


def _standing(bench: Bench, unit: Unit) -> list[Record]:
    """The records of a machine that count."""
    with bench.machines.files.floor() as (index, _):
        numbers = index.floor.records_of(unit.key)
    told = standing(bench.history().records(numbers))
    return [one for one in told if one.kind != kinds.STRUCK.name]


def _strike(bench: Bench, records: list[Record], why: str, token: str) -> None:
    for number, record in enumerate(records):
        bench.machines.strike(record.id, why, token_beside(token, str(number)))
