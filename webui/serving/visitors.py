"""The server's visitors: how long each may take, how many come in from one address, how much a stranger may send.

Waitress drops whoever says nothing; a byte now and then kept a connection for ever, and a body was written to the disk
before anybody was asked who sent it. These two classes stand at the places that Waitress names for one's own
(`channel_class`, `parser_class`): a header within `STALLED` seconds, a body no slower than `LEAST_RATE`, and room is
made for who comes by letting go of who has waited longest.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.utilities import RequestEntityTooLarge

#: Seconds until a stalled connection is dropped, and the least rate of a body in bytes a second.
STALLED, LEAST_RATE = 20, 4096
#: The most connections held open at once, all together and from one address.
CONNECTIONS, OF_ONE_ADDRESS = 500, 50
#: File handles that the rest of the program needs: threads with their databases, pages, backups (some 40 were seen).
HANDLES_KEPT = 64


def room_for(each: int, most: int = CONNECTIONS) -> int:
    """How many connections of `each` file handles this process has room for, at most `most` and at least 4.

    The limit of open files is raised first as far as the system lets it be.
    """
    handles = _handles(most * each + HANDLES_KEPT)
    return max(min(most, (handles - HANDLES_KEPT) // each), 4)


def _handles(wanted: int) -> int:
    """How many files this process may open, after asking for so many; as many as are wanted where nothing limits it."""
    if sys.platform != "win32":
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        if resource.RLIM_INFINITY in (soft, hard):
            hard = wanted
        if soft != resource.RLIM_INFINITY and soft < wanted:
            with suppress(ValueError, OSError):
                soft = max(soft, min(wanted, hard))
                resource.setrlimit(
                    resource.RLIMIT_NOFILE,
                    (soft, resource.getrlimit(resource.RLIMIT_NOFILE)[1]),
                )
        if soft != resource.RLIM_INFINITY:
            return resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    return wanted


class Caller(NamedTuple):
    """A connection that can be let go of without breaking an answer off: its address, and since when it waits."""

    address: str
    since: float
    number: int


def let_go_for(
    address: str, waiting: Iterable[Caller], held: int, room: int, of_one: int
) -> Caller | None:
    """Who is let go of so that one more may come in from an address; None if nobody needs to be, or can be.

    The address itself gives way where it has as many as one may have; where all room is taken, the address with the
    most. Of its connections the one that has waited longest goes, so that whoever just came is the last to go.

    >>> two = [Caller("a", 1.0, 7), Caller("a", 2.0, 8)]
    >>> let_go_for("a", two, held=2, room=9, of_one=2)
    Caller(address='a', since=1.0, number=7)
    >>> let_go_for("b", two, held=2, room=9, of_one=2) is None
    True
    """
    known = list(waiting)
    counted = Counter(one.address for one in known)
    if counted[address] >= of_one:
        crowded = address
    elif held >= room and counted:
        crowded = max(counted, key=lambda one: counted[one])
    else:
        return None
    return min(
        (one for one in known if one.address == crowded), key=lambda one: one.since
    )


#: Gives the largest body in bytes that the sender of some headers may send.
Allowance = Callable[[Mapping[str, str]], int]


@dataclass(frozen=True, slots=True)
class Rules:
    """What holds for the visitors of one server.

    `room` and `of_one` are the most connections, all together and from one address.
    """

    allowance: Allowance
    room: int = CONNECTIONS
    of_one: int = OF_ONE_ADDRESS


class _Request(HTTPRequestParser):  # type: ignore[misc]  # Waitress has no types
    """A request that is refused as soon as it is longer than its sender may send."""

    def __init__(self, rules: Rules, adj: Any) -> None:
        super().__init__(adj)
        self._allowance = rules.allowance
        self._allowed: int | None = None

    def received(self, data: bytes) -> int:
        """Take in what came; gives how many bytes of it belong to this request."""
        taken = int(super().received(data))
        if self.headers_finished and self.error is None:
            self._refuse_what_is_too_long()
        return taken

    def _refuse_what_is_too_long(self) -> None:
        size = max(self.content_length, self.body_bytes_received)
        if not size:
            return
        if self._allowed is None:
            self._allowed = self._allowance(self.headers)
        if size > self._allowed:
            self.error = RequestEntityTooLarge(f"exceeds {self._allowed} bytes")
            self.completed = True


class Visitor(HTTPChannel):  # type: ignore[misc]  # Waitress has no types
    """A connection whose patience does not begin anew with every byte."""

    def __init__(  # noqa: PLR0917 - as Waitress calls it
        self, rules: Rules, server: Any, sock: Any, addr: Any, adj: Any, map: Any = None
    ) -> None:
        self._heard = self._begun = time.time()
        others = server.active_channels
        leaves = let_go_for(
            _host(addr), _waiting(others), len(others), rules.room, rules.of_one
        )
        if leaves is not None:
            others[leaves.number].handle_close()
        self.parser_class = lambda given: _Request(rules, given)
        super().__init__(server, sock, addr, adj, map=map)

    def received(self, data: bytes) -> Any:
        """Take in what came, and note when a request began."""
        before = self.request
        found = super().received(data)
        if self.request is not before:
            self._begun = time.time()
        return found

    @property
    def last_activity(self) -> float:
        """Since when this visitor is waited for: a body counts for as long as it should have taken."""
        if self.request is None:
            return self._heard
        return self._begun + float(self.request.body_bytes_received) / LEAST_RATE

    @last_activity.setter
    def last_activity(self, heard: float) -> None:
        self._heard = heard


def _waiting(channels: Mapping[int, Any]) -> list[Caller]:
    """The connections in which no answer is being made."""
    return [
        Caller(_host(channel.addr), channel.last_activity, number)
        for number, channel in channels.items()
        if not channel.requests
    ]


def _host(addr: Any) -> str:
    return str(addr[0]) if addr else ""
