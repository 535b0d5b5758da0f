"""What was tapped reaches the server once, in order, whatever is lost on the way: config/static/queue.js in a
browser, against a server of this test that loses requests and answers."""

import datetime as dt
import email.utils
import gzip
import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from tests.browser.conftest import ROOT

pytestmark = pytest.mark.browser
STATIC = ROOT / "config/static"
# A secure origin that no server answers for: the route below does.
ORIGIN = "http://localhost:9"
SCRIPTS = ("vendor/idb.js", "store.js", "queue.js")
DATE = "Mon, 14 Sep 2026 11:00:00 GMT"
LOST, UNANSWERED, BUSY, PORTAL, FINE = "lost", "unanswered", "busy", "portal", "fine"
CUT, SLOW = "cut", "slow"
"""Of many sendings in one request two are taken: then the line breaks, or the time is up."""
TWO = 2
TOGETHER = "/api/1/sendings/"
NOT_REACHED = {"code": "not_reached", "message": "The time was up.", "fields": {}}
WAITS = {"code": "waits", "message": "What this hangs on wasn't taken.", "fields": {}}


@dataclass
class Server:
    """Takes each key once, as the real one does; `fates` are those of the next requests, then all is fine."""

    fates: list[str] = field(default_factory=list)
    taken: dict[str, dict[str, Any]] = field(default_factory=dict)
    undone: set[str] = field(default_factory=set)
    withdrawn: set[str] = field(default_factory=set)
    signed_in: bool = True
    signal: bool = True
    knows_many: bool = True
    date: str = DATE
    requests: list[str] = field(default_factory=list)

    def answer(self, route: Route) -> None:
        """One request."""
        path = route.request.url.removeprefix(ORIGIN)
        if route.request.method == "GET":
            self._file(route, path.lstrip("/"))
            return
        fate = self.fates.pop(0) if self.fates else FINE
        if fate == LOST or not self.signal:
            route.abort()
        elif fate == BUSY:
            route.fulfill(status=503, body="<html></html>", content_type="text/html")
        elif fate == PORTAL:
            route.fulfill(status=200, body="<html>Accept our terms</html>", content_type="text/html")
        elif not self.signed_in:
            route.fulfill(status=403, json={"code": "not_authenticated", "message": "Sign in.", "fields": {}})
        else:
            self.requests.append(path)
            status, told = self._does(path, route, fate)
            if fate in {UNANSWERED, CUT}:
                route.abort()
            else:
                route.fulfill(status=status, json=told, headers={"Date": self.date})

    def _file(self, route: Route, path: str) -> None:
        if path == "health/":
            route.fulfill(body="ok\n", content_type="text/plain", headers={"Date": self.date})
            return
        if path.endswith(".js"):
            route.fulfill(body=(STATIC / path).read_text(encoding="utf-8"), content_type="text/javascript")
            return
        tags = "".join(f'<script src="/{name}" defer></script>' for name in SCRIPTS)
        head = f'<!doctype html><meta name="person" content="one"><title>A page</title>{tags}'
        body = f'{head}<a id="unsent" hidden></a>'
        route.fulfill(body=body, content_type="text/html")

    def _does(self, path: str, route: Route, fate: str) -> tuple[int, dict[str, Any]]:
        body = json.loads(_content(route) or "{}")
        if path != TOGETHER:
            return self._take(path, route.request.headers.get("idempotency-key", "").strip('"'), body)
        if not self.knows_many:
            return 404, {"code": "not_found", "message": "There is nothing here.", "fields": {}}
        return 200, {
            "answers": list(self._many(body["sendings"], TWO if fate in {CUT, SLOW} else len(body["sendings"])))
        }

    def _many(self, sendings: list[dict[str, Any]], reached: int) -> Iterator[dict[str, Any]]:
        missing: set[str] = set()
        for number, one in enumerate(sendings):
            if missing & set(one["after"]):
                status, told = 424, WAITS
            elif number >= reached:
                status, told = 503, NOT_REACHED
            else:
                status, told = self._take(one["url"], one["key"], one["body"])
            if status >= 300:
                missing.add(one["key"])
            yield {"key": one["key"], "status": status, "body": told}

    def _take(self, path: str, key: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        if path == "/api/1/withdrawn-keys/":
            key = body["key"]
            if key not in self.taken:
                self.withdrawn.add(key)
            return 200, {"taken": key in self.taken, "id": key if key in self.taken else None}
        if path.startswith("/undo/"):
            self.undone.add(path.split("/")[2])
            return 200, {}
        if body.get("bad"):
            return 409, {"code": "already_logged", "message": "This session is logged already.", "fields": {}}
        if key in self.withdrawn or self.taken.get(key, body) != body:
            return 422, {"code": "idempotency_key_used", "message": "Sent before.", "fields": {}}
        self.taken[key] = body
        return 201, {"id": key}

    @property
    def stands(self) -> list[str]:
        """What was tapped and counts, in the order in which it was taken."""
        return [body["tap"] for key, body in self.taken.items() if key not in self.undone]


def _content(route: Route) -> bytes:
    """What was sent, unpacked."""
    sent = route.request.post_data_buffer or b""
    return gzip.decompress(sent) if route.request.headers.get("content-encoding") == "gzip" else sent


@contextmanager
def phone_of(chromium: Browser, server: Server) -> Iterator[BrowserContext]:
    """A browser that has never been here."""
    context = chromium.new_context()
    context.route(f"{ORIGIN}/**", server.answer)
    try:
        yield context
    finally:
        context.close()


def opened(phone: BrowserContext) -> Page:
    """A page whose queue has begun."""
    page = phone.new_page()
    page.goto(f"{ORIGIN}/page")
    page.evaluate("phoneQueue.ready")
    return page


def tap(page: Page, *names: str, **values: Any) -> None:
    """Taps, kept and then tried at once."""
    body = values.pop("body", {})
    told = json.dumps([{"name": name, "body": {"tap": name, **body}} for name in names])
    more = json.dumps(values)
    page.evaluate(f"""async () => {{
        for (const {{ name, body }} of {told}) {{
            const key = name + "-".repeat(10);
            const undo = {{ url: "/undo/{{id}}" }};
            const said = {{ words: name, about: name, ...{more} }};
            await phoneQueue.add({{ key, kind: "x", url: "/take", body, time: "at", undo, ...said }});
        }}
        await phoneQueue.flush();
    }}""")


def waiting(page: Page) -> list[list[str]]:
    """Entries and their states."""
    found: list[list[str]] = page.evaluate(
        "async () => (await phoneQueue.list()).map((one) => [one.words, one.state])"
    )
    return found


def test_the_state_is_said_in_words_on_every_page(chromium: Browser) -> None:
    """What waits, what was refused, and nothing once all is sent."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        link = page.locator("#unsent")
        expect(link).to_be_hidden()
        tap(page, "first")
        tap(page, "second")
        expect(link).to_have_text("2 not sent yet")
        server.signal = True
        other = opened(phone)
        expect(link).to_be_hidden()
        expect(other.locator("#unsent")).to_be_hidden()
        assert server.stands == ["first", "second"]
        tap(page, "third", body={"bad": True})
        expect(link).to_have_text("1 refused: look")
        assert waiting(page) == [["third", "refused"]]


def test_an_answer_that_is_no_servers_is_none(chromium: Browser) -> None:
    """A school's network that asks for its own sign-in answers 200 with a page: nothing is taken out."""
    server = Server(fates=[PORTAL, BUSY])
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "first")
        assert waiting(page) == [["first", "waiting"]]
        page.evaluate("phoneQueue.flush()")
        expect(page.locator("#unsent")).to_have_text("1 not sent yet: the server is busy")
        page.evaluate("phoneQueue.flush()")
        expect(page.locator("#unsent")).to_be_hidden()


