"""The one root of trouble: what a person can mend, said in a sentence; everything else is a fault of the program."""

from __future__ import annotations

import traceback
from pathlib import Path


class Trouble(Exception):
    """Something that a person can mend; its text is one sentence that says what is wrong and what to do."""


class Refusal(Trouble):
    """What was asked or given does not fit; the sentence says what to do instead."""


class NotThere(Refusal):
    """What was named is not there: an entry, a table, a picture, a tool."""


def where(error: BaseException) -> str:
    """The kind of an error and where it arose, innermost first, on one line.

    What it says is left out, since that may be what somebody typed.
    """
    frames = reversed(traceback.extract_tb(error.__traceback__)[-12:])
    places = " < ".join(f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames)
    cause = f"; because of {where(error.__cause__)}" if error.__cause__ else ""
    return f"{type(error).__name__} in {places}{cause}"
