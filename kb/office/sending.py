"""Sending what a shop shares to a folder: one file a shop, written whole each time, so that nothing counts twice."""

from __future__ import annotations

import io
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from kb.base import durable
from kb.base.trouble import Refusal
from kb.office.shared import COLUMNS, SharedLine, office_id

#: How to get what the office's commands need besides.
INSTALL = "install them where the program's files are, with: pip install -e '.[office]'"
#: The forms that a file may have.
FORMS = ("jsonl", "parquet")


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent: the file, how many lines it holds, and how many of them are jobs."""

    file: Path
    lines: int
    jobs: int


def file_name(shop: str, form: str) -> str:
    """The name of the file of a shop, by its anonymous id.

    >>> file_name("q9w1dfwf077y", "jsonl")
    'shared-q9w1dfwf077y.jsonl'
    """
    return f"shared-{shop}.{form}"


def send(
    lines: Sequence[SharedLine],
    shop: str,
    moved: Collection[str],
    folder: Path,
    form: str = "jsonl",
) -> Sent:
    """Write the lines of a shop into its file in the folder, which is made if it is missing.

    The file of the other form goes away, and so do those of the shops that were `moved` into this one, whose jobs are
    in this file now. Raises Refusal where Parquet cannot be written, OSError where the disk takes nothing: what
    stood there is left then.
    """
    content = (
        _packed(lines)
        if form == "parquet"
        else [f"{line.to_json()}\n".encode() for line in lines]
    )
    durable.make_folder(folder)
    file = folder / file_name(office_id(shop), form)
    durable.write_pieces(file, content, replace=True)
    older = {
        folder / file_name(office_id(known), one)
        for known in (shop, *moved)
        for one in FORMS
    } - {file}
    for path in older:
        path.unlink(missing_ok=True)
    return Sent(file, len(lines), sum(line.kind == "job" for line in lines))


def _packed(lines: Sequence[SharedLine]) -> list[bytes]:
    """The lines as a Parquet file, its columns those of a line."""
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise Refusal(
            f"--parquet needs libraries that are not here; {INSTALL}"
        ) from None
    sorts = {
        "str": pyarrow.string(),
        "int": pyarrow.int64(),
        "float": pyarrow.float64(),
        "bool": pyarrow.bool_(),
    }
    schema = pyarrow.schema([(name, sorts[sort]) for name, sort in COLUMNS.items()])
    out = io.BytesIO()
    parquet.write_table(
        pyarrow.Table.from_pylist([line.told() for line in lines], schema),
        out,
        compression="zstd",
    )
    return [out.getvalue()]