def test_an_ended_sign_in_keeps_everything_and_asks(chromium: Browser) -> None:
    """Nothing is tried further until somebody signs in."""
    server = Server(signed_in=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "first")
        tap(page, "second")
        expect(page.locator("#unsent")).to_have_text("2 not sent yet: sign in to send")
        server.signed_in = True
        page.evaluate("phoneQueue.flush()")
        expect(page.locator("#unsent")).to_be_hidden()
        assert server.stands == ["first", "second"]


def test_what_hangs_on_a_refused_entry_waits_and_others_go_on(chromium: Browser) -> None:
    """An arrival isn't sent before its start; the next session's log is."""
    server = Server()
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "start", body={"bad": True})
        tap(page, "arrive", after=["start----------"])
        tap(page, "log")
        assert (server.stands, waiting(page)) == (["log"], [["start", "refused"], ["arrive", "waiting"]])
        page.evaluate('phoneQueue.correct("start----------", { body: { bad: false } })')
        expect(page.locator("#unsent")).to_be_hidden()
        assert server.stands == ["log", "start", "arrive"]


def test_taking_back_what_hangs_together_goes_together(chromium: Browser) -> None:
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "start")
        tap(page, "arrive", after=["start----------"])
        server.signal = True
        page.evaluate('phoneQueue.takeBack("start----------").then(phoneQueue.flush)')
        expect(page.locator("#unsent")).to_be_hidden()
        assert server.stands == []


