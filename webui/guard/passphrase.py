"""A passphrase kept as a scrypt hash: slow to guess, never readable."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import unicodedata

from kb.base.trouble import Refusal
from kb.base.worded import worded

#: Shortest and longest passphrase, in characters.
SHORTEST, LONGEST = 10, 200
#: Cost of a check: N, r and p of scrypt (RFC 7914); about 32 MiB and a third of a second.
#: The figures are those of the OWASP password storage advice (from memory).
COST = (2**15, 8, 3)
_MEMORY = 64 * 1024 * 1024


def acceptable(passphrase: str) -> str:
    """The passphrase in the one form that is hashed (Unicode NFKC); raises Refusal for one too short or too long."""
    given = normal(passphrase)
    if not SHORTEST <= len(given) <= LONGEST:
        raise Refusal(
            worded(
                "a passphrase has {shortest} to {longest} characters; four or five words are easy to keep",
                shortest=SHORTEST,
                longest=LONGEST,
            )
        )
    return given


def normal(passphrase: str) -> str:
    """The passphrase as every keyboard gives it: composed letters, no lone surrogates."""
    return (
        unicodedata.normalize("NFKC", passphrase)
        .encode("utf-8", "replace")
        .decode("utf-8")
    )


def hashed(passphrase: str, cost: tuple[int, int, int] = COST) -> str:
    """A salted scrypt hash with its cost beside it."""
    salt = secrets.token_hex(16)
    return (
        f"scrypt:{cost[0]}:{cost[1]}:{cost[2]}${salt}${_scrypt(passphrase, salt, cost)}"
    )


def fits(kept: str, passphrase: str) -> bool:
    """Whether this is the passphrase of that hash; False for a hash that cannot be read.

    >>> fits(hashed("five plain words in row", (16, 1, 1)), "five plain words in row")
    True
    """
    try:
        how, salt, known = kept.split("$")
        name, n, r, p = how.split(":")
        if name != "scrypt":
            return False
        found = _scrypt(passphrase, salt, (int(n), int(r), int(p)))
    except ValueError:
        return False
    return hmac.compare_digest(found.encode(), known.encode("utf-8", "replace"))


def _scrypt(passphrase: str, salt: str, cost: tuple[int, int, int]) -> str:
    n, r, p = cost
    raw = normal(passphrase)[:LONGEST].encode()
    return hashlib.scrypt(
        raw, salt=salt.encode(), n=n, r=r, p=p, maxmem=_MEMORY, dklen=32
    ).hex()
