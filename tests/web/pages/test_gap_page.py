"""The page of a gap: pressed once, counted once."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench

pytestmark = pytest.mark.shop("with_three_jobs")


# Gaps


def test_pressing_nothing_fits_is_counted_once_and_looking_is_not(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/?q=zxqv+wvutz&model=Tern+13&unit=T-7")
    before = visitor.page
    assert "Nothing in this view" in visitor.go("/review").text

    page = visitor.press("write it down as a new entry", before)
    visitor.press("write it down as a new entry", before)

    assert page.status == 200
    assert "zxqv wvutz" in page.html
    (gap,) = bench.looking_back.overview().gaps
    assert (gap.words, gap.no_fit, gap.models) == ("zxqv wvutz", 1, ("Tern 13",))
    assert "zxqv wvutz nothing fitted 1 time · Tern 13" in visitor.go("/review").text


def test_words_of_a_gap_lead_back_to_the_search(bench: Bench, visitor: Visitor) -> None:
    bench.jobs.nothing_fits("50% & <dim>")
    visitor.go("/review")

    assert 'value="50% &amp; &lt;dim&gt;"' in visitor.follow("50% & <dim>").html
