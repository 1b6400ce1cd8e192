"""Sentences that remember what they were made of."""

from __future__ import annotations

import copy
import json
import pickle

from kb.base.worded import Worded, forms, listed, worded


def test_a_worded_sentence_is_that_sentence_and_knows_its_template() -> None:
    told = worded("{n} line of {lot}|{n} lines of {lot}", n=2, lot="P7")

    assert told == "2 lines of P7"
    assert json.dumps([told]) == '["2 lines of P7"]'
    assert told.values == {"n": 2, "lot": "P7"}
    assert (
        worded("{n} line of {lot}|{n} lines of {lot}", n=1, lot="P7") == "1 line of P7"
    )


def test_a_copy_of_a_worded_sentence_is_still_worded() -> None:
    told = worded("about {minutes:g} min", minutes=2.0)

    for same in (
        copy.copy(told),
        copy.deepcopy(told),
        pickle.loads(pickle.dumps(told)),
    ):
        assert isinstance(same, Worded)
        assert (same, same.template, same.values) == (told, told.template, told.values)


def test_braces_in_a_value_are_left_alone() -> None:
    assert worded("no tag {tag}", tag="{n}|{0.x}") == "no tag {n}|{0.x}"


def test_a_row_of_sentences_is_worded_if_there_are_any() -> None:
    row = listed([worded("first"), worded("second"), "third"])

    assert row == "first; second; third"
    assert isinstance(row, Worded)
    assert listed([]) == ""
    assert listed(["alone"]) == "alone"


def test_a_bar_parts_forms_only_beside_a_number() -> None:
    assert forms("good | bad") == ("good | bad", "")
    assert forms("{n} job|{n} jobs") == ("{n} job", "{n} jobs")
