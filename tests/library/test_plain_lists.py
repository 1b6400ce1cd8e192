"""Lists of plain texts are read line by line; Markdown's own parser must see the same in them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.library import markdown
from kb.library.shelf import stock_folder
from kb.model import Entry

#: Lines that are list items, that look like them, or that change what the lines below them are.
LINES = st.sampled_from(
    (
        "- no light at all",
        "- 3 beeps, then nothing",
        "- 3. beeps",
        "- 0 V behind the fuse",
        "- a `word` and *more*",
        "-",
        "- ",
        "-  two spaces",
        "- - nested",
        "- # heading",
        "- > quote",
        "- ___",
        "- ===",
        "- [x]: y",
        "* starred",
        "+ plus",
        "- what <!-- not shown --> else",
        "  - deeper",
        "goes on below",
        "",
        "   ",
        "```",
        "~~~",
        "<div>",
        "<!-- comment -->",
        "- trailing spaces   ",
        "- 12) bracket",
        "- \u00e9t\u00e9",
        "===",
        "---",
        "> quoted",
        "[link]: target",
        "# First",
        "\tindented",
        "- with\ttab",
        "## Safety",
        "## Other",
        "##Symptom",
        "## Symptom ",
        "- ends in ##",
    )
)


def _both(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> tuple[markdown.Parsed, markdown.Parsed]:
    quick = markdown.parse(text, "sheet")
    with monkeypatch.context() as patched:
        patched.setattr(markdown, "_plain_lists", lambda lines, start: {})
        return quick, markdown.parse(text, "sheet")


@given(st.lists(LINES, max_size=12))
def test_whatever_stands_in_a_sheet_both_ways_of_reading_see_the_same(
    lines: list[str],
) -> None:
    head = [
        "---",
        "title: No light",
        "area: power",
        "---",
        "",
        "## Likely causes",
        "",
        "- **fuse** (often): blown",
        "",
    ]
    text = "\n".join(
        [*head, "## Symptom", "", *lines, "", "## Also heard as", "", "- dead"]
    )

    with pytest.MonkeyPatch.context() as monkeypatch:
        quick, whole = _both(text, monkeypatch)

    assert quick == whole
    assert _sections(quick.entry) == _sections(whole.entry)


def test_every_shipped_sheet_is_read_the_same_both_ways(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for path in sorted(stock_folder().glob("*.md"))[::6]:
        quick, whole = _both(path.read_text("utf-8"), monkeypatch)
        assert quick == whole, path.name


def _sections(entry: Entry | None) -> object:
    return entry.sections if entry else None