def test_the_time_is_the_taps_by_the_servers_clock(chromium: Browser) -> None:
    """The phone is off by whatever its clock is from the 14th of September; the tap isn't."""
    server = Server()
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "first")
        assert server.taken["first----------"]["at"].startswith("2026-09-14T11:00:")
        server.signal = False
        tap(page, "second")
        page.reload()
        server.signal = True
        page.evaluate("phoneQueue.ready.then(phoneQueue.flush)")
        expect(page.locator("#unsent")).to_be_hidden()
        assert server.taken["second----------"]["at"].startswith("2026-09-14T11:00:")


def test_nobody_else_sees_or_sends_it(chromium: Browser) -> None:
    """A page of another person on the same phone: nothing is shown, and a page left open adds nothing."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "first")
        page.evaluate('phoneStore.meet("two")')
        server.signal = True
        page.evaluate("phoneQueue.flush()")
        assert (waiting(page), server.taken) == ([], {})
        said = page.evaluate('phoneQueue.add({ key: "late-key", body: {} }).catch((error) => error.message)')
        assert "Somebody else has signed in" in said


# ---- clocks --------------------------------------------------------------------------------------------

NIGHTS = {
    # 2:00 in New York on November 1, 2026, is 1:00 once more; on March 14, 2027, it is 3:00 (15 U.S.C. 260a: first
    # Sunday in November, second in March).
    "an hour that comes twice": (
        ["2026-11-01T05:30:00Z", "2026-11-01T05:45:00Z", "2026-11-01T06:30:00Z", "2026-11-01T06:45:00Z"],
        ["01:30", "01:45", "01:30", "01:45"],
    ),
    "an hour that never comes": (["2027-03-14T06:59:00Z", "2027-03-14T07:01:00Z"], ["01:59", "03:01"]),
}


@pytest.mark.parametrize("night", sorted(NIGHTS))
def test_taps_keep_their_moments_in_the_night_of_a_clock_change(chromium: Browser, night: str) -> None:
    """A moment is a moment: what the phone's clock shows twice is two of them, an hour apart."""
    moments, shown = NIGHTS[night]
    server = Server(signal=False)
    phone = chromium.new_context(timezone_id="America/New_York")
    phone.route(f"{ORIGIN}/**", server.answer)
    page = phone.new_page()
    read = "new Date().toTimeString().slice(0, 5)"
    seen = []
    for number, moment in enumerate(moments):
        now = dt.datetime.fromisoformat(moment)
        server.date = email.utils.format_datetime(now, usegmt=True)
        page.clock.set_fixed_time(now)
        page.goto(f"{ORIGIN}/page")
        page.evaluate("phoneQueue.ready")
        seen.append(page.evaluate(read))
        tap(page, f"tap{number}")
    server.signal = True
    sent(page)
    told = [dt.datetime.fromisoformat(one["at"]) for one in server.taken.values()]
    meant = [dt.datetime.fromisoformat(one) for one in moments]
    assert seen == shown
    # The Date header counts whole seconds.
    assert [round((one - other).total_seconds()) for one, other in zip(told, meant, strict=True)] == [0] * len(
        meant
    )
    phone.close()


