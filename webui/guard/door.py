"""The door of a shop on the network: passphrases, the sessions they open, and wrong tries.

All of it stands in one file of the shop folder that its owner alone can read. It is no part of backups and exports:
a passphrase set again is better than one that travels.
"""

from __future__ import annotations

import hashlib
import ipaddress
import math
import os
import secrets
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from kb.base.clock import Clock, utc_now
from kb.base.trouble import Refusal, Trouble
from webui.guard import passphrase as phrases

FILE = "door.db"
DAY = 24 * 3600.0
#: Checks at once: each costs memory and a third of a second, so more would let strangers slow the bench down.
CHECKS_AT_ONCE = 2

_TABLES = """
CREATE TABLE IF NOT EXISTS passphrase (may TEXT PRIMARY KEY, hash TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS session (token TEXT PRIMARY KEY, may TEXT NOT NULL, ends REAL NOT NULL);
CREATE TABLE IF NOT EXISTS failure (who TEXT PRIMARY KEY, count INTEGER NOT NULL, last REAL NOT NULL);
"""


class Right(StrEnum):
    """What a passphrase is good for; who may write may read."""

    READ = "read"
    WRITE = "write"


#: How long a session lasts, in seconds; a screen on the wall is not signed in every month.
LASTS = {Right.WRITE: 30 * DAY, Right.READ: 365 * DAY}


class DoorTrouble(Trouble):
    """The file of passphrases cannot be used; nobody gets in until it is mended."""


class WrongPassphrase(Exception):
    """The passphrase is not one of this shop's."""


