"""Under which names the pages are reached: the Host header read strictly, and the names this computer answers to.

A foreign name is refused, so that a page elsewhere cannot make a browser take this server for its own (DNS rebinding).
"""

from __future__ import annotations

import ipaddress
import re
import socket
from contextlib import suppress

#: Names under which a browser on this computer reaches the pages.
LOOPBACK = ("localhost", "127.0.0.1", "::1")

_HEADER = re.compile(
    r"(?:\[([0-9a-f:.]{2,45})\]|([a-z0-9_.-]{1,253}))(?::([0-9]{1,5}))?",
    re.ASCII | re.IGNORECASE,
)
_NAME = re.compile(r"(?!-)[a-z0-9_-]{1,63}(?<!-)(?:\.(?!-)[a-z0-9_-]{1,63}(?<!-))*")


def named(header: str) -> str | None:
    """The name or address in a Host header in its one spelling, None for anything that is not `name` or `name:port`.

    >>> named("Localhost:8377"), named("[0:0::1]:8377"), named("192.0.2.7"), named("bench.local.")
    ('localhost', '::1', '192.0.2.7', 'bench.local')
    >>> named("user@localhost"), named("::1"), named("127.1"), named("localhost:99999"), named("a, b"), named("")
    (None, None, None, None, None, None)
    """
    match = _HEADER.fullmatch(header)
    if match is None or int(match[3] or "0") > 65535:
        return None
    return plain(match[1] or match[2]) if match[2] or _is_v6(match[1]) else None


def plain(host: str) -> str | None:
    """A bare name or address in its one spelling, None if it is neither.

    >>> plain("::"), plain("2001:DB8:0::7"), plain("bench_2"), plain("1.2.3"), plain("a..b"), plain("0.0.0.0:80")
    ('::', '2001:db8::7', 'bench_2', None, None, None)
    """
    with suppress(ValueError):
        return str(ipaddress.ip_address(host))
    name = host.lower().removesuffix(".")
    if not _NAME.fullmatch(name) or name.rpartition(".")[2].isdigit():
        return None
    return name


def is_loopback(host: str) -> bool:
    """Whether listening there is out of reach for other computers.

    >>> [is_loopback(host) for host in ("localhost", "127.0.0.2", "::1", "0.0.0.0", "::")]
    [True, True, True, False, False]
    """
    with suppress(ValueError):
        return ipaddress.ip_address(host).is_loopback
    return host.lower() == "localhost"


def answered(host: str) -> tuple[str, ...]:
    """The names that browsers may use when this host is listened on: on a network, all names of this computer."""
    if is_loopback(host):
        return tuple(dict.fromkeys((*LOOPBACK, host)))
    name = socket.gethostname().lower()
    names = [*LOOPBACK, name, f"{name}.local", f"{name}.lan", *_own_addresses(name)]
    if host not in ("0.0.0.0", "::"):
        names.append(host)
    return tuple(dict.fromkeys(filter(None, map(plain, names))))


def _is_v6(text: str) -> bool:
    with suppress(ValueError):
        return bool(ipaddress.IPv6Address(text))
    return False


def _own_addresses(name: str) -> list[str]:
    """The addresses of this computer as its own resolver and its default routes give them."""
    found = set()
    with suppress(OSError):
        found |= {
            str(info[4][0]).partition("%")[0] for info in socket.getaddrinfo(name, None)
        }
    # Addresses for documentation (RFC 5737, RFC 3849): connecting a datagram socket sends nothing.
    for family, far in (
        (socket.AF_INET, "192.0.2.1"),
        (socket.AF_INET6, "2001:db8::1"),
    ):
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, 9))
            found.add(str(probe.getsockname()[0]))
    return sorted(found)