def test_a_clock_that_was_put_right_turns_no_drive_around(chromium: Browser) -> None:
    """An hour ahead at the start, right at the arrival, and no signal to be told so by."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = phone.new_page()
        noon = dt.datetime(2026, 9, 14, 11, tzinfo=dt.UTC)
        page.clock.set_fixed_time(noon + dt.timedelta(hours=1))
        page.goto(f"{ORIGIN}/page")
        tap(page, "start")
        page.clock.set_fixed_time(noon + dt.timedelta(minutes=20))
        tap(page, "arrive", after=["start----------"])
        server.signal = True
        sent(page)
        start, arrive = (
            dt.datetime.fromisoformat(server.taken[f"{name}----------"]["at"]) for name in ("start", "arrive")
        )
        assert abs(start - noon) < dt.timedelta(seconds=2)
        assert start < arrive


def test_a_signal_that_comes_for_one_request_at_a_time(chromium: Browser) -> None:
    """Between two taps it is there and gone; answers are lost every other time. All is there once, in order."""
    server = Server()
    names = [f"tap{number}" for number in range(12)]
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        for number, name in enumerate(names):
            server.fates = [[LOST], [UNANSWERED, LOST], [CUT, LOST], [FINE, LOST]][number % 4] + [LOST] * 20
            tap(page, name)
        server.fates = []
        sent(page)
        assert server.stands == names


# ---- many at once ------------------------------------------------------------------------------------------

MANY = tuple(f"tap{number}" for number in range(7))


def sent(page: Page) -> None:
    """Once more, and all of it."""
    page.evaluate("phoneQueue.flush()")
    expect(page.locator("#unsent")).to_be_hidden()


def test_many_go_in_one_request_and_few_alone(chromium: Browser) -> None:
    """A morning without a signal is one request; a single tap is sent as ever."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, *MANY)
        assert [state for _, state in waiting(page)] == ["waiting"] * len(MANY)
        server.signal = True
        sent(page)
        assert (server.requests, server.stands) == ([TOGETHER], list(MANY))
        tap(page, "one more")
        assert server.requests == [TOGETHER, "/take"]


@pytest.mark.parametrize("fate", [UNANSWERED, CUT, BUSY, PORTAL, LOST])
def test_many_whose_answer_is_lost_are_there_once(chromium: Browser, fate: str) -> None:
    """The line breaks after all were taken, or in the middle: what was taken is taken once, the rest follows."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, *MANY)
        server.signal, server.fates = True, [fate]
        page.evaluate("phoneQueue.flush()")
        assert len(waiting(page)) == len(MANY)
        assert len(server.taken) == {UNANSWERED: len(MANY), CUT: TWO}.get(fate, 0)
        sent(page)
        assert server.stands == list(MANY)


def test_what_a_busy_server_did_not_reach_follows_at_once(chromium: Browser) -> None:
    """Two a request, until all is sent: nobody has to wait for the next try."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, *MANY)
        server.signal, server.fates = True, [SLOW, SLOW]
        sent(page)
        assert server.stands == list(MANY)
        assert server.requests[:2] == [TOGETHER] * 2


def test_a_refused_one_of_many_stands_alone_with_what_hangs_on_it(chromium: Browser) -> None:
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, "first")
        tap(page, "start", body={"bad": True})
        tap(page, "arrive", after=["start----------"])
        tap(page, "log", "data")
        server.signal = True
        page.evaluate("phoneQueue.flush()")
        assert (server.stands, waiting(page)) == (
            ["first", "log", "data"],
            [["start", "refused"], ["arrive", "waiting"]],
        )
        page.evaluate('phoneQueue.correct("start----------", { body: { bad: false } })')
        expect(page.locator("#unsent")).to_be_hidden()
        assert server.stands == ["first", "log", "data", "start", "arrive"]


