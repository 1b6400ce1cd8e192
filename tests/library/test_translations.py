"""Sheets in other languages: shown where they match their original, named by the check where they do not."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.library.checks import of_files
from kb.library.shelf import Shelf, stock_folder
from kb.library.translations import TranslatedShelf, languages_of, mismatches
from kb.model import Entry
from webui.app import create_app

SLUG = "fan-noisy"
GERMAN = (stock_folder() / "de" / f"{SLUG}.md").read_text("utf-8")


def put(shop: Bench, text: str, name: str = SLUG) -> Path:
    """The shop's own translation of a sheet."""
    path = shop.folder / "entries" / "de" / f"{name}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def shipped() -> Shelf:
    return Shelf(stock_folder(), None)


def test_every_shipped_translation_matches_its_original_text_by_text(
    library: tuple[Entry, ...],
) -> None:
    originals = {entry.slug: entry for entry in library}
    found = {
        language: TranslatedShelf(shipped(), language)
        for language in languages_of(shipped())
    }

    assert len(found["de"].files()) >= 5
    for one in found.values():
        assert list(one.remarks(originals.get)) == []
        for sheet in one.sheets():
            assert sheet.entry is not None
            assert mismatches(originals[sheet.slug], sheet.entry, "") == []


def test_hardly_a_text_of_a_translation_is_still_the_english_one(
    library: tuple[Entry, ...],
) -> None:
    originals = {entry.slug: entry for entry in library}
    pairs = list(TranslatedShelf(shipped(), "de").pairs(originals.get))

    assert len(pairs) > 200
    assert [
        english for english, said in pairs if english == said and len(english) > 12
    ] == []


def test_a_page_shows_a_sheet_in_its_language_and_what_is_not_translated_as_english(
    stocked: Bench,
) -> None:
    german = Visitor(create_app(stocked))
    german.client.set_cookie("language", "de", domain="localhost")
    sheet, other = german.go(f"/entry/{SLUG}"), german.go("/entry/fan-not-turning")

    assert "das Lager des Lüfters ist trocken oder verschlissen" in sheet.text
    assert (
        "lang='en'"
        not in sheet.html.partition("See also")[0]
        .partition('id="causes"')[2]
        .partition("<h2>")[0]
    )
    assert "<span lang='en'>" in other.html
    assert Visitor(create_app(stocked)).go(f"/entry/{SLUG}").html.count("Lüfter") == 0


def test_a_step_is_shown_in_the_language_and_noted_by_the_names_of_the_original(
    stocked: Bench,
) -> None:
    german = Visitor(create_app(stocked))
    german.client.set_cookie("language", "de", domain="localhost")
    german.go("/?q=fan+grinds+and+whines")
    assert "Der Lüfter schleift, heult oder klappert" in german.page.text
    outcomes = [
        button
        for form in german.page.forms
        for button in form.buttons
        if button[0] == "outcome"
    ]

    assert outcomes
    german.press(outcomes[0][2])
    job = stocked.jobs.open_jobs()[0]
    assert job.outcomes[0].outcome == outcomes[0][1]
    assert job.outcomes[0].test.startswith(f"{SLUG}/")
    assert outcomes[0][1] != outcomes[0][2]


def test_the_shops_own_translation_wins_and_is_read_again_when_it_changes(
    stocked: Bench,
) -> None:
    assert (
        "Der Lüfter schleift, heult oder klappert"
        in stocked.entries.in_language("de").values()
    )
    put(
        stocked,
        GERMAN.replace(
            "Der Lüfter schleift, heult oder klappert", "Lüfter macht Krach"
        ),
    )

    assert (
        stocked.entries.in_language("de")["The fan grinds, whines or rattles"]
        == "Lüfter macht Krach"
    )


@pytest.mark.parametrize(
    ("was", "instead", "told"),
    [
        (
            "**bearing** (often)",
            "**lager** (often)",
            "`Likely causes` names other things than the original",
        ),
        (
            ": dust\n",
            ": broken-blade\n",
            "what test 4 shows names other causes than in the original",
        ),
        (
            "- Bei viel Staub eine Maske tragen.\n",
            "",
            "`Safety` has 3 lines, the original has 4",
        ),
        (
            "- **dust** (20 min",
            "- **dust, bearing** (20 min",
            "`Fix` names other things than the original",
        ),
        (
            "- **fan-not-turning**",
            "- **runs-hot**",
            "`See also` names other things than the original",
        ),
    ],
)
def test_a_translation_that_does_not_match_is_named_and_not_shown(
    library: tuple[Entry, ...], tmp_path: Path, was: str, instead: str, told: str
) -> None:
    originals = {entry.slug: entry for entry in library}
    assert was in GERMAN
    (tmp_path / "de").mkdir()
    (tmp_path / "de" / f"{SLUG}.md").write_text(
        GERMAN.replace(was, instead, 1), "utf-8"
    )
    translated = TranslatedShelf(Shelf(stock_folder(), tmp_path), "de")
    remarks = [
        one for one in translated.remarks(originals.get) if one.file == f"de/{SLUG}.md"
    ]

    assert any(told in one.problem for one in remarks), remarks
    assert "The fan grinds, whines or rattles" not in dict(
        translated.pairs(originals.get)
    )


def test_every_house_caution_is_translated_and_one_left_out_is_named(
    library: tuple[Entry, ...], tmp_path: Path
) -> None:
    originals = {entry.slug: entry for entry in library}
    cautions = [
        one for deed in shipped().customs.cautions().deeds for one in deed.cautions
    ]
    assert set(cautions) <= set(
        dict(TranslatedShelf(shipped(), "de").pairs(originals.get))
    )

    house = tmp_path / "de" / "house"
    house.mkdir(parents=True)
    text = (stock_folder() / "de" / "house" / "cautions.md").read_text("utf-8")
    (house / "cautions.md").write_text(
        text.replace("- Handschuhe tragen und Hände waschen", "Handschuhe", 1), "utf-8"
    )
    told = TranslatedShelf(Shelf(stock_folder(), tmp_path), "de")
    assert [
        one.problem
        for one in told.remarks(originals.get)
        if one.file == "de/house/cautions.md"
    ] == ["`spilled liquid` has 3 lines, the original has 4"]
    assert "No rice, no hair dryer" not in " ".join(dict(told.pairs(originals.get)))


@pytest.mark.slow
def test_a_translation_of_nothing_is_named(stocked: Bench) -> None:
    put(stocked, GERMAN, "no-such-sheet")

    assert [
        one.problem
        for one in stocked.entries.check()
        if one.file == "de/no-such-sheet.md"
    ] == ["there is no entry `no-such-sheet` that this translates"]


def test_a_single_file_is_held_against_the_sheet_above_it(tmp_path: Path) -> None:
    shutil.copy(stock_folder() / f"{SLUG}.md", tmp_path)
    (tmp_path / "de").mkdir()
    file = tmp_path / "de" / f"{SLUG}.md"
    file.write_text(GERMAN, "utf-8")
    assert of_files([file], shipped().customs) == []

    file.write_text(GERMAN.replace("**bearing** (often)", "**lager** (often)"), "utf-8")
    assert any(
        "names other things" in one.problem
        for one in of_files([file], shipped().customs)
    )