class TooSoon(Exception):
    """Too many wrong tries, or too many checks at once: `seconds` until the next one is looked at."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"wait {seconds} s")
        self.seconds = seconds


@dataclass(frozen=True, slots=True)
class Backoff:
    """After `free` wrong tries each further one costs twice the wait, up to `longest` seconds.

    The count is forgotten `memory` seconds after the last wrong try.
    """

    free: int
    longest: float
    memory: float

    def wait(self, count: int, ago: float) -> float:
        """Seconds still to wait, with that many wrong tries of which the last was `ago` seconds ago.

        >>> rule = Backoff(free=5, longest=900.0, memory=DAY)
        >>> rule.wait(5, 0.0), rule.wait(8, 1.0), rule.wait(99, 0.0)
        (0.0, 3.0, 900.0)
        """
        if count <= self.free or ago < 0 or ago >= self.memory:
            return 0.0
        return max(min(2.0 ** min(count - self.free - 1, 30), self.longest) - ago, 0.0)


#: For one address, and for all together so that many addresses are no way round it.
ONE_ADDRESS = Backoff(free=5, longest=900.0, memory=DAY)
EVERYBODY = Backoff(free=60, longest=30.0, memory=3600.0)
_ALL = "everybody"


class Door:
    """The door of one shop; safe to be used from several threads and processes."""

    def __init__(self, shop: Path, clock: Clock = utc_now) -> None:
        self.path = shop / FILE
        self._clock = clock
        self._checks = threading.BoundedSemaphore(CHECKS_AT_ONCE)

    def is_set(self, right: Right = Right.WRITE) -> bool:
        """Whether a passphrase for this right has been set."""
        if not self.path.exists():
            return False
        with self._open() as file:
            return file.execute("SELECT 1 FROM passphrase WHERE may = ?", (right,)).fetchone() is not None

    def set_passphrase(self, right: Right, passphrase: str) -> int:
        """Set or change a passphrase; gives how many sessions that ended, which is all of them.

        Raises Refusal for one that is too short, too long, or the same as that of the other right.
        """
        given = phrases.acceptable(passphrase)
        with self._open() as file:
            others = file.execute("SELECT hash FROM passphrase WHERE may <> ?", (right,)).fetchall()
            if any(phrases.fits(kept, given) for (kept,) in others):
                raise Refusal("reading and writing need different passphrases; choose another one")
            file.execute("INSERT OR REPLACE INTO passphrase VALUES (?, ?)", (right, phrases.hashed(given)))
            return file.execute("DELETE FROM session").rowcount

    def remove_reading(self) -> int:
        """Take the reading passphrase away; gives how many sessions that ended."""
        with self._open() as file:
            file.execute("DELETE FROM passphrase WHERE may = ?", (Right.READ,))
            return file.execute("DELETE FROM session").rowcount

    def end_sessions(self) -> int:
        """End every session; gives how many there were."""
        with self._open() as file:
            return file.execute("DELETE FROM session").rowcount

    def enter(self, passphrase: str, address: str) -> tuple[str, Right]:
        """A new session for whoever knows a passphrase: its token, which is kept here as a hash only, and its right.

        Raises WrongPassphrase, or TooSoon after too many wrong tries or while too many are checked.
        """
        if not self._checks.acquire(blocking=False):
            raise TooSoon(1)
        try:
            who = _group(address)
            kept = self._try(who)
            for may, known in kept:
                if phrases.fits(known, passphrase):
                    return self._opened(Right(may), known, who), Right(may)
            raise WrongPassphrase
        finally:
            self._checks.release()

    def right_of(self, token: str) -> Right | None:
        """What the session with this token may do; None if there is none or it has ended."""
        if not token or not self.path.exists():
            return None
        with self._open() as file:
            query = "SELECT may FROM session WHERE token = ? AND ends > ?"
            found = file.execute(query, (_digest(token), self._now())).fetchone()
        return Right(found[0]) if found else None

    def leave(self, token: str) -> None:
        """End the session with this token."""
        if token and self.path.exists():
            with self._open() as file:
                file.execute("DELETE FROM session WHERE token = ?", (_digest(token),))

    def _try(self, who: str) -> list[tuple[str, str]]:
        """Count a try as wrong before it is looked at, so that tries sent at once cannot slip through.

        Gives the kept hashes; raises TooSoon.
        """
        now = self._now()
        with self._open() as file:
            file.execute("BEGIN IMMEDIATE")
            file.execute("DELETE FROM failure WHERE last < ?", (now - DAY,))
            for name, rule in ((who, ONE_ADDRESS), (_ALL, EVERYBODY)):
                found = file.execute("SELECT count, last FROM failure WHERE who = ?", (name,)).fetchone()
                count, last = found or (0, now)
                if wait := rule.wait(count, now - last):
                    raise TooSoon(math.ceil(wait))
                count = 1 if now - last >= rule.memory else count + 1
                file.execute("INSERT OR REPLACE INTO failure VALUES (?, ?, ?)", (name, count, now))
            return file.execute("SELECT may, hash FROM passphrase ORDER BY may DESC").fetchall()

    def _opened(self, right: Right, known: str, who: str) -> str:
        """A session for a right; raises WrongPassphrase if the passphrase was changed while it was checked."""
        token, now = secrets.token_urlsafe(32), self._now()
        with self._open() as file:
            file.execute("BEGIN IMMEDIATE")
            if not file.execute("SELECT 1 FROM passphrase WHERE hash = ?", (known,)).fetchone():
                raise WrongPassphrase
            file.execute("DELETE FROM failure WHERE who = ?", (who,))
            file.execute("UPDATE failure SET count = max(count - 1, 0) WHERE who = ?", (_ALL,))
            file.execute("DELETE FROM session WHERE ends <= ?", (now,))
            file.execute("INSERT INTO session VALUES (?, ?, ?)", (_digest(token), right, now + LASTS[right]))
        return token

    def _now(self) -> float:
        return self._clock().timestamp()

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        """The file in one transaction, made for its owner alone if it is not there."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            # The database's journal takes over the mode of the database.
            handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
            try:
                if os.fstat(handle).st_mode & 0o077:
                    os.fchmod(handle, 0o600)
                empty = os.fstat(handle).st_size == 0
            finally:
                os.close(handle)
            with closing(sqlite3.connect(self.path, timeout=5.0)) as file, file:
                if empty:
                    file.executescript(_TABLES)
                yield file
        except sqlite3.OperationalError as error:
            trouble = f"{self.path} cannot be used ({error}); try again, and see that it can be written"
            raise DoorTrouble(trouble) from error
        except (sqlite3.DatabaseError, UnicodeDecodeError, OSError) as error:
            raise DoorTrouble(
                f"{self.path} is damaged or out of reach ({error}); remove it and set the passphrase again "
                "with: benchlore passphrase"
            ) from error


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _group(address: str) -> str:
    """Whose tries are counted together: one IPv4 address, or one IPv6 network, as a visitor has 2**64 addresses there.

    >>> _group("192.0.2.7"), _group("2001:db8::1:2"), _group("::ffff:192.0.2.7")
    ('192.0.2.7', '2001:db8::/64', '192.0.2.7')
    """
    try:
        given = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return "elsewhere"
    if isinstance(given, ipaddress.IPv6Address):
        if given.ipv4_mapped:
            return str(given.ipv4_mapped)
        return str(ipaddress.ip_network((given, 64), strict=False))
    return str(given)
