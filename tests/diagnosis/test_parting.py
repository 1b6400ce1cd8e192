"""The question that parts two neighbours which are close in the words."""

from __future__ import annotations

import pytest
from helpers.unseen import heard

from kb.bench.front import Bench
from kb.diagnosis.parting import parting
from kb.model import Entry, Finding


def test_two_neighbours_close_in_the_words_are_shown_with_what_is_seen_of_each_alone(
    stock_bench: Bench,
) -> None:
    found = stock_bench.asking.search("flickers whether or not I move the lid").parting

    assert found is not None
    assert {found.first, found.second} == {
        "image-depends-on-lid-angle",
        "screen-flickers",
    }
    assert "lid" in found.seen[0]
    assert "lid" in found.seen[1]
    assert found.test.partition("/")[0] in (found.first, found.second)
    assert "lid" in found.what
    assert found.minutes > 0


@pytest.mark.parametrize(
    "words",
    [
        pytest.param("xqzv wwkj", id="nothing fits"),
        pytest.param(
            "the fan is grinding loudly, and the f key does not type any more",
            id="two faults, both shown",
        ),
    ],
)
def test_no_question_is_asked_where_none_would_part_anything(
    stock_bench: Bench, words: str
) -> None:
    assert stock_bench.asking.search(words).parting is None


def test_no_question_is_asked_while_the_words_are_typed_or_once_a_test_has_answered(
    stock_bench: Bench, library: tuple[Entry, ...]
) -> None:
    words = "flickers whether or not I move the lid"
    flickers = next(entry for entry in library if entry.slug == "screen-flickers")
    test = flickers.tests[0]
    finding = Finding(f"screen-flickers/{test.slug}", test.outcomes[0].text)

    assert stock_bench.asking.search(words, unfinished=True).parting is None
    assert stock_bench.asking.search(words, findings=[finding]).parting is None


@pytest.mark.slow
def test_where_a_test_comes_first_the_question_names_none(stock_bench: Bench) -> None:
    """A look for a swollen pack may not be passed by a test that only parts two sheets."""
    answers = [stock_bench.asking.search(one.words) for one in heard("short")[:30]]
    held = [
        one for one in answers if one.parting and one.next_step and one.next_step.held
    ]

    assert held
    assert all(one.parting is not None and not one.parting.test for one in held)


def test_a_test_that_needs_what_the_bench_lacks_is_not_named(
    stock_bench: Bench,
) -> None:
    with stock_bench.shop.knowing() as knowledge:
        shares = {"no-image-machine-runs": 0.6, "no-image-on-any-screen": 0.3}
        with_all = parting(shares, knowledge)
        without = parting(shares, knowledge, lacks=("outside screen",))

    assert with_all is not None
    assert without is not None
    assert "outside screen" in with_all.what
    assert with_all.test != without.test
