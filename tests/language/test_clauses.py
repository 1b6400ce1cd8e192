"""What clauses say of their things, by cases that anybody can add to."""

from __future__ import annotations

import pytest
from helpers.places import CASES
from helpers.trade_words import shipped_lexicon

from kb.language import terms
from kb.language.words import Lexicon, tokens

LINES = (CASES / "clauses" / "what-clauses-say.md").read_text("utf-8").splitlines()
READ = [line[2:].rsplit(": ", 1) for line in LINES if line.startswith("- ")]


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return shipped_lexicon()


def _said(text: str, lexicon: Lexicon) -> str:
    found = []
    for token in tokens(text, lexicon):
        thing = terms.thing_of(token, lexicon)
        is_only_a_mark = token.typed in lexicon.negative and not token.concept
        is_only_praise = (
            token.typed in lexicon.positive and text != "without any problems"
        )
        if thing and not is_only_a_mark and not is_only_praise:
            found.append(
                f"{thing} {'+' if token.well else '-' if token.negative else '='}"
            )
    return ", ".join(found)


def test_the_cases_are_read() -> None:
    assert len(READ) >= 15


@pytest.mark.parametrize(("text", "said"), READ, ids=[text for text, _ in READ])
def test_a_clause_says_of_its_things_what_the_case_says(
    text: str, said: str, lexicon: Lexicon
) -> None:
    assert _said(text, lexicon) == said
