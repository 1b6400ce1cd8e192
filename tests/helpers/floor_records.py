"""One record of every kind that tells of machines, lots and parts, for tests of what all records have in common."""

from __future__ import annotations

from collections.abc import Mapping

from kb.history import History, kinds
from kb.history.kinds import Kind
from kb.history.record import Record

#: What stays at home, wherever it stands in a record below: a serial, a seller, prices, a place, remarks, initials.
PRIVATE = (
    "SN-123456",
    "Quay Disposals",
    "86400",
    "70001",
    "12345",
    "99001",
    "shelf A7",
    "in the attic",
    "JT-private",
)

#: The tag `{}` is filled in for each machine anew.
SAMPLES: tuple[tuple[Kind, Mapping[str, object]], ...] = (
    (
        kinds.LOT,
        {
            "lot": "P7",
            "seller": "Quay Disposals",
            "cents": 86400,
            "freight_cents": 70001,
            "note": "in the attic",
        },
    ),
    (
        kinds.UNIT_IN,
        {
            "tag": "{}",
            "model": "Tern 13",
            "lot": "P7",
            "place": "shelf A7",
            "serial": "SN-123456",
        },
    ),
    (kinds.UNIT_MOVED, {"tag": "{}", "place": "shelf A7"}),
    (kinds.UNIT_NOTE, {"tag": "{}", "text": "found in the attic", "by": "JT-private"}),
    (kinds.HANDED, {"tag": "{}", "to": "JT-private"}),
    (
        kinds.FUNCTION,
        {
            "tag": "{}",
            "line": "every-key",
            "shown": "waived",
            "why": "in the attic",
            "by": "JT-private",
        },
    ),
    (kinds.PART_WANTED, {"tag": "{}", "part": "panel"}),
    (
        kinds.PART_BOUGHT,
        {"purchase": "B {}", "part": "panel", "count": 2, "cents": 99001, "for": "{}"},
    ),
    (kinds.PART_IN, {"purchase": "B {}", "count": 1}),
    (kinds.PART_OUT, {"donor": "{}", "part": "keyboard", "good": "yes"}),
    (
        kinds.FIT,
        {
            "part": "fan",
            "from_model": "Tern 13",
            "to_model": "Godwit 13",
            "shown": "worked",
            "source": "{}",
        },
    ),
    (kinds.DONOR, {"tag": "{}", "why": "in the attic"}),
    (kinds.UNDONOR, {"tag": "{}", "why": "in the attic"}),
    (kinds.SIGNED, {"tag": "{}", "by": "JT-private", "look": "in the attic"}),
    (kinds.GONE, {"tag": "{}", "how": "sold", "cents": 12345}),
    (kinds.STRUCK, {"record": "none", "why": "in the attic"}),
    (kinds.SAME_MODEL, {"model": "Tern13", "as": "Tern 13"}),
    (kinds.MOVED_IN, {"shop": "shop-{}"}),
)


def write_sample(history: History, number: int) -> Record:
    """Write the record that has its turn: every kind comes up, each round for a machine of its own."""
    round_, turn = divmod(number, len(SAMPLES))
    kind, sample = SAMPLES[turn]
    body = {key: _filled(value, f"P7-{round_:03}") for key, value in sample.items()}
    return history.note(kind, "", body)


def _filled(value: object, tag: str) -> object:
    return value.replace("{}", tag) if isinstance(value, str) else value
