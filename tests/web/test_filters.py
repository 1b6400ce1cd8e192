"""Filters of the templates: nothing that was typed becomes markup or turns what stands beside it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from webui import filters


@given(st.text(st.sampled_from("ab\u2066\u2067\u2068\u2069\u202e"), max_size=12))
def test_no_typed_text_closes_an_isolate_that_it_did_not_open(typed: str) -> None:
    depth = 0
    for sign in filters.balanced(typed):
        depth += (sign in "\u2066\u2067\u2068") - (sign == "\u2069")
        assert depth >= 0


@given(st.floats(0, 1))
def test_what_is_not_certain_is_never_shown_as_certain(share: float) -> None:
    shown = filters.percent(share)

    assert (shown in ("0\u00a0%", "100\u00a0%")) == (share in (0, 1))


def test_typed_text_stands_isolated() -> None:
    assert filters.bdi("<b>") == "<bdi>&lt;b&gt;</bdi>"
    assert (filters.isolated("Tern 13"), filters.isolated("é")) == (
        "Tern 13",
        "\u2068é\u2069",
    )
