"""Serves feeds: one query for a program that has the present version, two for one that hasn't.

No session, no cookie, no negotiation: the address is the whole secret. One that was stopped, replaced or lost to
its owner answers with an emptied calendar for two weeks, so that phones drop what they hold; everything else that
isn't a running feed gets the same plain 404. What is asked for in vain too often from one network address gets 429
for a while; a right address is never slowed down, because calendar services fetch for many people from few
addresses.
"""

import datetime as dt
import hashlib
import ipaddress
import re
from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock

from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db import connection
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import http_date
from django.views.decorators.csrf import csrf_exempt

from schedule.feeds.build import EMPTY_AFTER_END, emptied_feed, head_and_rest, source_line
from schedule.feeds.models import FeedBody, FormerAddress
from schedule.feeds.services.feeds import NOTE_AGAIN, PREFIX, feed_address, feed_note_fetch, secret_hash
from schedule.feeds.services.versions import feed_forget, feed_refresh

WELL_FORMED = re.compile(rf"{PREFIX}[\w-]{{43}}", re.ASCII)
ATTEMPTS = 3
MISSES_ALLOWED = 20
MISSES_SECONDS = 60
LONGEST_PROGRAM = 120
NOT_PRINTED = re.compile(r"[^\x20-\x7e]+")
HEADERS = {
    "Cache-Control": "private, no-cache",
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex",
}
# Written out, because putting a query together costs Django five times what the database needs to answer it, and a
# matching tag costs nothing else.
SERVED = """
    SELECT f.id, f.site, f.version, f.body_hash, f.changes, f.built_changes, f.is_open,
           f.modified_at, f.built_until, f.last_fetched_at, f.stopped_at, f.closed_at, p.is_active
    FROM schedule_feed f JOIN accounts_person p ON p.id = f.owner_id
    WHERE f.token_hash = %s
"""


@dataclass(frozen=True, slots=True)
class Served:
    """What of a feed's row decides the answer."""

    pk: int
    site: str
    version: int
    body_hash: str
    changes: int
    built_changes: int
    is_open: bool
    modified_at: dt.datetime | None
    built_until: dt.datetime | None
    last_fetched_at: dt.datetime | None
    stopped_at: dt.datetime | None
    closed_at: dt.datetime | None
    has_owner: bool

    def is_current(self, now: dt.datetime) -> bool:
        """Whether the version still shows how things stand; a stopped one doesn't change anymore."""
        if self.stopped_at is not None or not self.has_owner:
            return self.stopped_at is not None or self.closed_at is not None
        return self.built_changes == self.changes and self.built_until is not None and now < self.built_until

    @property
    def runs(self) -> bool:
        """Whether it shows what is in force."""
        return self.stopped_at is None and self.is_open and self.has_owner

    @property
    def ended_at(self) -> dt.datetime | None:
        """Since when it doesn't run, where that is known."""
        return self.stopped_at or self.closed_at


class BodyStore:
    """Bytes by feed and version in this process's memory, the least used thrown out first. The database has all."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self._bytes = 0
        self._kept: OrderedDict[tuple[int, str], tuple[bytes, bytes]] = OrderedDict()
        self._lock = Lock()

    def get(self, key: tuple[int, str]) -> tuple[bytes, bytes] | None:
        """What is kept under a key."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: tuple[int, str], body: bytes) -> tuple[bytes, bytes]:
        """Keep a body in two parts, and none of the same feed's earlier ones."""
        parts = head_and_rest(body)
        with self._lock:
            for old in [one for one in self._kept if one[0] == key[0]]:
                self._bytes -= sum(map(len, self._kept.pop(old)))
            self._kept[key] = parts
            self._bytes += len(body)
            while self._bytes > self.most_bytes and len(self._kept) > 1:
                _, dropped = self._kept.popitem(last=False)
                self._bytes -= sum(map(len, dropped))
        return parts


bodies = BodyStore(64 * 1024 * 1024)


@csrf_exempt
@login_not_required
def feed_ics(request: HttpRequest, secret: str) -> HttpResponse:
    """The feed of an address."""
    if request.method not in ("GET", "HEAD"):
        return HttpResponseNotAllowed(["GET", "HEAD"])
    now = timezone.now()
    for _ in range(ATTEMPTS):
        feed = _find(secret, now)
        if feed is None or not feed.runs:
            ended_at = feed.ended_at if feed is not None else _replaced_at(secret)
            return _emptied(request) if _is_fresh(ended_at, now) else _missed(request)
        answer = _answer(request, feed, secret)
        if answer is not None:
            _note_fetch(feed, request, now)
            return answer
        # Another process replaced the version between two queries, or its bytes are gone.
        feed_forget(feed_id=feed.pk)
    return HttpResponse(
        "Try again\n", status=503, content_type="text/plain", headers={**HEADERS, "Retry-After": "5"}
    )


def _is_fresh(ended_at: dt.datetime | None, now: dt.datetime) -> bool:
    """Whether calendars may still hold what an address showed that ended then."""
    return ended_at is not None and now < ended_at + EMPTY_AFTER_END


