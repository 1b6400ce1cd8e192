"""The word list: words that were only said are known, but jobs are read by the written ones alone."""

from __future__ import annotations

import sqlite3

from kb.index import postings
from kb.index.index import Index
from kb.index.remembered import Remembered
from kb.index.wordlist import WordList
from kb.language.words import stem


def test_said_words_are_known_to_questions_and_not_to_the_reading_of_jobs() -> None:
    connection = sqlite3.connect(":memory:")
    connection.executescript(postings.SCHEMA)
    words = WordList(connection, Remembered())
    words.put_known({"charges": 30})
    words.add_said({"wibbles": 10})

    assert words.knows(stem("charges"))
    assert words.knows(stem("wibbles"))
    assert not words.written().knows(stem("wibbles"))
    assert words.counts() == {"charges": 30, "wibbles": 10}
    assert words.written().counts() == {"charges": 30}
    assert [guess.word for guess in words.guesses("chargs", False, ())][:1] == [
        "charges"
    ]


def test_a_stem_that_was_asked_for_in_vain_is_known_once_a_job_has_said_it() -> None:
    index = Index(None)
    with index.changing():
        index.words.put_known({"charges": 30})
    before = []
    with index.reading():
        before += [index.knows("wibbl"), index.knows("wibbl")]

    with index.changing():
        index.words.add_said({"wibbles": 10})

    assert before == [False, False]
    with index.reading():
        assert index.knows("wibbl")
    index.close()
