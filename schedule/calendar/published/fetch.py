"""Fetches a calendar from an address that a person gave, with no way into the own network.

Every host is looked up here and each of its addresses must be public; the connection then goes to the address that
was looked at, so that a name that answers differently the second time gains nothing. Redirects are followed by the
same rules, a few times. Size and time are limited, the time of all of it together, from the look-up on: a server
that sends a byte now and then is cut off, one that thinks for a while first is waited for. Whoever asks learns
nothing of what answered but a sentence.
"""

import ipaddress
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from urllib.parse import SplitResult, urljoin, urlsplit

import urllib3

LARGEST_BYTES = 5_000_000
LONGEST_SECONDS = 20.0
CONNECT_SECONDS = 5.0
MOST_REDIRECTS = 3
REDIRECTS = frozenset({301, 302, 303, 307, 308})
CHUNK = 64 * 1024
PORTS = {"https": 443, "http": 80}

NOT_REACHED = "The calendar's server could not be reached. Check the address and try again later."
TOO_SLOW = f"The calendar took longer than {LONGEST_SECONDS:.0f} seconds. Try again later."

TRANSLATED = ipaddress.IPv6Network("64:ff9b::/96")
GIVEN_OUT = ipaddress.IPv6Network("2000::/3")
# Teredo (RFC 4380), 6to4 (RFC 3056), and examples (RFC 9637, which ipaddress doesn't know everywhere yet).
NOT_GIVEN_OUT = tuple(map(ipaddress.IPv6Network, ("2001::/32", "2002::/16", "3fff::/20")))
RELAYS = ipaddress.IPv4Network("192.88.99.0/24")  # of 6to4, given up by RFC 7526

type Allowed = Callable[[str], bool]


class FetchError(ValueError):
    """A calendar that can't be fetched; the message says why and what to do, and quotes no answer."""


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


def fetch_calendar(address: str, *, allowed: Allowed = is_public) -> bytes:
    """The bytes behind an http, https or webcal address. Raises `FetchError`. `allowed` judges each IP address."""
    end = time.monotonic() + LONGEST_SECONDS
    place = address.strip()
    for _ in range(MOST_REDIRECTS + 1):
        parts = _parts(place)
        pool = _pool(parts, _looked_up(parts, allowed, end), end)
        try:
            with _cut_off(pool, end):
                content, onward = _asked(pool, parts, end)
        except (urllib3.exceptions.HTTPError, OSError) as error:
            late = time.monotonic() >= end
            raise FetchError(TOO_SLOW if late else NOT_REACHED) from error
        finally:
            pool.close()
        if onward is None:
            return content
        place = urljoin(place, onward)
    raise FetchError("The address redirects too many times. Use the calendar's own address.")


def calendar_address(text: str) -> str:
    """An address as it is kept: webcal by its other name https. Raises `FetchError`; asks nobody."""
    return _parts(text.strip()).geturl()


def _parts(address: str) -> SplitResult:
    if address.lower().startswith("webcal:"):
        address = "https:" + address[len("webcal:") :]
    try:
        parts = urlsplit(address)
        port = parts.port
    except ValueError as error:
        raise FetchError("This isn't the address of a calendar. It begins with https:// or webcal://.") from error
    if parts.username or parts.password:
        raise FetchError("Leave name and password out of the address; a calendar that asks for them can't be read.")
    if parts.scheme not in PORTS or not parts.hostname:
        raise FetchError("This isn't the address of a calendar. It begins with https:// or webcal://.")
    if port == 0:
        raise FetchError("This isn't the address of a calendar: its port is 0.")
    return parts


def _looked_up(parts: SplitResult, allowed: Allowed, end: float) -> str:
    """An IP address of the host, after every one of them was found public."""
    addresses = _addresses(parts.hostname or "", parts.port or PORTS[parts.scheme], end)
    if not addresses or not all(allowed(one) for one in addresses):
        raise FetchError("This address is on a private network. Use one that anybody on the internet can reach.")
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
        raise FetchError(TOO_SLOW)
    if failed:
        raise FetchError("The calendar's host is unknown. Check the address.") from failed[0]
    return found


def _host(parts: SplitResult) -> str:
    """The host as servers know it: other scripts as IDNA writes them."""
    return (parts.hostname or "").encode("idna").decode("ascii")


def _pool(parts: SplitResult, address: str, end: float) -> urllib3.HTTPConnectionPool:
    port = parts.port or PORTS[parts.scheme]
    left = max(0.001, end - time.monotonic())
    timeout = urllib3.Timeout(connect=min(CONNECT_SECONDS, left), read=left)
    if parts.scheme == "https":
        return urllib3.HTTPSConnectionPool(
            address, port, timeout=timeout, retries=False, server_hostname=_host(parts),
            assert_hostname=_host(parts), cert_reqs="CERT_REQUIRED",
        )  # fmt: skip
    return urllib3.HTTPConnectionPool(address, port, timeout=timeout, retries=False)


@contextmanager
def _cut_off(pool: urllib3.HTTPConnectionPool, end: float) -> Iterator[None]:
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


def _asked(pool: urllib3.HTTPConnectionPool, parts: SplitResult, end: float) -> tuple[bytes, str | None]:
    """The answer's bytes, or where it leads on."""
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    host = f"[{_host(parts)}]" if ":" in _host(parts) else _host(parts)
    host += f":{parts.port}" if parts.port else ""
    headers = {"Host": host, "Accept": "text/calendar, */*;q=0.1", "User-Agent": "minutes-and-miles"}
    answer = pool.request("GET", path, headers=headers, redirect=False, preload_content=False)
    try:
        if answer.status in REDIRECTS and answer.headers.get("Location"):
            return b"", answer.headers["Location"]
        if answer.status != 200:
            raise FetchError(f"The calendar's server answered with status {answer.status}. Check the address.")
        return _read(answer, end), None
    finally:
        answer.close()


def _read(answer: urllib3.BaseHTTPResponse, end: float) -> bytes:
    content = bytearray()
    while chunk := answer.read1(CHUNK, decode_content=True):
        content += chunk
        if len(content) > LARGEST_BYTES:
            raise FetchError(f"The calendar has more than {LARGEST_BYTES:,} bytes. Use one with fewer years.")
    if time.monotonic() >= end:
        # Cut off in the header or the body, which then look as if they had ended.
        raise FetchError(TOO_SLOW)
    return bytes(content)
