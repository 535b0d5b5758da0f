"""Fetches a calendar from an address that a person gave, by the rules of `reach`: no way into the own network.

Redirects are followed by the same rules, a few times. Size and time are limited, the time of all of it together: a
server that thinks for a while first is waited for. Whoever asks learns nothing of what answered but a sentence.
"""

import time
from urllib.parse import SplitResult, urljoin, urlsplit

import urllib3

from schedule.calendar.published.reach import (
    PORTS,
    Allowed,
    ReachError,
    address_to_reach,
    cut_off,
    host_header,
    is_public,
    pool_to,
)

LARGEST_BYTES = 5_000_000
LONGEST_SECONDS = 20.0
CONNECT_SECONDS = 5.0
MOST_REDIRECTS = 3
REDIRECTS = frozenset({301, 302, 303, 307, 308})
CHUNK = 64 * 1024

NOT_REACHED = "The calendar's server could not be reached. Check the address and try again later."
TOO_SLOW = f"The calendar took longer than {LONGEST_SECONDS:.0f} seconds. Try again later."

NOT_CONNECTED = {
    "slow": TOO_SLOW,
    "unknown": "The calendar's host is unknown. Check the address.",
    "private": "This address is on a private network. Use one that anybody on the internet can reach.",
}


class FetchError(ValueError):
    """A calendar that can't be fetched; the message says why and what to do, and quotes no answer."""


def fetch_calendar(address: str, *, allowed: Allowed = is_public) -> bytes:
    """The bytes behind an http, https or webcal address. Raises `FetchError`. `allowed` judges each IP address."""
    end = time.monotonic() + LONGEST_SECONDS
    place = address.strip()
    for _ in range(MOST_REDIRECTS + 1):
        parts = _parts(place)
        pool = pool_to(parts, _looked_up(parts, allowed, end), end, CONNECT_SECONDS)
        try:
            with cut_off(pool, end):
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
    try:
        return address_to_reach(parts, allowed, end)
    except ReachError as error:
        raise FetchError(NOT_CONNECTED[error.why]) from error


def _asked(pool: urllib3.HTTPConnectionPool, parts: SplitResult, end: float) -> tuple[bytes, str | None]:
    """The answer's bytes, or where it leads on."""
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    headers = {"Host": host_header(parts), "Accept": "text/calendar, */*;q=0.1", "User-Agent": "minutes-and-miles"}
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
