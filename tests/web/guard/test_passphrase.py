"""Passphrases: long enough, the same from every keyboard, and costly to guess."""

from __future__ import annotations

import pytest
from helpers.doors import GOOD

from kb.base.trouble import Refusal
from webui.guard import passphrase as phrases
from webui.guard.door import Door, Right


def test_scrypt_gives_the_published_value() -> None:
    # RFC 7914, section 12: scrypt ("pleaseletmein", "SodiumChloride", N=16384, r=8, p=1), first 32 of 64 bytes
    found = phrases._scrypt("pleaseletmein", "SodiumChloride", (16384, 8, 1))

    assert found == "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"


def test_a_check_costs_what_is_said() -> None:
    assert phrases.hashed(GOOD).startswith("scrypt:32768:8:3$")


@pytest.mark.parametrize("given", ["", "short", "         ", "x" * 201])
def test_a_passphrase_too_short_or_too_long_is_refused(door: Door, given: str) -> None:
    with pytest.raises(Refusal, match="10 to 200"):
        door.set_passphrase(Right.WRITE, given)


def test_the_same_letters_from_another_keyboard_fit(door: Door) -> None:
    door.set_passphrase(Right.WRITE, "cafe\u0301 am Hafen")

    assert door.enter("caf\u00e9 am Hafen", "192.0.2.7")[1] is Right.WRITE