def test_one_taken_back_among_many_is_asked_about_in_its_place(chromium: Browser) -> None:
    """It had arrived, though nobody knew: what it saved is undone, and the others stand."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, *MANY)
        server.signal, server.fates = True, [UNANSWERED, LOST]
        page.evaluate("phoneQueue.flush()")
        page.evaluate('phoneQueue.takeBack("tap3----------").then(phoneQueue.flush)')
        sent(page)
        assert server.stands == [one for one in MANY if one != "tap3"]


def test_a_server_that_knows_one_at_a_time_gets_one_at_a_time(chromium: Browser) -> None:
    """The program was put back to an earlier version while pages of the later one are open."""
    server = Server(signal=False, knows_many=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        tap(page, *MANY)
        server.signal = True
        sent(page)
        assert server.stands == list(MANY)
        assert server.requests == [TOGETHER, *["/take"] * len(MANY)]


BROKEN = [
    {"key": "no-address", "body": {"tap": "x"}, "state": "waiting", "words": "No address"},
    {"key": "no-body-in-it", "url": "/take", "state": "waiting", "words": "No body"},
    {"state": "waiting", "url": "/take", "body": {"tap": "x"}, "words": "No key"},
]


def test_an_entry_that_cannot_be_read_is_said_so_and_holds_up_nothing(chromium: Browser) -> None:
    """Whatever broke it: it stands in words among the refused, can be let go, and the others are sent."""
    server = Server(signal=False)
    with phone_of(chromium, server) as phone:
        page = opened(phone)
        page.evaluate("async (all) => { for (const one of all) await phoneStore.queue.add(one); }", BROKEN)
        tap(page, "first", "second")
        server.signal = True
        page.evaluate("phoneQueue.flush()")
        expect(page.locator("#unsent")).to_have_text("3 refused: look")
        assert server.stands == ["first", "second"]
        told = page.evaluate("async () => (await phoneQueue.list()).map((one) => one.refusal.message)")
        assert [text.partition(" can")[0] for text in told] == ["This entry"] * 3
        page.evaluate(
            "async () => { for (const one of await phoneQueue.list()) await phoneQueue.takeBack(one.key); }"
        )
        expect(page.locator("#unsent")).to_be_hidden()


# ---- any sequence ------------------------------------------------------------------------------------------

FATES = st.lists(st.sampled_from([LOST, UNANSWERED, UNANSWERED, CUT, SLOW, BUSY, FINE]), max_size=3)
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("tap"), FATES),
        st.tuples(st.just("many"), FATES),
        st.tuples(st.just("back"), st.integers(0, 5)),
        st.tuples(st.just("correct"), st.integers(0, 5)),
        st.tuples(st.just("reload"), FATES),
        st.tuples(st.just("tab"), FATES),
    ),
    min_size=2,
    max_size=9,
)


class Model:
    """What the person means: taps in order, each with its last content; those taken back are gone."""

    def __init__(self, phone: BrowserContext, server: Server) -> None:
        self.phone, self.server, self.page = phone, server, opened(phone)
        self.means: dict[str, int] = {}

    def step(self, what: str, told: Any) -> None:
        """One thing that happens."""
        if isinstance(told, list):
            self.server.fates = list(told)
        if what in {"tap", "many"}:
            number = len(self.means)
            names = [f"tap{one}" for one in range(number, number + (5 if what == "many" else 1))]
            self.means |= dict.fromkeys(names, 0)
            tap(self.page, *names, body={"said": 0})
        elif what == "reload":
            self.page.reload()
            self.page.evaluate("phoneQueue.ready.then(phoneQueue.flush)")
        elif what == "tab":
            self.page = opened(self.phone)
        else:
            self._change(what, told)

    def _change(self, what: str, which: int) -> None:
        """Only what still waits on the phone can be taken back or corrected."""
        here = [name for name, state in waiting(self.page) if state == "waiting"]
        if not here:
            return
        name = here[which % len(here)]
        key = f"{name}----------"
        if what == "back":
            del self.means[name]
            self.means[f"{name} gone"] = 0
            self.page.evaluate(f'phoneQueue.takeBack("{key}").then(phoneQueue.flush)')
        else:
            self.means[name] += 1
            values = json.dumps({"body": {"said": self.means[name]}})
            self.page.evaluate(f'phoneQueue.correct("{key}", {values})')


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(steps=STEPS)
def test_everything_meant_is_there_once_and_in_order(chromium: Browser, steps: list[tuple[str, Any]]) -> None:
    """Taps, corrections and taking back, while requests and answers are lost and pages are loaded again.

    At the end the server has what the person means, once each and in order. A correction of what had arrived after
    all isn't lost either: it stands beside, refused, for the person to choose.
    """
    server = Server()
    with phone_of(chromium, server) as phone:
        model = Model(phone, server)
        for what, told in steps:
            model.step(what, told)
        server.fates = []
        model.page.evaluate("async () => { await phoneQueue.flush(); await phoneQueue.flush(); }")
        left = dict(waiting(model.page))
        meant = [name for name in model.means if not name.endswith("gone")]
        assert set(left) <= {name for name in meant if model.means[name]}
        assert set(left.values()) <= {"refused"}
        assert sorted(server.stands) == sorted(meant)
        for body in (body for key, body in server.taken.items() if key not in server.undone):
            name = body["tap"]
            assert body["said"] == model.means[name] or name in left
        untouched = [name for name in meant if not model.means[name]]
        assert [name for name in server.stands if name in untouched] == untouched
