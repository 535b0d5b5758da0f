"""Connections to servers that a person or a browser named, with no way into the own network.

Every host is looked up here and each of its addresses must be public; the connection then goes to the address that
was looked at, so that a name that answers differently the second time gains nothing. The time is that of all of it
together, from the look-up on: a server that sends a byte now and then is cut off.
"""

import ipaddress
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import Literal
from urllib.parse import SplitResult

import urllib3

PORTS = {"https": 443, "http": 80}

TRANSLATED = ipaddress.IPv6Network("64:ff9b::/96")
GIVEN_OUT = ipaddress.IPv6Network("2000::/3")
# Teredo (RFC 4380), 6to4 (RFC 3056), and examples (RFC 9637, which ipaddress doesn't know everywhere yet).
NOT_GIVEN_OUT = tuple(map(ipaddress.IPv6Network, ("2001::/32", "2002::/16", "3fff::/20")))
RELAYS = ipaddress.IPv4Network("192.88.99.0/24")  # of 6to4, given up by RFC 7526

type Allowed = Callable[[str], bool]


class ReachError(ValueError):
    """A host that isn't connected to, and why: it is unknown, private, or its look-up took too long."""

    def __init__(self, why: Literal["unknown", "private", "slow"]) -> None:
        super().__init__(why)
        self.why = why


def is_public(address: str) -> bool:
    """Whether an IP address is one of the open internet's (IANA special-purpose registries, by ipaddress).

    Of IPv6 only what is given out for it (2000::/3, RFC 4291 section 2.4) without the tunnels, which lead to an
    address of the other kind; behind a translator (64:ff9b::/96, RFC 6052) that other address decides.
    """
    parsed = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(parsed, ipaddress.IPv6Address):
        inner = _inner(parsed)
        if inner is None:
            return parsed in GIVEN_OUT and not any(parsed in net for net in NOT_GIVEN_OUT) and parsed.is_global
        parsed = inner
    return parsed.is_global and not parsed.is_multicast and parsed not in RELAYS


def _inner(address: ipaddress.IPv6Address) -> ipaddress.IPv4Address | None:
    """The IPv4 address that an IPv6 address stands for."""
    if address in TRANSLATED:
        return ipaddress.IPv4Address(int(address) & 0xFFFFFFFF)
    return address.ipv4_mapped


def address_to_reach(parts: SplitResult, allowed: Allowed, end: float) -> str:
    """An IP address of the host, after every one of them was found public. Raises `ReachError`.

    `end` is a moment of the monotonic clock.
    """
    addresses = _addresses(parts.hostname or "", parts.port or PORTS[parts.scheme], end)
    if not addresses or not all(allowed(one) for one in addresses):
        raise ReachError("private")
    return addresses[0]


def _addresses(host: str, port: int, end: float) -> list[str]:
    """What the host's name stands for; asked beside, since nothing limits how long the system looks for it."""
    found: list[str] = []
    failed: list[Exception] = []

    def look_up() -> None:
        try:
            found.extend(str(one[4][0]) for one in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM))
        except (OSError, UnicodeError) as error:
            failed.append(error)

    asking = threading.Thread(target=look_up, daemon=True)
    asking.start()
    asking.join(max(0.0, end - time.monotonic()))
    if asking.is_alive():
        raise ReachError("slow")
    if failed:
        raise ReachError("unknown") from failed[0]
    return found


def host_of(parts: SplitResult) -> str:
    """The host as servers know it: other scripts as IDNA writes them."""
    return (parts.hostname or "").encode("idna").decode("ascii")


def host_header(parts: SplitResult) -> str:
    """The host as a request names it."""
    host = f"[{host_of(parts)}]" if ":" in host_of(parts) else host_of(parts)
    return host + (f":{parts.port}" if parts.port else "")


def pool_to(parts: SplitResult, address: str, end: float, connect: float) -> urllib3.HTTPConnectionPool:
    """Connections to an IP address under a host's name, which its certificate must bear; `connect` in seconds."""
    port = parts.port or PORTS[parts.scheme]
    left = max(0.001, end - time.monotonic())
    timeout = urllib3.Timeout(connect=min(connect, left), read=left)
    if parts.scheme == "https":
        return urllib3.HTTPSConnectionPool(
            address, port, timeout=timeout, retries=False, server_hostname=host_of(parts),
            assert_hostname=host_of(parts), cert_reqs="CERT_REQUIRED",
        )  # fmt: skip
    return urllib3.HTTPConnectionPool(address, port, timeout=timeout, retries=False)


@contextmanager
def cut_off(pool: urllib3.HTTPConnectionPool, end: float) -> Iterator[None]:
    """Break the pool's connections at a moment of the monotonic clock; timeouts begin again with each byte."""
    open_ones: list[socket.socket] = []
    kind = pool.ConnectionCls

    class Noted(kind):  # type: ignore[valid-type,misc]  # whichever the pool makes
        """A connection of which a second handle is kept: it lets go of the first for TLS and at an answer's end."""

        def _new_conn(self) -> socket.socket:
            plain: socket.socket = super()._new_conn()
            open_ones.append(plain.dup())
            return plain

    def cut() -> None:
        for one in open_ones:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    pool.ConnectionCls = Noted
    timer = threading.Timer(max(0.0, end - time.monotonic()), cut)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        for one in open_ones:
            one.close()
