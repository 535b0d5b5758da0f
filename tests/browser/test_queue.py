"""What was tapped reaches the server once, in order, whatever is lost on the way: config/static/queue.js in a
browser, against a server of this test that loses requests and answers."""

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


@dataclass
class Server:
    """Takes each key once, as the real one does; `fates` are those of the next requests, then all is fine."""

    fates: list[str] = field(default_factory=list)
    taken: dict[str, dict[str, Any]] = field(default_factory=dict)
    undone: set[str] = field(default_factory=set)
    withdrawn: set[str] = field(default_factory=set)
    signed_in: bool = True
    signal: bool = True

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
            status, told = self._does(path, route)
            if fate == UNANSWERED:
                route.abort()
            else:
                route.fulfill(status=status, json=told, headers={"Date": DATE})

    def _file(self, route: Route, path: str) -> None:
        if path == "health/":
            route.fulfill(body="ok\n", content_type="text/plain", headers={"Date": DATE})
            return
        if path.endswith(".js"):
            route.fulfill(body=(STATIC / path).read_text(encoding="utf-8"), content_type="text/javascript")
            return
        tags = "".join(f'<script src="/{name}" defer></script>' for name in SCRIPTS)
        head = f'<!doctype html><meta name="person" content="one"><title>A page</title>{tags}'
        body = f'{head}<a id="unsent" hidden></a>'
        route.fulfill(body=body, content_type="text/html")

    def _does(self, path: str, route: Route) -> tuple[int, dict[str, Any]]:
        body = json.loads(route.request.post_data or "{}")
        if path == "/api/1/withdrawn-keys/":
            key = body["key"]
            if key not in self.taken:
                self.withdrawn.add(key)
            return 200, {"taken": key in self.taken, "id": key if key in self.taken else None}
        if path.startswith("/undo/"):
            self.undone.add(path.split("/")[2])
            return 200, {}
        key = route.request.headers["idempotency-key"].strip('"')
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


def tap(page: Page, name: str, **values: Any) -> None:
    """One tap, kept and tried at once."""
    body = json.dumps({"tap": name, **values.pop("body", {})})
    more = json.dumps({"words": name, "about": name, **values})
    page.evaluate(f"""async () => {{
        const key = "{name}" + "-".repeat(10);
        const undo = {{ url: "/undo/{{id}}" }};
        await phoneQueue.add({{ key, kind: "x", url: "/take", body: {body}, time: "at", undo, ...{more} }});
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


# ---- any sequence ------------------------------------------------------------------------------------------

FATES = st.lists(st.sampled_from([LOST, UNANSWERED, UNANSWERED, BUSY, FINE]), max_size=3)
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("tap"), FATES),
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
        if what == "tap":
            name = f"tap{len(self.means)}{chr(97 + len(self.means))}"
            self.means[name] = 0
            tap(self.page, name, body={"said": 0})
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
