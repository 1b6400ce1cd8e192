"""Comments in a sheet (`<!-- ... -->`): found and left out in one pass, however many of them never end.

A regular expression looks for the end anew from each beginning, which took 3.5 s for a sheet full of beginnings.
"""

from __future__ import annotations

from collections.abc import Iterator

_BEGIN, _END = "<!--", "-->"


def places(text: str) -> Iterator[tuple[int, int]]:
    """Where each comment begins and ends; one that never ends is none.

    >>> list(places("a<!-- no -->b<!-- c"))
    [(1, 12)]
    """
    begin = text.find(_BEGIN)
    while begin >= 0:
        end = text.find(_END, begin + len(_BEGIN))
        if end < 0:
            return
        yield begin, end + len(_END)
        begin = text.find(_BEGIN, end + len(_END))


def comments_in(text: str) -> list[str]:
    """The comments, in order."""
    return [text[begin:end] for begin, end in places(text)]


def without_comments(text: str) -> str:
    """The text without its comments.

    >>> without_comments("a<!-- no -->b<!-- c"), without_comments("<!---->-->")
    ('ab<!-- c', '-->')
    """
    kept, last = [], 0
    for begin, end in places(text):
        kept.append(text[last:begin])
        last = end
    return "".join((*kept, text[last:]))
