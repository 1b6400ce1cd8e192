"""The one root of troubles: what a person can mend, said in a sentence; everything else is a fault of the program."""

from __future__ import annotations


class Trouble(Exception):
    """Something that a person can mend; its text is one sentence that says what is wrong and what to do."""
