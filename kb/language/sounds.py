"""Sounds of words, roughly: by them several words that were heard for one of the trade are known again."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from functools import lru_cache

#: Letters of a word that may have been heard as several, and the consonants of its sound.
SHORTEST_HEARD, SHORTEST_SOUND = 6, 3

_RULES = (
    (re.compile(r"^(?:kn|gn|pn)"), "n"),
    (re.compile(r"^wr"), "r"),
    (re.compile(r"^wh"), "w"),
    (re.compile(r"gh(?=t|$)"), ""),
    (re.compile(r"ph"), "f"),
    (re.compile(r"th"), "0"),
    (re.compile(r"c(?=[eiy])"), "s"),
    (re.compile(r"x"), "ks"),
    (re.compile(r"tch|ch|sh"), "x"),
    (re.compile(r"z"), "s"),
    (re.compile(r"ck|[cq]"), "k"),
    (re.compile(r"g(?=[eiy])"), "j"),
    (re.compile(r"v"), "f"),
    (re.compile(r"(?<=.)[aeiouyhw]"), ""),
    (re.compile(r"(.)\1+"), r"\1"),
)


@lru_cache(maxsize=10_000)
def sound(letters: str) -> str:
    """How letters sound, roughly: the consonants of English, those that sound alike written alike.

    >>> sound("keyboard"), sound("keybored"), sound("batteryhe"), sound("speakers"), sound("speecurs")
    ('kbrd', 'kbrd', 'btr', 'spkrs', 'spkrs')
    """
    for pattern, instead in _RULES:
        letters = pattern.sub(instead, letters)
    return letters


def sounds(same: Mapping[tuple[str, ...], str]) -> dict[str, list[str]]:
    """By their sound the longer single words of the trade, each stem with the trade's word; none that sound alike.

    >>> sounds({("keyboard",): "KEYBOARD", ("port",): "SOCKET", ("usb", "port"): "USB"})
    {'kbrd': ['keyboard', 'keyboard']}
    """
    found: defaultdict[str, dict[str, str]] = defaultdict(dict)
    for phrase, concept in same.items():
        if not phrase:
            continue
        word = phrase[0]
        if len(phrase) == 1 and word.isalpha() and len(word) >= SHORTEST_HEARD:
            found[sound(word)][word] = concept.lower()
    alone = {}
    for heard, concepts in found.items():
        means_one_thing = len(set(concepts.values())) == 1
        if means_one_thing and len(heard) >= SHORTEST_SOUND:
            alone[heard] = list(min(concepts.items()))
    return alone
