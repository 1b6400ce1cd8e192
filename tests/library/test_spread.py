"""The spread of liquid and fire: the shipped file names sheets, causes and parts that there are."""

from __future__ import annotations

from pathlib import Path

from kb.bench.front import Bench
from kb.history import kinds
from kb.library import spread
from kb.library.customs import shipped_customs, stock_folder
from kb.library.markdown import parse


def test_the_shipped_file_names_causes_and_parts_that_there_are() -> None:
    shipped = shipped_customs().spread()

    assert shipped.remarks == ()
    assert len(shipped.near) > 15
    for name in shipped.near:
        slug, _, cause = name.partition("/")
        entry = parse((stock_folder() / f"{slug}.md").read_text(), slug).entry
        assert entry, name
        assert not cause or entry.cause(cause), name


def test_an_unknown_part_and_a_line_that_is_none_are_named_by_line() -> None:
    read = spread.parse(
        "# Title\n\n- **spill** (keyboard; pannel)\n- spill: keyboard\n", {"keyboard"}
    )

    assert [remark.line for remark in read.remarks] == [4, 3]
    assert read.of("spill/any") == ("keyboard",)


def test_of_a_donor_that_liquid_went_into_parts_nearby_are_worth_less_and_far_ones_as_much(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path / "shop")
    for tag, words in (
        ("P7-01", "coffee was spilled over the keys yesterday, deck is tacky"),
        ("P7-02", ""),
    ):
        bench.machines.write(
            kinds.UNIT_IN, {"tag": tag, "model": "Tern 13", "words": words}
        )
        bench.machines.give_up(tag, "board gone")

    def worth(part: str) -> dict[str, float]:
        return {
            one.source.tag: one.source.good
            for one in bench.parts.who_has(part, "Tern 13").offers
        }

    near, far = worth("palm rest"), worth("hinge set")
    assert near["P7-01"] < 0.65 < 0.9 < near["P7-02"]
    assert far["P7-01"] > 0.9
    bench.close()
