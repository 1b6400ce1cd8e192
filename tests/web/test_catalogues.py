"""The catalogues hold every string of the code, whole and in all its forms, and nothing else."""

from __future__ import annotations

from string import Formatter

import pytest
from babel.messages.catalog import Message
from helpers.catalogues import in_code, kept, messages, written

from webui.tongue import SOURCE, catalogue_file, languages

OTHERS = [code for code in languages() if code != SOURCE]


def strings(one: Message) -> list[str]:
    """Its translations, one for each form of number."""
    return (
        [str(form or "") for form in one.string]
        if isinstance(one.string, tuple | list)
        else [str(one.string or "")]
    )


def places(given: str) -> list[tuple[str, str]]:
    """The values that are put into a string, and how they are laid out."""
    return sorted(
        (name, spec or "") for _, name, spec, _ in Formatter().parse(given) if name
    )


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_holds_every_string_of_the_code_and_nothing_else(
    language: str,
) -> None:
    asked, held = set(messages(in_code())), set(messages(kept(language)))

    assert asked - held == set(), "run `poe words`, then translate what is empty"
    assert held - asked == set(), "run `poe words`"


@pytest.mark.parametrize("language", OTHERS)
def test_every_string_is_translated_in_all_its_forms(language: str) -> None:
    whole = kept(language)
    wanting = [
        name
        for name, one in messages(whole).items()
        if one.fuzzy
        or not all(strings(one))
        or len(strings(one)) != (whole.num_plurals if one.pluralizable else 1)
    ]

    assert wanting == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_same_places_for_values_as_its_english(
    language: str,
) -> None:
    wrong = []
    for name, one in messages(kept(language)).items():
        english = [one.id] if isinstance(one.id, str) else list(one.id)
        wanted = {tuple(places(form)) for form in english}
        wrong += [
            (name, form)
            for form in strings(one)
            if form and tuple(places(form)) not in wanted
        ]

    assert wrong == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_is_written_as_the_tool_writes_it(language: str) -> None:
    assert catalogue_file(language).read_bytes() == written(kept(language))
