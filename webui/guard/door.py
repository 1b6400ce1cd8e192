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
import stat
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from kb.base import durable
from kb.base.clock import Clock, utc_now
from kb.base.trouble import Refusal, Trouble
from kb.base.worded import worded
from webui.guard import passphrase as phrases

FILE = "door.db"
DAY = 24 * 3600.0
#: Checks at once: each costs memory and a third of a second, so more would let strangers slow the bench down.
CHECKS_AT_ONCE = 2
#: Checks at once of browsers that signed in here before; kept apart, so that no stranger takes their place.
CHECKS_OF_KNOWN = 1
#: Seconds for which a browser that signed in is known.
KNOWN_LASTS = 365 * DAY

#: What this program lays the file out as; a file without tables, or with half of them, says 0.
_LAYOUT = 1
_TABLES = (
    "CREATE TABLE IF NOT EXISTS passphrase (may TEXT PRIMARY KEY, hash TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS session (token TEXT PRIMARY KEY, may TEXT NOT NULL, ends REAL NOT NULL)",
    "CREATE TABLE IF NOT EXISTS failure (who TEXT PRIMARY KEY, count INTEGER NOT NULL, last REAL NOT NULL)",
    "CREATE TABLE IF NOT EXISTS browser (token TEXT PRIMARY KEY, ends REAL NOT NULL)",
)


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
#: Under which names a try is counted, and the rule of each.
Counted = tuple[tuple[str, Backoff], ...]


