"""The hand-over: all that keeps a machine here, and what its sheet says of it."""

from __future__ import annotations

from dataclasses import replace

from helpers.looked import LINES, all_good, shown, stands, unit, worked

from kb.history.units import LineShown, Signature, Unit
from kb.machines.checkout import handover


def points(of: Unit) -> tuple[str, ...]:
    return handover.kept_here_by(of, [*stands(of).values()])


def test_a_machine_on_which_every_line_is_good_is_kept_by_nothing() -> None:
    assert points(all_good()) == ()


def test_lines_keep_a_machine_here_by_their_state_and_four_are_named() -> None:
    (told,) = points(unit([]))
    assert told.startswith(f"{len(LINES)} lines open: ")
    assert told.endswith(f" and {len(LINES) - handover.NAMED} more")

    bad = all_good()
    bad = replace(bad, lines={**bad.lines, "pad": shown("pad", "bad", 20)})
    assert points(bad) == ("1 line failed: pad",)


def test_a_machine_that_is_gone_or_given_up_is_not_signed() -> None:
    assert points(replace(all_good(), gone="sold")) == ("it has left the shop (sold)",)


def test_what_was_waived_stands_on_the_sheet_with_its_reason() -> None:
    machine = all_good()
    waived = replace(shown("pad", "waived", 20), why=" sold as it is ")
    machine = replace(machine, lines={**machine.lines, "pad": waived})

    assert handover.open_points(stands(machine).values()) == (
        "pad waived (sold as it is)",
    )


def test_readings_are_those_of_good_lines() -> None:
    machine = all_good()
    (wear,) = [line for line in LINES if line.reads == "wear"]

    def with_wear(told: LineShown) -> Unit:
        return replace(
            machine, lines={**machine.lines, wear.name: replace(told, value="91 %")}
        )

    assert (
        handover.readings(stands(with_wear(shown(wear.name, "good", 20))).values()).wear
        == "91 %"
    )
    assert (
        handover.readings(stands(with_wear(shown(wear.name, "bad", 20))).values()).wear
        == ""
    )


def test_a_signature_falls_with_a_repair_that_makes_lines_stale() -> None:
    signed = Signature(by="JT", at="", seq=15, record="r15")
    sound = replace(all_good(), signature=signed)
    repaired = replace(all_good((worked(20, "keyboard"),)), signature=signed)

    assert handover.signature_that_stands(sound, [*stands(sound).values()]) == signed
    assert (
        handover.signature_that_stands(repaired, [*stands(repaired).values()]) is None
    )


def test_a_repair_before_the_signature_leaves_it_its_power() -> None:
    signed = Signature(by="JT", at="", seq=15, record="r15")
    machine = replace(all_good((worked(12, "keyboard"),)), signature=signed)

    assert (
        handover.signature_that_stands(machine, [*stands(machine).values()]) == signed
    )
