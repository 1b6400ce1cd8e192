"""Foreign words said in English: alone, in between, and never where English is spoken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import pytest
from helpers.trade_words import english_words, foreign_words, headwords

from kb.bench.front import Bench
from kb.language.foreign import Language, said_in_english
from kb.language.words import LANGUAGES, KnownWords, fold, read_lexicon
from kb.model import Entry

#: What some words mean in their language.
FOREIGN = {
    "bild": ("image",),
    "vorn": ("front",),
    "luft": ("air",),
    "war": ("was",),
    "poco": ("little",),
    "nicht": ("not", "does not"),
    "weil": ("because",),
}
#: The English of the foreign stretches of each text.
Heard = Callable[..., list[str]]
#: Every other wording is asked; of them so many may hold a slip that is a foreign word by chance ("conect").
EVERY, BY_CHANCE = 2, 3


@pytest.fixture(scope="module")
def heard(stock_bench: Bench) -> Heard:
    """What is said in English of the foreign stretches of a text, joined."""

    def english(*texts: str) -> list[str]:
        with stock_bench.shop.files.reading() as (index, lexicon):
            languages = [
                Language(name, words) for name, words in lexicon.foreign.items()
            ]
            known = KnownWords(lexicon, index)
            return [
                " ".join(one.english for one in said_in_english(text, languages, known))
                for text in texts
            ]

    return english


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_foreign_word_is_listed_once_and_a_star_ends_a_single_word(
    language: str,
) -> None:
    table = headwords(language)
    listed = Counter(word for words in table.values() for word in words)

    assert [word for word, times in listed.items() if times > 1] == []
    assert [
        word
        for word in listed
        if "*" in word and (" " in word or word.index("*") < len(word) - 1)
    ] == []


@pytest.mark.parametrize(
    ("language", "least"),
    [("german", 400), ("spanish", 400), ("french", 200), ("polish", 200)],
)
def test_the_trade_is_known_in_that_many_words_of_each_language(
    language: str, least: int
) -> None:
    lexicon = read_lexicon(*english_words(), *foreign_words())

    assert len(lexicon.foreign[language]) >= least


@pytest.mark.parametrize(
    ("said", "entry"),
    [
        pytest.param("Lüfter dreht sich nicht mehr", "fan-not-turning", id="German"),
        pytest.param(
            "luefter dreht sich nicht mehr",
            "fan-not-turning",
            id="German without marks",
        ),
        pytest.param(
            "Kaffee in die Tastatur gekippt", "liquid-spill", id="German, another"
        ),
        pytest.param("la pantalla está rajada", "screen-cracked", id="Spanish"),
        pytest.param(
            "LA BATERIA ESTA HINCHADA", "battery-swollen", id="Spanish without marks"
        ),
        pytest.param(
            "no enciende",
            "no-sign-of-life",
            id="Spanish, two words of which one is English too",
        ),
        pytest.param("aucun son des haut-parleurs", "no-sound", id="French"),
        pytest.param(
            "nie działa kamera, nie ma kamery na liście",
            "camera-not-found",
            id="Polish",
        ),
        pytest.param(
            "the Lautsprecher on the left is stumm, right one is fine",
            "one-speaker-silent",
            id="in between",
        ),
    ],
)
def test_a_complaint_in_another_language_finds_its_sheet(
    stock_bench: Bench, said: str, entry: str
) -> None:
    answered = stock_bench.asking.search(said, limit=3)

    assert answered.entries[0].entry == entry
    assert answered.fits


def test_what_was_read_is_said_as_it_was_typed_so_that_quotes_can_keep_it(
    stock_bench: Bench,
) -> None:
    typed = "Lüfter tot"
    answered = stock_bench.asking.search(typed)

    assert (typed, "fan dead") in answered.corrections
    assert stock_bench.asking.search(f'"{typed}"').corrections == ()


def test_a_word_that_is_english_too_is_read_as_the_words_around_it(
    heard: Heard,
) -> None:
    """German "die" is the article, "war" was, "hat" has; in an English sentence they stay."""
    assert heard("die Festplatte war kaputt") == ["the drive was broken"]
    assert heard("it will die in a war") == [""]


def test_a_foreign_word_that_nobody_listed_is_left_out_and_never_mended_into_english(
    stock_bench: Bench, heard: Heard
) -> None:
    answered = stock_bench.asking.search(
        "der Akku lädt nicht seit gestern abend blumentopf"
    )

    assert heard("nicht laden") == ["not charge"]
    assert all(
        "night" not in read and "blumentopf" not in typed.split()[:1]
        for typed, read in answered.corrections
    )


def test_a_single_short_word_of_another_language_is_not_corrected_into_an_english_one(
    stock_bench: Bench,
) -> None:
    """Each of these is one or two letters from a word of the library: build, worn, left, warm, pogo, night."""
    for word in ("bild", "vorn", "luft", "war", "poco", "nicht", "weil"):
        for text in (word, f"screen {word}", f"the {word} fan is loud"):
            read = dict(stock_bench.asking.search(text, limit=1).corrections)
            assert read.get(word, "") in {"", *FOREIGN[word]}, (text, read)


def test_a_short_word_of_another_language_alone_is_told_by_what_it_means_there(
    stock_bench: Bench,
) -> None:
    assert dict(stock_bench.asking.search("maus", limit=1).corrections) == {
        "maus": "mouse"
    }


def test_hardly_an_english_wording_is_taken_for_another_language(
    library: tuple[Entry, ...], heard: Heard
) -> None:
    wordings = [text for entry in library for text in entry.wordings][::EVERY]
    taken = [
        text
        for text, english in zip(wordings, heard(*wordings), strict=True)
        if english
    ]

    assert len(taken) <= BY_CHANCE, taken


@pytest.mark.parametrize(
    "said",
    [
        "Ich suche eine Wohnung in Berlin mit Balkon und Garten",
        "quiero reservar una mesa para dos personas esta noche",
        "Je cherche un bon restaurant pas cher à Lyon",
        "Szukam przepisu na sernik z rodzynkami",
    ],
)
def test_another_subject_in_another_language_is_told_so(
    stock_bench: Bench, said: str
) -> None:
    assert not stock_bench.asking.search(said, limit=1).fits


def test_a_listed_foreign_word_says_something_in_english() -> None:
    lexicon = read_lexicon(*english_words(), *foreign_words())
    said = {english for words in lexicon.foreign.values() for english in words.values()}

    assert {
        english for english in said if fold(english) != english or not english.strip()
    } == set()