def _replaced_at(secret: str) -> dt.datetime | None:
    """When a feed was given another address than this one."""
    if not WELL_FORMED.fullmatch(secret):
        return None
    rows = FormerAddress.objects.filter(token_hash=secret_hash(secret))
    return rows.values_list("ended_at", flat=True).first()


def _emptied(request: HttpRequest) -> HttpResponse:
    """A calendar without events. It names nothing: the address may be in anybody's hands."""
    body = emptied_feed()
    etag = f'"{hashlib.sha256(body).hexdigest()[:40]}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        answer = HttpResponse(content_type="text/calendar; charset=utf-8")
        answer.headers["Content-Length"] = str(len(body))
        if request.method == "GET":
            answer.content = body
    for name, value in {**HEADERS, "ETag": etag}.items():
        answer.headers[name] = value
    return answer


def _answer(request: HttpRequest, feed: Served, secret: str) -> HttpResponse | None:
    """304, or the bytes; None if the bytes of this version aren't there."""
    line = _source(feed.site, secret)
    etag = f'"{hashlib.sha256(feed.body_hash.encode() + line).hexdigest()[:40]}"'
    modified = int(feed.modified_at.timestamp()) if feed.modified_at else None
    # If-None-Match decides alone where it is sent (RFC 9110 section 13.2.2).
    answer = get_conditional_response(request, etag=etag, last_modified=modified)
    if answer is None:
        parts = _parts(feed)
        if parts is None:
            return None
        answer = HttpResponse(content_type="text/calendar; charset=utf-8")
        answer.headers["Content-Length"] = str(len(parts[0]) + len(line) + len(parts[1]))
        if request.method == "GET":
            answer.content = parts[0] + line + parts[1]
    for name, value in HEADERS.items():
        answer.headers[name] = value
    answer.headers["ETag"] = etag
    if modified is not None:
        answer.headers["Last-Modified"] = http_date(modified)
    return answer


def _find(secret: str, now: dt.datetime) -> Served | None:
    """The feed of an address, brought up to date if anything was changed."""
    if not WELL_FORMED.fullmatch(secret):
        return None
    hashed = secret_hash(secret)
    found = _served(hashed)
    if found is not None and not found.is_current(now):
        feed_refresh(feed_id=found.pk)
        found = _served(hashed)
    return found


def _served(hashed: str) -> Served | None:
    with connection.cursor() as cursor:
        cursor.execute(SERVED, [hashed])
        row = cursor.fetchone()
    if row is None:
        return None
    pk, site, version, body_hash, changes, built_changes, is_open, *rest = row
    modified, until, fetched, stopped, closed, has_owner = rest
    return Served(
        pk=pk,
        site=site,
        version=version,
        body_hash=body_hash,
        changes=changes,
        built_changes=built_changes,
        is_open=bool(is_open),
        modified_at=_aware(modified),
        built_until=_aware(until),
        last_fetched_at=_aware(fetched),
        stopped_at=_aware(stopped),
        closed_at=_aware(closed),
        has_owner=bool(has_owner),
    )


def _aware(moment: dt.datetime | None) -> dt.datetime | None:
    """SQLite keeps times in UTC without saying so."""
    return moment.replace(tzinfo=dt.UTC) if moment is not None and moment.tzinfo is None else moment


@lru_cache(maxsize=1000)
def _source(site: str, secret: str) -> bytes:
    return source_line(feed_address(site, secret))


def _parts(feed: Served) -> tuple[bytes, bytes] | None:
    key = (feed.pk, feed.body_hash)
    parts = bodies.get(key)
    if parts is None:
        kept = FeedBody.objects.filter(feed_id=feed.pk, version=feed.version).first()
        parts = bodies.put(key, bytes(kept.content)) if kept is not None else None
    return parts


def _note_fetch(feed: Served, request: HttpRequest, now: dt.datetime) -> None:
    """When it was fetched last, and by which program; at most once an hour."""
    if feed.last_fetched_at is not None and now - feed.last_fetched_at < NOTE_AGAIN:
        return
    program = NOT_PRINTED.sub(" ", request.headers.get("User-Agent", "")).strip()[:LONGEST_PROGRAM]
    feed_note_fetch(feed_id=feed.pk, now=now, program=program or "not named")


def _missed(request: HttpRequest) -> HttpResponse:
    """The same answer for unknown ones and those that ended long ago; 429 where it is asked for again and again."""
    key = f"feed-misses:{_network(request.META.get('REMOTE_ADDR', ''))}"
    cache.add(key, 0, MISSES_SECONDS)
    try:
        misses = cache.incr(key)
    except ValueError:
        misses = 1  # It ran out between the two lines.
    headers = {**HEADERS, "Cache-Control": "no-store"}
    if misses > MISSES_ALLOWED:
        headers["Retry-After"] = str(MISSES_SECONDS)
        return HttpResponse("Too many requests\n", status=429, content_type="text/plain", headers=headers)
    return HttpResponse("Not found\n", status=404, content_type="text/plain", headers=headers)


def _network(address: str) -> str:
    """One household or school: the address, of IPv6 its first 64 bits."""
    try:
        parsed = ipaddress.ip_address(address)
    except ValueError:
        return "unknown"
    if parsed.version == 4:
        return str(parsed)
    return str(ipaddress.ip_network((parsed, 64), strict=False))
