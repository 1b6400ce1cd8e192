"""The one root of trouble: what a person can mend, said in a sentence; everything else is a fault of the program."""

from __future__ import annotations

import os


class Trouble(Exception):
    """Something that a person can mend; its text is one sentence that says what is wrong and what to do."""

    @property
    def sentence(self) -> str:
        """What is told, with its template where it has one."""
        return (
            self.args[0] if self.args and isinstance(self.args[0], str) else str(self)
        )


class Refusal(Trouble):
    """What was asked or given does not fit; the sentence says what to do instead."""


class NotThere(Refusal):
    """What was named is not there: an entry, a table, a picture, a tool."""


def where(error: BaseException) -> str:
    """The kind of an error and where it arose, innermost first, on one line.

    What it says is left out, since that may be what somebody typed.
    """
    import traceback  # what goes well need not wait for it

    frames = reversed(traceback.extract_tb(error.__traceback__)[-12:])
    places = " < ".join(
        f"{os.path.basename(frame.filename)}:{frame.lineno} {frame.name}"
        for frame in frames
    )
    cause = f"; because of {where(error.__cause__)}" if error.__cause__ else ""
    return f"{type(error).__name__} in {places}{cause}"
