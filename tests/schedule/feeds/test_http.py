"""The address of a feed over HTTP: RFC 9110 sections 8.8, 13.1 and 13.2.2, and what must not leak."""

import datetime as dt
import logging
import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.http import http_date, parse_http_date
from icalendar import Calendar

from config.running.redaction import RedactingFilter, RedactingReporter, access_logs_redact
from schedule.feeds.models import Feed, FeedBody
from schedule.feeds.pages.serving import MISSES_ALLOWED, MISSES_SECONDS, BodyStore, bodies
from schedule.feeds.services.feeds import PREFIX, feed_new_address, feed_options_save, feed_stop, secret_hash
from schedule.feeds.services.versions import feed_body
from tests.schedule.builders import date, make_entry
from tests.schedule.feeds.conftest import SITE, Ground


def path_of(address: str) -> str:
    """The path of an address."""
    return address.removeprefix(SITE)


def ask(address: str, headers: dict[str, str] | None = None, client: Client | None = None) -> Any:
    """A GET of the feed."""
    return (client or Client()).get(path_of(address), headers=headers or {})


def test_the_answer_and_its_headers(ground: Ground) -> None:
    """Type, caching, no cookie, no referrer, no index, no attachment."""
    _, address = ground.feed()
    answer = ask(address)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert re.fullmatch(r'"[0-9a-f]{40}"', answer.headers["ETag"])
    assert parse_http_date(answer.headers["Last-Modified"]) <= ground.clock.now.timestamp()
    assert answer.cookies == {}
    for name in ("Content-Disposition", "Vary", "Content-Encoding"):
        assert name not in answer.headers
    assert answer.headers["Content-Length"] == str(len(answer.content))


def test_the_secret_stands_nowhere(ground: Ground) -> None:
    """32 random bytes behind a prefix; the database holds their SHA-256 and the kept bytes don't hold them."""
    feed, address = ground.feed()
    secret = address.rpartition("/")[2].removesuffix(".ics")
    assert re.fullmatch(rf"{PREFIX}[\w-]{{43}}", secret)
    assert feed.token_hash == secret_hash(secret)
    answer = ask(address)
    assert secret.encode() in answer.content.replace(b"\r\n ", b"")
    assert secret.encode() not in feed_body(feed)
    values = [str(value) for row in Feed.objects.values() for value in row.values()]
    assert not [value for value in values if secret in value]


