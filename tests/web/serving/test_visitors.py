"""Visitors of the server: who is let go of where one more comes in, and how many there is room for."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webui.serving import visitors
from webui.serving.visitors import Caller, let_go_for, room_for

CALLERS = st.lists(
    st.tuples(st.sampled_from("abc"), st.integers(0, 9)), max_size=12
).map(
    lambda told: [
        Caller(address, float(since), number)
        for number, (address, since) in enumerate(told)
    ]
)


@given(CALLERS, st.sampled_from("abcd"), st.integers(1, 4), st.integers(1, 12))
def test_the_address_that_has_most_gives_way_and_of_it_who_waited_longest(
    waiting: list[Caller], address: str, of_one: int, room: int
) -> None:
    counted = Counter(one.address for one in waiting)
    gone = let_go_for(address, waiting, held=len(waiting), room=room, of_one=of_one)

    if gone is None:
        assert counted[address] < of_one
        assert len(waiting) < room or not waiting
        return
    assert gone.address == address or counted[gone.address] == max(counted.values())
    assert gone.since == min(
        one.since for one in waiting if one.address == gone.address
    )


def test_there_is_room_for_four_at_least_and_for_no_more_than_handles_allow(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(visitors, "_handles", lambda _: visitors.HANDLES_KEPT + 30)

    assert (room_for(3), room_for(1), room_for(100)) == (10, 30, 4)
