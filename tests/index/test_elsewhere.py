"""The file of pooled counts as it is read, and as an index holds it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.index.elsewhere import (
    FORMAT,
    NOWHERE,
    CountsTrouble,
    ModelElsewhere,
    PooledCounts,
    SheetElsewhere,
    read,
)
from kb.index.index import Index

COUNTS = PooledCounts(
    made="2026-11-30",
    shops=31,
    jobs=2_140,
    sheets={
        "no-battery": SheetElsewhere(
            shops=31,
            jobs=214,
            often=190.5,
            strength=34.0,
            causes={"pack": 90.0, "plug": 30.25},
            models={"tern 13": ModelElsewhere(often=20.0, causes={"plug": 18.0})},
        ),
        "keys-dead": SheetElsewhere(
            shops=1, jobs=2, often=2.0, strength=10.0, causes={"ribbon": 1.8}
        ),
    },
)


def told() -> dict[str, Any]:
    """The counts as the table of their file."""
    found: dict[str, Any] = json.loads(COUNTS.to_json())
    return found


def changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    given = told()
    change(given)
    return json.dumps(given).encode()


def test_counts_are_read_as_they_were_written() -> None:
    assert read(COUNTS.to_json().encode()) == COUNTS
    assert told()["format"] == FORMAT


@pytest.mark.parametrize(
    ("raw", "where"),
    [
        (b'{"\xff": 1}', "no text"),
        (b"{\n nothing", "line 2"),
        (b"[]", "it: "),
        (b"[" * 100_000, "no JSON"),
        (b'{"jobs": ' + b"9" * 5_000 + b"}", "no JSON"),
        (changed(lambda it: it.update(format="benchlore-counts-2")), "format"),
        (changed(lambda it: it.update(made="yesterday")), "made"),
        (changed(lambda it: it.update(shops=True)), "shops"),
        (changed(lambda it: it.update(entries=[])), "entries"),
        (
            changed(lambda it: it["entries"]["no-battery"].update(jobs=0)),
            "entries, no-battery, jobs",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"].update(strength=1e9)),
            "entries, no-battery, strength",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"].update(often=float("nan"))),
            "entries, no-battery, often",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"]["causes"].update(pack=-1)),
            "no-battery, causes, pack",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"]["causes"].update(pack="9")),
            "no-battery, causes, pack",
        ),
        (
            changed(
                lambda it: it["entries"]["keys-dead"]["causes"].update(ribbon=8, pad=8)
            ),
            "keys-dead, causes",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"]["models"].update(Rail=3)),
            "no-battery, models, Rail",
        ),
        (
            changed(lambda it: it["entries"]["no-battery"].pop("models")),
            "no-battery, models",
        ),
        (
            changed(lambda it: it["entries"].update({"x\x1b[2J\n": 3})),
            "entries, x\ufffd[2J\ufffd: this is no table",
        ),
        (
            changed(lambda it: it["entries"].update({"\ud800": {}})),
            "entries: this is no table",
        ),
        (
            changed(
                lambda it: it["entries"]["no-battery"]["models"].update({"\udcff": 3})
            ),
            "no-battery, models: ",
        ),
    ],
)
def test_what_is_wrong_with_a_file_is_told_with_its_place(
    raw: bytes, where: str
) -> None:
    with pytest.raises(CountsTrouble) as trouble:
        read(raw)

    assert where in str(trouble.value)
    assert "benchlore office --counts" in str(trouble.value)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=5), inner, max_size=3)
    ),
    max_leaves=6,
)


@given(
    place=st.sampled_from(
        ["format", "made", "shops", "jobs", "entries", "no-battery", "causes", "models"]
    ),
    value=json_values,
)
def test_whatever_stands_at_a_place_it_is_read_or_refused_in_a_sentence(
    place: str, value: object
) -> None:
    given_ = told()
    sheet = given_["entries"]["no-battery"]
    table = {"no-battery": given_["entries"], "causes": sheet, "models": sheet}.get(
        place, given_
    )
    table[place] = value
    try:
        found = read(json.dumps(given_).encode())
    except CountsTrouble:
        return
    assert read(found.to_json().encode()) == found


def test_an_index_gives_what_was_had_of_sheets_and_on_one_model() -> None:
    index = Index(None)
    with index.changing():
        index.elsewhere.put(COUNTS)

    with index.reading():
        on_it, on_another = (
            index.elsewhere.on(" TERN 13"),
            index.elsewhere.on("Skua 14"),
        )
    sheet = COUNTS.sheets["no-battery"]
    assert on_it["no-battery"].here == sheet.models["tern 13"]
    assert on_it["no-battery"].sheet.causes == sheet.causes
    assert on_another["no-battery"].here == NOWHERE
    assert on_another["keys-dead"].sheet == COUNTS.sheets["keys-dead"]

    with index.changing():
        index.elsewhere.put(None)
        index.note("elsewhere", "another file")
    with index.reading():
        assert index.elsewhere.on("Tern 13") == {}