def test_not_modified_without_building(ground: Ground) -> None:
    """One query, no body, the same ETag; the bytes aren't even read."""
    _, address = ground.feed()
    first = ask(address)
    bodies.put((0, "other"), b"BEGIN:X\r\nBEGIN:Y\r\n")
    FeedBody.objects.all().delete()
    with CaptureQueriesContext(connection) as queries:
        again = ask(address, {"if-none-match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]
    assert again.headers["Cache-Control"] == "private, no-cache"
    assert len(queries) == 1


def test_if_none_match_wins(ground: Ground) -> None:
    """Over If-Modified-Since, both ways (section 13.2.2); lists, weak tags and a star count (section 13.1.2)."""
    _, address = ground.feed()
    first = ask(address)
    etag, modified = first.headers["ETag"], first.headers["Last-Modified"]
    old = http_date(parse_http_date(modified) - 9999)
    assert ask(address, {"if-none-match": '"other"', "if-modified-since": modified}).status_code == 200
    assert ask(address, {"if-none-match": etag, "if-modified-since": old}).status_code == 304
    assert ask(address, {"if-modified-since": modified}).status_code == 304
    assert ask(address, {"if-modified-since": old}).status_code == 200
    assert ask(address, {"if-modified-since": "yesterday"}).status_code == 200
    for tags in (f'"a", {etag}', f"W/{etag}", "*"):
        assert ask(address, {"if-none-match": tags}).status_code == 304


def test_head_is_a_get_without_body(ground: Ground) -> None:
    """Section 9.3.2: the same header fields."""
    _, address = ground.feed()
    whole = ask(address)
    head = Client().head(path_of(address))
    assert head.content == b""
    assert head.status_code == 200
    for name in ("ETag", "Last-Modified", "Content-Type", "Content-Length", "Cache-Control"):
        assert head.headers[name] == whole.headers[name]


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete", "options"])
def test_nothing_but_reading(ground: Ground, method: str) -> None:
    """405 with the methods that there are, also for a program that sends no token against forgery."""
    _, address = ground.feed()
    answer = getattr(Client(enforce_csrf_checks=True), method)(path_of(address))
    assert (answer.status_code, answer.headers["Allow"]) == (405, "GET, HEAD")


def test_what_the_client_accepts_does_not_matter(ground: Ground) -> None:
    """No negotiation: one service sends no Accept header, others send odd ones; nothing is compressed."""
    _, address = ground.feed()
    plain = ask(address)
    for headers in ({"accept": "text/html"}, {"accept": ""}, {"accept-encoding": "gzip, br"}):
        assert ask(address, headers).content == plain.content


def test_each_change_changes_the_tag_and_last_modified_rises(ground: Ground) -> None:
    """Also when two changes fall into one second, and when the clock is set back."""
    feed, address = ground.feed()
    seen = [ask(address)]
    for minutes in (5, 10, 15):
        feed_options_save(actor=ground.cast.teacher, feed=feed, values={"alarm_minutes": minutes})
        seen.append(ask(address))
    ground.clock.forward(hours=-2)
    make_entry(ground.cast, date(3), "closed")
    seen.append(ask(address))
    assert len({one.headers["ETag"] for one in seen}) == len({one.content for one in seen}) == 5
    moments = [parse_http_date(one.headers["Last-Modified"]) for one in seen]
    assert moments == sorted(set(moments))
    stamp = seen[0].headers["Last-Modified"]
    assert ask(address, {"if-modified-since": stamp}).status_code == 200


def test_replaced_and_stopped_are_emptied_first_and_then_unknown(ground: Ground) -> None:
    """Phones drop what they hold; then one plain answer for all: status, headers, text. Nonsense has it at once."""
    feed, replaced = ground.feed()
    address = feed_new_address(actor=ground.cast.teacher, feed=feed, site=SITE)
    assert ask(address).status_code == 200
    stopped_feed, stopped = ground.feed()
    ask(stopped)
    feed_stop(actor=ground.cast.teacher, feed=stopped_feed)
    _, left = ground.feed(ground.cast.office, kind="building", building=ground.cast.north)
    assert ask(left).status_code == 200
    ground.cast.north.staff.all().delete()
    unknown = f"{SITE}/feeds/{PREFIX}{'x' * 43}.ics"
    nonsense = f"{SITE}/feeds/1.ics"
    ended = [replaced, stopped, left]
    emptied = [ask(one) for one in ended]
    assert {one.status_code for one in emptied} == {200}
    assert len({one.content for one in emptied}) == 1
    assert not Calendar.from_ical(emptied[0].content).walk("VEVENT")
    assert not any(word in emptied[0].content.decode() for word in ("Vey", "Hollow", PREFIX))
    assert ask(stopped, {"if-none-match": emptied[0].headers["ETag"]}).status_code == 304
    assert {ask(one).status_code for one in (unknown, nonsense)} == {404}
    ground.cast.teacher.is_active = False
    ground.cast.teacher.save()
    assert ask(address).content == emptied[0].content
    ground.clock.forward(days=13, hours=23)
    assert {ask(one).status_code for one in (*ended, address)} == {200}
    ground.clock.forward(hours=2)
    answers = [ask(one) for one in (*ended, address, unknown, nonsense)]
    assert {one.status_code for one in answers} == {404}
    # Each answer has a number of its own, whatever was asked.
    told = [{name: value for name, value in one.headers.items() if name != "X-Request-ID"} for one in answers]
    assert len({(one.content, *sorted(each.items())) for one, each in zip(answers, told, strict=True)}) == 1


def test_misses_are_slowed_down_and_hits_never(ground: Ground) -> None:
    """By network address, for a while; a right address gets through from the same network."""
    _, address = ground.feed()
    wrong = f"{SITE}/feeds/{PREFIX}{'y' * 43}.ics"
    statuses = [ask(wrong).status_code for _ in range(MISSES_ALLOWED + 5)]
    assert statuses == [404] * MISSES_ALLOWED + [429] * 5
    assert ask(wrong).headers["Retry-After"] == str(MISSES_SECONDS)
    assert {ask(address).status_code for _ in range(5)} == {200}
    elsewhere = Client(REMOTE_ADDR="203.0.113.9")
    assert ask(wrong, client=elsewhere).status_code == 404
    near, far = Client(REMOTE_ADDR="2001:db8::1"), Client(REMOTE_ADDR="2001:db8::2")
    for _ in range(MISSES_ALLOWED):
        ask(wrong, client=near)
    assert ask(wrong, client=far).status_code == 429


def test_no_session_is_opened(ground: Ground) -> None:
    """A signed-in browser gets the same bytes, and its session isn't looked at."""
    _, address = ground.feed()
    plain = ask(address)
    browser = Client()
    browser.force_login(ground.cast.stranger)
    with CaptureQueriesContext(connection) as queries:
        answer = ask(address, client=browser)
    assert answer.content == plain.content
    assert not [query for query in queries if "session" in query["sql"] and "plannedsession" not in query["sql"]]


def test_who_fetched_and_when(ground: Ground) -> None:
    """From the User-Agent, printable and cut; written at most once an hour, and nothing else is written."""
    feed, address = ground.feed()
    ask(address, {"user-agent": "Phone\x1b[31m/1.0 " + "x" * 300})
    feed.refresh_from_db()
    first = feed.last_fetched_at
    assert first == ground.clock.now
    assert feed.last_fetched_by.startswith("Phone [31m/1.0 xxx")
    assert len(feed.last_fetched_by) == 120
    ground.clock.forward(minutes=59)
    with CaptureQueriesContext(connection) as queries:
        ask(address, {"user-agent": "Other/2"})
    assert not [query for query in queries if not query["sql"].lstrip().startswith("SELECT")]
    ground.clock.forward(minutes=1)
    ask(address, {"user-agent": "Other/2"})
    feed.refresh_from_db()
    assert (feed.last_fetched_by, feed.last_fetched_at) == ("Other/2", ground.clock.now)


def test_bytes_that_were_lost_are_built_again(ground: Ground) -> None:
    """The same to the byte."""
    feed, address = ground.feed()
    first = ask(address)
    FeedBody.objects.all().delete()
    bodies.put((feed.pk, "gone"), b"BEGIN:X\r\nBEGIN:Y\r\n")
    again = ask(address)
    assert (again.content, again.headers["ETag"]) == (first.content, first.headers["ETag"])


def test_the_store_throws_out_the_least_used() -> None:
    """Bounded by bytes; one version a feed."""
    store = BodyStore(100)
    body = b"BEGIN:A\r\nBEGIN:B\r\n" + b"x" * 22
    store.put((1, "a"), body)
    store.put((2, "a"), body)
    assert store.get((1, "a")) == (b"BEGIN:A\r\n", body[9:])
    store.put((3, "a"), body)
    assert store.get((2, "a")) is None
    store.put((1, "b"), body)
    assert store.get((1, "a")) is None
    assert store.get((3, "a")) is not None


def test_logs_do_not_show_addresses(ground: Ground, caplog: pytest.LogCaptureFixture) -> None:
    """Message, arguments, and a traceback that quotes one."""
    _, address = ground.feed()
    secret = address.rpartition("/")[2]
    writer = logging.StreamHandler()
    redact = RedactingFilter()
    caplog.handler.addFilter(redact)
    ask(f"{SITE}/feeds/{'z' * 50}.ics")
    try:
        raise ValueError(path_of(address))
    except ValueError:
        logging.getLogger("django.request").exception("Internal Server Error: %s", path_of(address))
    logging.getLogger("any").warning('"GET %(path)s HTTP/1.1"', {"path": path_of(address)})
    caplog.handler.removeFilter(redact)
    written = "\n".join(writer.format(record) for record in caplog.records)
    assert written.count("/feeds/[address]") >= 4
    assert secret not in written
    assert "z" * 50 not in written


def test_access_logs_of_servers_are_redacted(caplog: pytest.LogCaptureFixture) -> None:
    """Gunicorn hands its logger a mapping; once is enough."""
    access_logs_redact()
    access_logs_redact()
    logger = logging.getLogger("gunicorn.access")
    assert len(logger.filters) == 1
    with caplog.at_level(logging.INFO, logger="gunicorn.access"):
        logger.info('%(h)s "%(r)s" %(s)s', {"h": "-", "r": f"GET /feeds/{PREFIX}abc.ics HTTP/1.1", "s": "200"})
    assert caplog.messages == ['- "GET /feeds/[address] HTTP/1.1" 200']


def test_error_reports_do_not_show_addresses(ground: Ground, rf: object) -> None:
    """The report that Django writes for a broken page, as text and as a page."""
    _, address = ground.feed()
    request = rf.get(path_of(address))  # type: ignore[attr-defined]
    reporter = RedactingReporter(request, ValueError, ValueError(f"broke at {path_of(address)}"), None)
    for text in (reporter.get_traceback_text(), reporter.get_traceback_html()):
        assert "/feeds/[address]" in text
        assert address.rpartition("/")[2].removesuffix(".ics") not in text


def test_robots_are_not_told(ground: Ground) -> None:
    """The path stands in no robots.txt: it would only show where to look."""
    assert "feeds" not in Client().get("/robots.txt").content.decode()


def test_dates_go_on_in_the_next_fetch(ground: Ground) -> None:
    """A closure entered now is in the next fetch, and an hour changes nothing by itself."""
    _, address = ground.feed()
    first = ask(address)
    ground.clock.forward(hours=1)
    assert ask(address).headers["ETag"] == first.headers["ETag"]
    make_entry(ground.cast, date(2), "delayed_opening", ground.cast.north)
    second = ask(address)
    assert b"Delayed opening" in second.content
    assert second.headers["ETag"] != first.headers["ETag"]
    assert dt.datetime.fromtimestamp(parse_http_date(second.headers["Last-Modified"]), dt.UTC) == ground.clock.now
