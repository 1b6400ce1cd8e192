"""Pictures of a machine (machine pictures): shown with the notes that name them, and marked on a copy."""

from __future__ import annotations

from kb.base.worded import worded
from kb.bench.front import Bench
from kb.bench.job_pictures import marked_copy, without_marks
from kb.history import kinds
from kb.history.ids import token_beside
from kb.history.trouble import NotAccepted
from kb.history.units import Remarked, Unit
from kb.library import editing
from kb.library.album import Picture
from kb.library.drawing import Mark

#: Why the note of a picture counts no more in whose place another one stands.
REPLACED = "another picture stands in its place"


def of_machine(unit: Unit, bench: Bench) -> tuple[tuple[Remarked, Picture], ...]:
    """The pictures of a machine that are there, in their order, each with its note."""
    album = bench.entries.album()
    shown = [note for note in unit.notes if note.text.startswith("![")]
    return tuple((note, picture) for note in shown for picture in album.of(note.text))


def mark(
    tag: str, bench: Bench, record: str, mark: Mark, *, by: str = "", token: str = ""
) -> None:
    """Show a marked copy of a picture of a machine in its place; the original stays in the album.

    Raises NoMachine, NotAccepted for a picture that does not stand on the machine, PictureRefused, or shelf.NotSaved
    if the disk does not take it.
    """
    if not bench.history().written_with(token):
        note, picture = _standing(tag, bench, record)
        told = marked_copy(bench, "machine", picture.file, note.of, mark)
        _put_in_place(tag, bench, (note, picture), {**told, "by": by}, token)


def unmark(
    tag: str, bench: Bench, record: str, *, by: str = "", token: str = ""
) -> None:
    """Show a picture of a machine without its marks again; raises NotAccepted if that is not to be had."""
    if not bench.history().written_with(token):
        note, picture = _standing(tag, bench, record)
        _put_in_place(
            tag,
            bench,
            (note, picture),
            {**without_marks(bench, note.of), "by": by},
            token,
        )


def _standing(tag: str, bench: Bench, record: str) -> tuple[Remarked, Picture]:
    """The picture of that record on a machine; raises NotAccepted for one that does not stand there."""
    for note, picture in of_machine(bench.machines.unit(tag), bench):
        if note.record == record:
            return note, picture
    raise NotAccepted(
        worded("that picture is not on this machine or was struck before"),
        worded("load the machine again"),
    )


def _put_in_place(
    tag: str,
    bench: Bench,
    old: tuple[Remarked, Picture],
    told: dict[str, str],
    token: str,
) -> None:
    """Put another picture on a machine in place of one that stands there, with the same words, both or neither."""
    note, picture = old
    text = editing.reference(told.pop("file"), picture.caption)
    with bench.history().together():
        bench.machines.write(
            kinds.UNIT_NOTE,
            {"tag": bench.machines.unit(tag).tag, "text": text, **told},
            token,
        )
        bench.machines.strike(note.record, REPLACED, token_beside(token, "back"))
