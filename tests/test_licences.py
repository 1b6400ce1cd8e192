"""What the program needs to run is listed with its licence, and all of it may be used and passed on freely."""

from __future__ import annotations

import re

from helpers.licences import CHAPTER, listed, rows, shipped
from helpers.places import ROOT

#: Licences that ask for nothing but to be named.
FREE = re.compile(r"MIT|BSD|Apache|Zope|ZPL|Public Domain|HPND|PSF|ISC", re.IGNORECASE)


def test_every_package_that_it_needs_is_listed_and_none_that_it_does_not() -> None:
    of_some_systems = {"colorama", "tzdata", "backports.zoneinfo"}

    assert set(rows()) - of_some_systems == set(listed()) - of_some_systems


def test_each_licence_is_told_and_asks_for_nothing_but_to_be_named() -> None:
    for name, told in {**listed(), **rows()}.items():
        assert FREE.search(told), f"{name}: {told or 'no licence is told'}"
        assert not re.search(r"GPL|AGPL|SSPL", told), f"{name}: {told}"


def test_what_is_shipped_of_others_is_listed_and_is_there() -> None:
    chapter = CHAPTER.read_text("utf-8")

    assert shipped()
    for line in shipped():
        assert line in chapter
        assert (ROOT / line.split("`")[1]).is_file()


def test_a_script_that_is_not_our_own_has_its_licence_beside_it() -> None:
    for script in (ROOT / "webui" / "static").glob("*.js"):
        foreign = re.search(r"npm|unpkg|github\.com", script.read_text("utf-8"))
        assert (
            not foreign or script.with_name(f"{script.stem}.licence.txt").is_file()
        ), script.name
