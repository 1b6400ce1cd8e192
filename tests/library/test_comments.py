"""Comments in sheets: found in one pass, whatever stands in them."""

from __future__ import annotations

import re
import time

from hypothesis import given
from hypothesis import strategies as st

from kb.library.comments import comments_in, without_comments
from webui.rendering import to_html, to_inline_html

#: What was used before: right, and quadratic.
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)


@given(
    st.lists(st.sampled_from(["<!--", "-->", "<!-", "->", "-", "a", "\n", " "])).map(
        "".join
    )
)
def test_comments_are_those_that_a_regular_expression_finds(text: str) -> None:
    assert comments_in(text) == _COMMENT.findall(text)
    assert without_comments(text) == _COMMENT.sub("", text)


def test_a_text_full_of_beginnings_costs_no_more_than_any_other() -> None:
    """Processor time beside that of as long a plain text in the same run; 3.5 s each before."""
    full, plain = "<!--" * 16_000, "abc " * 16_000

    assert _cost(full) < 0.3 + 20 * _cost(plain)


def _cost(text: str) -> float:
    started = time.process_time()
    to_html(text)
    to_inline_html(text)
    return time.process_time() - started
