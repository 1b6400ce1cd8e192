"""Names for a shell are right whether the index is in step, behind or of another history, and nothing is written."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history import kinds
from kb.index import names
from kb.model import Confirmation

PLUG = "no-battery/plug"


@pytest.fixture
def used(small: Bench) -> Bench:
    """A shop with two jobs on one model and one on another, and one machine; its index is in step."""
    for model in ("Skua 14", "Tern 13", "tern 13"):
        small.jobs.confirm(Confirmation(PLUG, model))
    small.arrivals.arrive(Arrived(tag="P7-001", lot="P7", model="Tern 13"))
    small.asking.search("batt missing")
    assert [one.line.tag for one in small.machines.units()] == ["P7-001"]
    return small


def test_what_is_in_step_is_told_as_the_desks_tell_it(used: Bench) -> None:
    assert names.models(used.folder) == used.asking.models()
    assert names.tags(used.folder) == {"P7-001": "Tern 13"}
    assert (
        names.lots(used.folder) == [one.name for one in used.machines.lots()] == ["P7"]
    )
    assert names.sheets(used.folder, CORPUS) == {
        one.slug: one.title for one in used.entries.served()
    }
    entry = used.entries.entry("no-battery")
    assert entry is not None
    assert names.causes(used.folder, CORPUS, "no-battery") == {
        one.slug: one.text for one in entry.causes
    }


def test_what_the_index_has_not_taken_in_yet_is_told_too(used: Bench) -> None:
    used.history().close_job(Confirmation(PLUG, "Eider 17"))
    used.history().close_job(Confirmation(PLUG, "TERN 13"))
    used.arrivals.arrive(Arrived(tag="P8-001", lot="P8", model="Eider 17"))
    used.machines.write(kinds.UNIT_IN, {"tag": "p7-001", "look": "C"})

    assert names.models(used.folder) == ["Tern 13", "Skua 14", "Eider 17"]
    assert names.tags(used.folder) == {"P7-001": "Tern 13", "P8-001": ""}
    assert names.lots(used.folder) == ["P7", "P8"]


def test_of_another_history_than_the_index_was_made_of_all_is_read(
    used: Bench, tmp_path: Path
) -> None:
    with_other = Bench(tmp_path / "other", stock=CORPUS)
    with_other.jobs.confirm(Confirmation(PLUG, "Gannet 15"))
    with_other.arrivals.arrive(Arrived(tag="P9-001", lot="P9", model="Gannet 15"))
    with_other.close()
    used.close()
    shutil.copy(tmp_path / "other" / "history.db", used.folder / "history.db")

    assert "Gannet 15" in names.models(used.folder)
    assert "P9-001" in names.tags(used.folder)


def test_causes_of_a_sheet_that_was_changed_or_copied_since_are_left_to_whoever_reads_it(
    used: Bench,
) -> None:
    own = used.folder / "entries"
    own.mkdir(exist_ok=True)
    shutil.copy(CORPUS / "no-battery.md", own / "no-battery.md")
    assert names.causes(used.folder, CORPUS, "no-battery") is None

    used.asking.search("batt missing")
    assert names.causes(used.folder, CORPUS, "no-battery")

    with (own / "no-battery.md").open("a") as sheet:
        sheet.write("\n")
    assert names.causes(used.folder, CORPUS, "no-battery") is None

    used.asking.search("batt missing")
    (own / "no-battery.md").unlink()
    assert names.causes(used.folder, CORPUS, "no-battery") is None
    assert names.causes(used.folder, CORPUS, "no-such-sheet") is None


def test_a_new_shop_has_sheets_by_name_alone_and_none_of_its_files_is_made(
    tmp_path: Path,
) -> None:
    shop = tmp_path / "shop"
    (shop / "entries").mkdir(parents=True)
    (shop / "entries" / "own-sheet.md").write_text("begun")

    assert names.models(shop) == names.lots(shop) == []
    assert names.tags(shop) == {}
    sheets = names.sheets(shop, CORPUS)
    assert {"own-sheet", "no-battery"} <= sheets.keys()
    assert set(sheets.values()) == {""}
    assert sorted(path.name for path in shop.iterdir()) == ["entries"]


def test_tools_are_those_of_the_trade_and_the_shop_as_its_customs_have_them(
    used: Bench,
) -> None:
    own = used.folder / "entries" / "house"
    own.mkdir(parents=True)
    for file, text in (
        ("own.toml", 'tools = ["crowbar"]\nparts = ["oar"]\n'),
        ("trade.toml", 'tools = ["sextant"]\nparts = ["keel", 3]\n'),
        ("trade.toml", 'tools = "sextant"\n'),
        ("trade.toml", "tools = [\n"),
    ):
        (own / file).write_text(text)
        trade = used.shop.customs.trade()
        assert names.tools(used.folder, CORPUS) == [
            *sorted(trade.tools),
            *sorted(trade.parts),
        ], text
    assert names.tools(used.folder, CORPUS) == ["crowbar", "oar"]
