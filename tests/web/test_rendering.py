"""Markdown of entries as HTML that can do no harm."""

from __future__ import annotations

import pytest

from webui.rendering import to_html, to_inline_html


def test_html_in_an_entry_is_shown_as_text() -> None:
    shown = to_html('<script>alert(1)</script> <img src=x onerror="alert(1)">')

    assert "<script" not in shown
    assert "<img" not in shown


@pytest.mark.parametrize(
    "target",
    [
        "javascript:alert(1)",
        "data:text/html,x",
        "vbscript:x",
        "file:///etc/passwd",
        "data:image/png;base64,AA",
    ],
)
def test_a_link_with_another_scheme_than_http_is_not_made(target: str) -> None:
    assert "href" not in to_inline_html(f"[x]({target})")


def test_a_remote_picture_is_shown_as_its_description() -> None:
    assert (
        to_html("![the board](https://elsewhere.example/x.png)") == "<p>the board</p>\n"
    )
    assert "<img" in to_html("![the board](pictures/board.png)")


def test_a_comment_is_not_shown() -> None:
    assert to_html("seat it <!-- Jo says: twice -->").strip() == "<p>seat it</p>"
