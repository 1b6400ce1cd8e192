"""Lines that do not fit are counted and named, whatever stands in them, and the others count."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from helpers.offices import ONE, TWO, job, put
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.office.checked import UNASKED, WRONG, Unfit
from kb.office.engines import Collected, on_duckdb, shared_files
from kb.office.questions import shops
from kb.office.sending import file_name

GOOD = json.loads(job(ONE, 1).to_json())
NAME = f"shared-{ONE}.jsonl"


def read(
    folder: Path, files: Mapping[str, Sequence[str | dict[str, Any]]]
) -> tuple[Counter[str], list[Unfit]]:
    """How many lines of each shop fit, and what is told of the others."""
    for shop, lines in files.items():
        texts = [line if isinstance(line, str) else json.dumps(line) for line in lines]
        (folder / file_name(shop, "jsonl")).write_text(
            "\n".join(texts), encoding="utf-8", errors="surrogateescape"
        )
    with on_duckdb(shared_files(folder)) as collected:
        rows = collected.rows(shops(collected.lines))
    return Counter({row["shop"]: row["jobs"] for row in rows}), list(collected.unfit)


WRONG_LINES: tuple[tuple[str | dict[str, Any], str], ...] = (
    ("not JSON", "unreadable"),
    ('{"format":1,"shop":"', "unreadable"),
    ("[1]", "unreadable"),
    ("\udcff", "unreadable"),
    ({"format": 2, "kind": "new"}, "format"),
    ({"shop": TWO}, "shop"),
    ({"kind": "sale"}, "kind"),
    ({"minutes": "long"}, "number"),
    ({"minutes": -1}, "number"),
    ({"minutes": "NaN"}, "number"),
    ({"machine": 1.5}, "number"),
    ({"job": 10**30}, "number"),
    ({"listed": "perhaps"}, "number"),
    ({"model": "x" * 201}, "text"),
    ({"part": "nul \x00"}, "text"),
    ({"model": None}, "missing"),
    ({"day": None}, "day"),
    ({"day": "yesterday"}, "day"),
    ({"day": "2026-02-30"}, "day"),
    ({"day": "2026-1-1"}, "day"),
    ({"machine": "007"}, "number"),
    ({"shop": None}, "shop"),
)


def test_a_line_that_does_not_fit_is_told_by_its_fault_and_the_others_count(
    tmp_path: Path,
) -> None:
    files, faults = {}, []
    for number, (wrong, word) in enumerate(WRONG_LINES):
        shop = f"{number:012}"
        good = {**GOOD, "shop": shop}
        line = wrong if isinstance(wrong, str) else good | wrong
        files[shop] = [good, line, line, {**good, "job": 2, "new": "key"}]
        faults.append(Unfit(file_name(shop, "jsonl"), 2, WRONG[word]))

    fit, unfit = read(tmp_path, files)

    assert unfit == faults
    assert fit == dict.fromkeys(files, 2)


@settings(max_examples=4)
@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(sorted(GOOD)),
            st.none() | st.text(max_size=5) | st.integers() | st.floats(),
        ),
        min_size=10,
    )
)
def test_every_line_either_counts_or_is_told(
    tmp_path_factory: pytest.TempPathFactory, changes: list[dict[str, Any]]
) -> None:
    folder = tmp_path_factory.mktemp("office")
    (folder / NAME).write_text(
        "\n".join(json.dumps({**GOOD, **changed}) for changed in changes)
    )

    with on_duckdb(shared_files(folder)) as collected:
        fit = len(collected.rows(collected.lines))

    assert fit + sum(one.lines for one in collected.unfit) == len(changes)


def test_what_is_told_names_file_and_fault() -> None:
    assert (
        str(Unfit(NAME, 1, WRONG["kind"]))
        == f"{NAME}: 1 line of a kind that this program does not know"
    )
    assert (
        str(Unfit(NAME, 0, "it is a folder"))
        == f"{NAME}: the file is left out: it is a folder"
    )


def test_a_columns_sort_is_that_of_a_line(tmp_path: Path) -> None:
    line = job(ONE, 7, minutes=2.5, part="fan")

    with on_duckdb(shared_files(put(tmp_path, [line]))) as collected:
        (row,) = collected.rows(collected.lines)

    assert row.pop("unit") == f"{ONE}/7"
    assert row == {
        name: value for name, value in asdict(line).items() if name not in UNASKED
    }


def test_no_file_at_all_leaves_nothing(tmp_path: Path) -> None:
    with on_duckdb(shared_files(tmp_path)) as collected:
        assert isinstance(collected, Collected)
        assert collected.rows(shops(collected.lines)) == []
