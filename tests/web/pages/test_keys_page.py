"""The page of keys."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"

pytestmark = pytest.mark.shop("with_three_jobs")


# The keys


def test_the_keys_can_be_read_without_script_and_switched_off(visitor: Visitor) -> None:
    page = visitor.go("/")
    assert "keys.js" in page.html

    visitor.follow("Keys")
    page = visitor.press("Switch single keys off")
    assert "Single keys are off" in page.text
    assert "keys.js" not in visitor.go("/").html

    visitor.go("/keys")
    visitor.press("Switch single keys on")
    assert "keys.js" in visitor.go("/").html


def test_enter_in_a_field_of_the_confirmed_fix_presses_nothing(
    visitor: Visitor,
) -> None:
    page = visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    form = page.html[page.html.index('<form method="post" action="/confirm"') :]
    assert form.index("<button") == form.index('<button class="unseen" disabled')
