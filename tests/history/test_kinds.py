"""Every kind of record, with the body it takes."""

from __future__ import annotations

import pytest

from kb.history import History, kinds


def test_every_kind_stands_in_the_list_under_its_own_name() -> None:
    assert all(name == kind.name for name, kind in kinds.KINDS.items())
    assert len({id(kind) for kind in kinds.KINDS.values()}) == len(kinds.KINDS)


def test_a_body_with_a_key_its_kind_does_not_have_is_a_fault_of_the_program(
    history: History,
) -> None:
    with pytest.raises(TypeError, match="no colour"):
        history.note(kinds.NO_FIT, "", {"colour": "blue"})
