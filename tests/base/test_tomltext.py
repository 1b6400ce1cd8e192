"""TOML that people write by hand: one value is changed, every other line and comment stays."""

from __future__ import annotations

import tomllib

import pytest
from helpers.humming import text_of, write
from hypothesis import given
from hypothesis import strategies as st

from kb.base.tomltext import with_value
from kb.bench.front import Bench

pytestmark = pytest.mark.shop("humming")


# The file is kept as it was


def test_every_other_line_and_comment_stays(bench: Bench) -> None:
    above = '# ours since 2019\r\nzone = "Europe/Oslo"   # whose midnight\r\n'
    below = '\r\n# for the van\r\n[van]\r\nlacks = ["x"]\r\n'
    bench.shop.kept_settings.path.write_bytes((above + below).encode())

    bench.shop.kept_settings.change_tools(lack=["scale"])
    bench.shop.kept_settings.set_half_life(730)

    after = bench.shop.kept_settings.path.read_bytes().decode()
    assert after == above + 'lacks = ["scale"]\r\nhalf_life_days = 730\r\n' + below


def test_comments_inside_a_list_are_kept_above_it() -> None:
    text = 'lacks = [\n  "scale",  # lent to the van\n  "a # b",\n]  # 2026\nhalf_life_days = 7'

    found = with_value(text, "lacks", ["ruler"])

    assert found == '# lent to the van\n# 2026\nlacks = ["ruler"]\nhalf_life_days = 7'


def test_nothing_is_written_where_nothing_changes(bench: Bench) -> None:
    bench.shop.kept_settings.change_tools(have=["scale"])
    bench.shop.kept_settings.set_half_life(0)
    assert not bench.shop.kept_settings.path.exists()

    write(bench, 'lacks = ["scale"] # lent\n')
    bench.shop.kept_settings.change_tools(lack=["Scale"])
    assert text_of(bench) == 'lacks = ["scale"] # lent\n'


LINES = st.sampled_from(
    [
        "",
        "# a remark",
        'a = "x # y"',
        "b = [",
        "c = 3  # three",
        'd = """',
        "e.f = 1",
        "[[g]]",
        "[h]  # last",
        "i = 1",
        "]",
        '"""',
        "lacks = 1",
        "lacks = [] # none",
        "  lacks = [",
        '"ruler", # bent',
        "'''",
        "half = 2",
    ]
)


@given(
    st.lists(LINES, max_size=8),
    st.lists(st.sampled_from(["scale", "ruler"]), unique=True),
    st.booleans(),
)
def test_whatever_stands_there_stays_and_the_value_is_the_new_one(
    lines: list[str], names: list[str], broken_off: bool
) -> None:
    text = "\n".join(lines) + ("" if broken_off else "\n")
    try:
        before = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(tomllib.TOMLDecodeError):
            with_value(text, "lacks", names)
        return
    if isinstance(before.get("lacks"), dict):
        return

    after = with_value(text, "lacks", names)

    assert tomllib.loads(after) == before | {"lacks": names}
    assert with_value(after, "lacks", names) == after
    for remark in ("# a remark", "# three", "# last", "# bent", "# none"):
        assert after.count(remark) == text.count(remark)
    if "  lacks = [" not in lines:
        others = [line for line in after.split("\n") if line and "lacks" not in line]
        assert others == [line for line in lines if line and "lacks" not in line]
