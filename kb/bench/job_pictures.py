"""Pictures of a job (job pictures), such as how its board looked: put on it open or closed, shown, and taken back."""

from __future__ import annotations

from kb.base.worded import worded
from kb.bench.front import Bench
from kb.history import kinds
from kb.history.jobs import JobPicture, OpenJob
from kb.history.trouble import NotAccepted
from kb.library import editing
from kb.library.album import Picture, PictureRefused
from kb.library.drawing import Mark

#: The most pictures that stand on one job.
MOST_ON_A_JOB = 20


def add_to(
    job: str,
    bench: Bench,
    sent: bytes,
    caption: str = "",
    *,
    by: str = "",
    token: str = "",
) -> str:
    """Put a picture on a job, open or closed, drawn anew; gives its file. The same again writes nothing.

    Raises UnknownJob, PictureRefused for what is no picture or one too many, shelf.NotSaved if the disk does not
    take it.
    """
    history = bench.shop.history()
    standing = history.job_state(job).pictures
    if len(standing) >= MOST_ON_A_JOB and not history.written_with(token):
        raise PictureRefused(
            worded(
                "a job carries {most} pictures at most; take one back first",
                most=MOST_ON_A_JOB,
            )
        )
    file = bench.entries.album().keep("job", sent)
    with history.together():
        if file not in [one.file for one in history.job_state(job).pictures]:
            caption = editing.plain_caption(caption)
            history.note(
                kinds.PICTURE, job, {"file": file, "caption": caption, "by": by}, token
            )
    return file


def take_back(
    job: str, bench: Bench, record: str, *, by: str = "", token: str = ""
) -> None:
    """Take a picture of a job back, by the id of its record; the file stays in the album.

    Raises NotAccepted for one that does not stand on the job.
    """
    history = bench.shop.history()
    with history.together():
        if history.written_with(token):
            return
        history.note(
            kinds.PICTURE_BACK,
            job,
            {"record": _standing(job, bench, record).record, "by": by},
            token,
        )


def mark(
    job: str, bench: Bench, record: str, mark: Mark, *, by: str = "", token: str = ""
) -> None:
    """Show a marked copy of a picture of a job in its place; the original stays in the album.

    Raises NotAccepted for a picture that does not stand on the job, and what `add_to` raises.
    """
    if bench.shop.history().written_with(token):
        return
    one = _standing(job, bench, record)
    _put_in_place(
        job,
        bench,
        one,
        {**marked_copy(bench, "job", one.file, one.of, mark), "by": by},
        token,
    )


def unmark(
    job: str, bench: Bench, record: str, *, by: str = "", token: str = ""
) -> None:
    """Show a picture of a job without its marks again; raises NotAccepted if that is not to be had."""
    if bench.shop.history().written_with(token):
        return
    one = _standing(job, bench, record)
    _put_in_place(job, bench, one, {**without_marks(bench, one.of), "by": by}, token)


def marked_copy(
    bench: Bench, shows: str, file: str, of: str, mark: Mark
) -> dict[str, str]:
    """What a record says of a marked copy: its file, which begins with what it shows, and what it is drawn on.

    `of` is what `file` is drawn on itself, empty if it has no marks yet. Raises what `album.keep_marked` raises.
    """
    return {
        "file": bench.entries.album().keep_marked(shows, file, mark),
        "of": of or file,
    }


def without_marks(bench: Bench, of: str) -> dict[str, str]:
    """What a record says of the picture that a marked copy is drawn on; raises NotAccepted if that is not here."""
    if not bench.entries.album().path(of):
        raise NotAccepted(
            worded("the picture without marks is not here"),
            worded("take this one back instead"),
        )
    return {"file": of}


def _standing(job: str, bench: Bench, record: str) -> JobPicture:
    """The picture of that record on a job; raises NotAccepted for one that does not stand there."""
    for one in bench.shop.history().job_state(job).pictures:
        if one.record == record:
            return one
    raise NotAccepted(
        worded("that picture is not on this job or was taken back before"),
        worded("load the job again"),
    )


def _put_in_place(
    job: str, bench: Bench, old: JobPicture, body: dict[str, str], token: str
) -> None:
    """Put another picture on a job in place of one that stands there, with the same words, both or neither."""
    history = bench.shop.history()
    with history.together():
        history.note(kinds.PICTURE, job, {**body, "caption": old.caption}, token)
        history.note(
            kinds.PICTURE_BACK,
            job,
            {"record": old.record, "by": body["by"]},
            token and f"{token}-back",
        )


def of_job(job: OpenJob, bench: Bench) -> tuple[tuple[JobPicture, Picture], ...]:
    """The pictures of a job that are there, in their order, each with its record."""
    album = bench.entries.album() if job.pictures else None
    return tuple(
        (one, picture)
        for one in job.pictures
        if album
        for picture in album.of(editing.reference(one.file, one.caption))
    )