class Door:
    """The door of one shop; safe to be used from several threads and processes."""

    def __init__(self, shop: Path, clock: Clock = utc_now) -> None:
        self.path = shop / FILE
        self._clock = clock
        self._checks = threading.BoundedSemaphore(CHECKS_AT_ONCE)
        self._known_checks = threading.BoundedSemaphore(CHECKS_OF_KNOWN)

    def is_set(self, right: Right = Right.WRITE) -> bool:
        """Whether a passphrase for this right has been set."""
        if not self.path.exists():
            return False
        with self._open() as file:
            return (
                file.execute(
                    "SELECT 1 FROM passphrase WHERE may = ?", (right,)
                ).fetchone()
                is not None
            )

    def set_passphrase(self, right: Right, passphrase: str) -> int:
        """Set or change a passphrase; gives how many sessions that ended, which is all of them.

        Raises Refusal for one that is too short, too long, or the same as that of the other right.
        """
        given = phrases.acceptable(passphrase)
        with self._open() as file:
            others = file.execute(
                "SELECT hash FROM passphrase WHERE may <> ?", (right,)
            ).fetchall()
            if any(phrases.fits(kept, given) for (kept,) in others):
                raise Refusal(
                    worded(
                        "reading and writing need different passphrases; choose another one"
                    )
                )
            file.execute(
                "INSERT OR REPLACE INTO passphrase VALUES (?, ?)",
                (right, phrases.hashed(given)),
            )
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

    def enter(
        self, passphrase: str, address: str, browser: str = ""
    ) -> tuple[str, Right]:
        """A new session for whoever knows a passphrase: its token, which is kept here as a hash only, and its right.

        A `browser` that is known is counted by itself and not with its address or with everybody, so that no number
        of strangers can keep it out. Raises WrongPassphrase, or TooSoon after too many wrong tries or while too many
        are checked; whoever has to wait takes no place among those that are checked.
        """
        known = self.knows(browser)
        counted = (
            ((_digest(browser), ONE_ADDRESS),)
            if known
            else ((group(address), ONE_ADDRESS), (_ALL, EVERYBODY))
        )
        self._wait_told(counted)
        checks = self._known_checks if known else self._checks
        if not checks.acquire(blocking=False):
            raise TooSoon(1)
        try:
            for may, hashed in self._try(counted):
                if phrases.fits(hashed, passphrase):
                    return self._opened(Right(may), hashed, counted), Right(may)
            raise WrongPassphrase
        finally:
            checks.release()

    def knows(self, browser: str) -> bool:
        """Whether this is the token of a browser that signed in here before."""
        if not browser or not self.path.exists():
            return False
        with self._open() as file:
            query = "SELECT 1 FROM browser WHERE token = ? AND ends > ?"
            return (
                file.execute(query, (_digest(browser), self._now())).fetchone()
                is not None
            )

    def remember_browser(self) -> str:
        """A token by which the browser that just signed in is known for a year; kept here as a hash only."""
        token = secrets.token_urlsafe(32)
        with self._open() as file:
            file.execute("DELETE FROM browser WHERE ends <= ?", (self._now(),))
            file.execute(
                "INSERT INTO browser VALUES (?, ?)",
                (_digest(token), self._now() + KNOWN_LASTS),
            )
        return token

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

    def _wait_told(self, counted: Counted) -> None:
        """Raise TooSoon for whoever has to wait still; nothing is counted."""
        with self._open() as file:
            for name, rule in counted:
                self._passed(file, name, rule)

    def _passed(self, file: sqlite3.Connection, name: str, rule: Backoff) -> int:
        """How many wrong tries count for a name; raises TooSoon if they make the next one wait."""
        now = self._now()
        found = file.execute(
            "SELECT count, last FROM failure WHERE who = ?", (name,)
        ).fetchone()
        count, last = found or (0, now)
        if wait := rule.wait(count, now - last):
            raise TooSoon(math.ceil(wait))
        return 0 if now - last >= rule.memory else int(count)

    def _try(self, counted: Counted) -> list[tuple[str, str]]:
        """Count a try as wrong before it is looked at, so that tries sent at once cannot slip through.

        Gives the kept hashes; raises TooSoon.
        """
        now = self._now()
        with self._open() as file:
            file.execute("BEGIN IMMEDIATE")
            file.execute("DELETE FROM failure WHERE last < ?", (now - DAY,))
            for name, rule in counted:
                count = self._passed(file, name, rule) + 1
                file.execute(
                    "INSERT OR REPLACE INTO failure VALUES (?, ?, ?)",
                    (name, count, now),
                )
            return file.execute(
                "SELECT may, hash FROM passphrase ORDER BY may DESC"
            ).fetchall()

    def _opened(self, right: Right, known: str, counted: Counted) -> str:
        """A session for a right; raises WrongPassphrase if the passphrase was changed while it was checked."""
        token, now = secrets.token_urlsafe(32), self._now()
        with self._open() as file:
            file.execute("BEGIN IMMEDIATE")
            if not file.execute(
                "SELECT 1 FROM passphrase WHERE hash = ?", (known,)
            ).fetchone():
                raise WrongPassphrase
            for name, _ in counted:
                kept = "max(count - 1, 0)" if name == _ALL else "0"
                file.execute(
                    f"UPDATE failure SET count = {kept} WHERE who = ?", (name,)
                )
            file.execute("DELETE FROM session WHERE ends <= ?", (now,))
            file.execute(
                "INSERT INTO session VALUES (?, ?, ?)",
                (_digest(token), right, now + LASTS[right]),
            )
        return token

    def _now(self) -> float:
        return self._clock().timestamp()

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        """The file in one transaction, made for its owner alone if it is not there."""
        try:
            self._make_private()
            with closing(sqlite3.connect(self.path, timeout=5.0)) as file, file:
                # as the history: what was acknowledged outlives a power cut
                file.execute("PRAGMA synchronous = EXTRA")
                if file.execute("PRAGMA user_version").fetchone()[0] < _LAYOUT:
                    _lay_out(file)
                yield file
        except sqlite3.OperationalError as error:
            trouble = worded(
                "{path} cannot be used ({error}); try again, and see that it can be written",
                path=self.path,
                error=error,
            )
            raise DoorTrouble(trouble) from error
        except (sqlite3.DatabaseError, UnicodeDecodeError, OSError) as error:
            raise DoorTrouble(
                worded(
                    "{path} is damaged or out of reach ({error}); remove it and set the passphrase again with: "
                    "benchlore passphrase",
                    path=self.path,
                    error=error,
                )
            ) from error

    def _make_private(self) -> None:
        """Make the file if it is not there, and see that its owner alone can read it; the journal takes over its mode.

        A file that is there is never opened here: closing it would drop the locks of every other connection that
        this process has to it.
        """
        try:
            mode = self.path.lstat().st_mode
        except FileNotFoundError:
            durable.make_folder(self.path.parent)
            fresh = durable.beside(self.path)
            fresh.unlink(missing_ok=True)
            os.close(os.open(fresh, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            try:
                with suppress(FileExistsError):  # another process was quicker
                    durable.place_new(fresh, self.path)
            finally:
                fresh.unlink(missing_ok=True)
            return
        if not stat.S_ISREG(mode):
            raise OSError("it is no file")
        if mode & 0o077:
            self.path.chmod(0o600)


def _lay_out(file: sqlite3.Connection) -> None:
    """Make the tables that are missing, all of them or none."""
    file.execute("BEGIN IMMEDIATE")
    for table in _TABLES:
        file.execute(table)
    file.execute(f"PRAGMA user_version = {_LAYOUT}")
    file.commit()


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def group(address: str) -> str:
    """Whose tries are counted together: one IPv4 address, or one IPv6 network, as a visitor has 2**64 addresses there.

    >>> group("192.0.2.7"), group("2001:db8::1:2"), group("::ffff:192.0.2.7")
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
