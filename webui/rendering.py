"""Rendering of Markdown as HTML that is safe on a page, whoever wrote it."""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from kb.library.comments import without_comments

if TYPE_CHECKING:  # the renderer is loaded by the first page that needs it
    from markdown_it import MarkdownIt


def to_html(text: str) -> str:
    """Markdown as HTML for a page: raw HTML shown as text, links only to http(s) and relative, no remote images."""
    return str(_safe_renderer().render(without_comments(text)))


@lru_cache(maxsize=4096)
def to_inline_html(text: str) -> str:
    """One line of Markdown as HTML without a paragraph around it."""
    return str(_safe_renderer().renderInline(without_comments(text)))


@cache
def _safe_renderer() -> MarkdownIt:
    from markdown_it import MarkdownIt

    renderer = MarkdownIt("commonmark", {"html": False}).enable("table")
    renderer.validateLink = _link_is_safe  # type: ignore[method-assign]
    renderer.add_render_rule("image", _render_image)
    return renderer


def _link_is_safe(url: str) -> bool:
    scheme = re.match(r"^\s*([a-zA-Z][a-zA-Z0-9+.-]*):", url)
    return scheme is None or scheme[1].lower() in ("http", "https")


def _render_image(
    renderer: Any, tokens: Any, index: int, options: Any, env: Any
) -> str:
    """Pictures come from this server only; a remote one is shown as its description."""
    source = str(tokens[index].attrGet("src") or "")
    if re.match(r"^[a-zA-Z][a-zA-Z0-9+.-]*:|^//", source):
        return str(
            renderer.renderInlineAsText(tokens[index].children or [], options, env)
        )
    return str(renderer.image(tokens, index, options, env))
