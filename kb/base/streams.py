"""Standard streams that say what becomes of output: what standard output does not take is `OutputLost`, no fault."""

from __future__ import annotations

import errno
import io
import os
import sys
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer


class OutputLost(Exception):
    """Standard output did not take what was written to it; `left` says that its reader went away."""

    def __init__(self, error: OSError) -> None:
        super().__init__(error.strerror or str(error))
        self.left = error.errno == errno.EPIPE


class _Output(io.FileIO):
    """Raises OutputLost once; whatever is written after that, by the interpreter at its end too, goes nowhere."""

    _lost = False

    def write(self, given: ReadableBuffer, /) -> int:
        if self._lost:
            return len(memoryview(given))
        try:
            return super().write(given)
        except OSError as error:
            self._lost = True
            raise OutputLost(error) from error


class _Errors(io.FileIO):
    """Takes everything: there is no further place where its trouble could be told."""

    def write(self, given: ReadableBuffer, /) -> int:
        try:
            return super().write(given)
        except OSError:
            return len(memoryview(given))


def guard() -> None:
    """Put such streams in place of the standard ones; one that is closed gives nothing, and takes nothing.

    Streams that something else, such as a test, has put there are left alone.
    """
    if sys.stdin is None:
        sys.stdin = open(os.devnull, encoding="utf-8")  # noqa: SIM115 - open as long as the program runs
    if sys.stdout is sys.__stdout__:
        sys.stdout = _text(_Output, sys.stdout)
    if sys.stderr is sys.__stderr__:
        sys.stderr = _text(_Errors, sys.stderr)


def _text(kind: type[io.FileIO], stream: TextIO | None) -> io.TextIOWrapper:
    """A stream of that kind over the same descriptor; over one that cannot be written for a stream that is closed."""
    if stream is None:
        closed = os.open(os.devnull, os.O_RDONLY)
        return io.TextIOWrapper(io.BufferedWriter(kind(closed, "wb")), encoding="utf-8")
    raw = kind(stream.fileno(), "wb", closefd=False)
    return io.TextIOWrapper(
        io.BufferedWriter(raw),
        encoding=stream.encoding,
        errors=stream.errors,
        line_buffering=raw.isatty(),
    )
