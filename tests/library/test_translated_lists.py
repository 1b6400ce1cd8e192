"""Check-out and procedures in another language: line by line, and never beside a list of the shop's own."""

from __future__ import annotations

from pathlib import Path

from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.library.customs import Customs
from kb.library.shelf import stock_folder
from kb.library.translated_lists import TranslatedLists
from webui.app import create_app

SHIPPED = Customs(stock_folder(), None)


def test_every_line_and_step_of_the_shipped_lists_is_there_in_german() -> None:
    german = TranslatedLists(SHIPPED, "de")
    said = dict(german.pairs())
    lines = SHIPPED.check_list().lines
    steps = SHIPPED.procedures().by_name["board swap"].steps

    assert list(german.remarks()) == []
    assert all(said[line.text] not in ("", line.text) for line in lines)
    assert all(said[line.name.replace("-", " ")] for line in lines)
    assert all(
        said[words] not in ("", words) for line in lines for _, words in line.grades
    )
    assert all(said[step] not in ("", step) for step in steps)


def test_what_names_no_line_or_lacks_a_step_is_told_and_not_shown(
    tmp_path: Path,
) -> None:
    house = tmp_path / "de" / "house"
    house.mkdir(parents=True)
    (house / "checkout.md").write_text(
        "- **every-kye**: jede Taste\n- every-key: jede\n", "utf-8"
    )
    (house / "procedures.md").write_text(
        "- **board swap**: gleich\n    - Freigeben: ansehen.\n", "utf-8"
    )
    german = TranslatedLists(Customs(stock_folder(), tmp_path), "de")
    remarks = list(german.remarks())

    assert list(german.pairs()) == []
    assert [(one.file, one.line) for one in remarks] == [
        ("de/house/checkout.md", 2),
        ("de/house/checkout.md", 1),
        ("de/house/procedures.md", 1),
    ]
    assert "no `every-kye`" in remarks[1].problem


def test_beside_a_list_of_the_shops_own_only_its_own_translation_counts(
    tmp_path: Path,
) -> None:
    house = tmp_path / "house"
    house.mkdir()
    (house / "checkout.md").write_text(
        "- **every-key** (2 min): press each with a glove\n", "utf-8"
    )
    german = TranslatedLists(Customs(stock_folder(), tmp_path), "de")

    assert "press each with a glove" not in dict(german.pairs())


def test_the_check_out_is_shown_in_german(stocked: Bench) -> None:
    stocked.arrivals.take_in("tag,model\nP7-001,Tern 13\n", "P7")
    german = Visitor(create_app(stocked))
    german.client.set_cookie("language", "de", domain="localhost")
    page = german.go("/u/P7-001/checkout")

    assert "bei geschlossenem Deckel Spalt, Touchpad und Boden ansehen" in page.text
    assert "Zustand des Laufwerks" in page.text
    assert (
        "lang='en'"
        not in page.html.partition('<ol class="way">')[2].partition("</ol>")[0]
    )
