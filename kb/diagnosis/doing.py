"""The doing of a fix in a few words: the headline that begins with what to do, out of the fix's own text."""

from __future__ import annotations

import re
from collections.abc import Collection

#: What a fix may begin with. A text that begins with none of them is told after "Do this".
_SPELLED_OUT = """
    add adjust allow ask bend bleed blow bring brush buy calibrate change charge check choose clean clear clip
    close collect connect copy correct cut disable discharge drain dry dust ease empty enable end enter erase
    exchange explain fasten file find fit fix flash forbid forget free give glue hand have heat hold hook install
    keep latch lay leave let lift load look loosen lower make mark measure mend move note open order pair paste
    peel plug polish press pull push put raise read rebuild recover refit relabel release remove renew repair
    replace reset reseat restart restore retest return rinse roll route rub run save say scan scrap screw seal
    seat secure select sell send set settle shorten show shut sign slide soak solder stick stop straighten supply
    swap switch take tap tape tell test tie tighten touch try turn unlock unmute unplug unscrew update use vacuum
    wait warm wash wipe write
"""
VERBS = frozenset(_SPELLED_OUT.split())
#: A headline is not longer than this many characters, and not shorter than this many words if the text goes on.
LONGEST, FEWEST = 90, 3


def headline(text: str, verbs: Collection[str] = ()) -> str:
    """What to do, in the first words of a fix's text that begin with a verb; `verbs` are a trade's own.

    >>> headline("battery and charger out. Straighten bent pins with a pick, clean them; let dry.")
    'Straighten bent pins with a pick, clean them'
    >>> headline("clean; put the pads back. Afterwards: no noise."), headline("the right lengths, crosswise")
    ('Clean; put the pads back', 'Do this: the right lengths, crosswise')
    >>> headline("descale it."), headline("descale it.", {"descale"})
    ('Do this: descale it', 'Descale it')
    """
    sentences = _sentences(text)
    first = sentences[0] if sentences else ""
    doing = next(
        (one for one in sentences if _begins_with_verb(one, verbs)), f"Do this: {first}"
    )
    return doing[:1].upper() + _shortened(doing[1:])


def opening(text: str) -> str:
    """The first sentence of a fix's text, in whatever language, no longer than a headline.

    >>> opening("deckel ab. Lüfter reinigen. Afterwards: leise.")
    'Deckel ab. Lüfter reinigen'
    """
    first = next(iter(_sentences(text)), "")
    return first[:1].upper() + _shortened(first[1:])


def _sentences(text: str) -> list[str]:
    """The sentences of a text up to what is checked afterwards, those that are too short joined to the next."""
    told = re.split(r"\bAfterwards:", " ".join(text.split()))[0]
    found: list[str] = []
    for piece in re.split(r"(?<=[.;:])\s", told):
        if found and len(found[-1].split()) < FEWEST:
            found[-1] = f"{found[-1]} {piece}"
        elif piece:
            found.append(piece)
    return [one.rstrip(" .;:") for one in found if one.rstrip(" .;:")]


def _begins_with_verb(sentence: str, verbs: Collection[str]) -> bool:
    first = re.split(r"[^a-z]", sentence.lower(), maxsplit=1)[0]
    return first in VERBS or first in verbs


def _shortened(text: str) -> str:
    """The text up to a comma or blank before it grows too long."""
    if len(text) <= LONGEST:
        return text
    kept = text[:LONGEST]
    at = max(
        kept.rfind(","), kept.rfind(" ") if "," not in kept[LONGEST // 2 :] else -1
    )
    return f"{kept[:at].rstrip(' ,')} ..."
