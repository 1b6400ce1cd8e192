"""Ids that never clash between shops: 12 characters without look-alikes, 60 bits."""

from __future__ import annotations

import hashlib
import secrets

#: 32 digits and letters; i, l, o and u are left out, so that nothing is misread from a label.
ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"

#: Characters of an id; 5 bits each.
LENGTH = 12


def random_id() -> str:
    """A new id from the system's random source."""
    return _spelled(secrets.randbits(5 * LENGTH))


def derived_id(content: str) -> str:
    """The id that belongs to a content: the first 60 bits of its SHA-256, most significant first.

    SHA-256 of "abc" begins ba7816bf 8f01cfea (FIPS 180-2, appendix B.1); its first five bits are
    10111 = 23, the 24th sign of the alphabet.

    >>> derived_id("abc")
    'q9w1dfwf077y'
    """
    return _spelled(
        int.from_bytes(hashlib.sha256(content.encode("utf-8")).digest()[:8], "big") >> 4
    )


def token_beside(token: str, what: str) -> str:
    """The token of a record that is written beside the one with that token; empty if that one has none.

    >>> token_beside("3f9a", "job"), token_beside("", "job")
    ('3f9a-job', '')
    """
    return f"{token}-{what}" if token else ""


def _spelled(number: int) -> str:
    return "".join(
        [ALPHABET[number >> shift & 31] for shift in range(5 * (LENGTH - 1), -1, -5)]
    )
