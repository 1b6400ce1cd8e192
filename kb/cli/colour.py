"""Colour at a terminal: what presses, what comes next and the bars stand out; nothing is told by colour alone."""

from __future__ import annotations

import re

import click

#: How a line stands out, by what it begins with: what presses, what to heed, what comes next.
PRESSING, HEEDED, NEXT = (
    ("At once:", "  ! "),
    ("Before", "Warning: ", "warning: ", "problem: "),
    ("Next: ",),
)
#: The filled part of a bar: signs of number after a share or a count.
_BAR = re.compile(r"(?<=[%\d] )#+(?=[. \n]|$)")


def coloured(line: str, shown: str) -> str:
    r"""A line as it stands out; `shown` is the same line broken to the breadth of the terminal.

    >>> coloured("Next: look", "Next: look")
    '\x1b[1mNext: look\x1b[0m'
    >>> coloured(" 1  50% ##..", " 1  50% ##..")
    ' 1  50% \x1b[36m##\x1b[0m..'
    """
    if line.startswith(PRESSING):
        return click.style(shown, fg="red", bold=True)
    if line.startswith(HEEDED):
        return click.style(shown, fg="magenta", bold=True)
    if line.startswith(NEXT):
        return click.style(shown, bold=True)
    return _BAR.sub(lambda bar: click.style(bar[0], fg="cyan"), shown)
