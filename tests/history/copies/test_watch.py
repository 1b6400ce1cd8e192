"""The watch over the copies: it goes on whatever a look meets."""

from __future__ import annotations

import pytest

from kb.history.copies.watch import Watch

# Said on the first page


class Failing(Watch):
    """A watch whose every look fails with these, one after another."""

    def __init__(self, *errors: BaseException) -> None:
        super().__init__("failing", "no backup was made", self.heard, 0.01, 0.01)
        self.errors = list(errors)
        self.looks = 0
        self.said: list[str] = []

    def heard(self, sentence: str) -> None:
        self.said.append(sentence)

    def look(self) -> None:
        self.looks += 1
        if self.errors:
            raise self.errors.pop(0)


@pytest.mark.parametrize(
    "error",
    [
        MemoryError(),
        RuntimeError("can't start new thread"),
        KeyError("x"),
        OSError("gone"),
    ],
)
def test_whatever_goes_wrong_in_a_look_the_next_one_is_taken_and_it_is_said_once(
    error: Exception,
) -> None:
    watch = Failing(error, type(error)(*error.args), type(error)(*error.args))
    watch.start()
    while watch.looks < 6:
        watch._end.wait(0.01)
    watch.stop()

    assert len(watch.said) == 1
    assert watch.said[0].startswith("no backup was made: ")
    assert watch.trouble == ""


@pytest.mark.parametrize("end", [KeyboardInterrupt, SystemExit])
def test_the_end_of_the_program_is_no_trouble_of_a_watch(
    end: type[BaseException],
) -> None:
    with pytest.raises(end):
        Failing(end()).look_and_tell()
