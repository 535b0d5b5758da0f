"""What lies on the phone (config/static/store.js), in a browser, without a server."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route

from tests.browser.conftest import ROOT

pytestmark = pytest.mark.browser
STATIC = ROOT / "config/static"
# A secure origin that no server answers for: the route below does.
ORIGIN = "http://localhost:9"

RELEASED = {
    1: """(database) => {
        database.createObjectStore("pages", { keyPath: "url" }).createIndex("who", "who");
        const queue = database.createObjectStore("queue", { keyPath: "number", autoIncrement: true });
        queue.createIndex("key", "key", { unique: true });
        queue.createIndex("who", "who");
        database.createObjectStore("about");
    }""",
}
"""Each released version of the store as it was then, written down once and never changed."""


def serve(route: Route) -> None:
    """The store's two scripts, and pages with or without them."""
    path = route.request.url.removeprefix(ORIGIN).lstrip("/")
    if path.endswith(".js"):
        route.fulfill(body=(STATIC / path).read_text(encoding="utf-8"), content_type="text/javascript")
        return
    scripts = ("vendor/idb.js",) if path == "before" else ("vendor/idb.js", "store.js")
    tags = "".join(f'<script src="/{name}"></script>' for name in scripts)
    route.fulfill(body=f"<!doctype html><title>A page</title>{tags}", content_type="text/html")


@pytest.fixture
def phone(chromium: Browser) -> Iterator[BrowserContext]:
    """A browser that has never been here."""
    context = chromium.new_context()
    context.route(f"{ORIGIN}/**", serve)
    yield context
    context.close()


def opened(phone: BrowserContext) -> Page:
    """A page with the store's scripts."""
    page = phone.new_page()
    page.goto(f"{ORIGIN}/page")
    return page


def run(page: Page, script: str) -> Any:
    """What these lines return, run in an asynchronous function with the store as `store`."""
    return page.evaluate(f"async () => {{ const store = phoneStore; {script} }}")


PUT = """
const bytes = (text) => new TextEncoder().encode(text).buffer;
const page = { url: "/day/", at: "2026-09-14T06:40:00Z", type: "text/html", policy: "", status: 200 };
await store.page.put({ ...page, bytes: bytes("Nothing") });
"""


def test_a_page_comes_back_as_it_was_put(phone: BrowserContext) -> None:
    """With its time; and one that was never put is not there."""
    page = opened(phone)
    run(page, f'await store.meet("one"); {PUT}')
    again = opened(phone)
    read = """const got = await store.page.get("/day/");
        return [got.at, new TextDecoder().decode(got.bytes), got.who];"""
    assert run(again, read) == ["2026-09-14T06:40:00Z", "Nothing", "one"]
    assert run(again, 'return (await store.page.get("/week/")) === undefined;')
    assert run(again, "return (await store.page.list()).map((one) => [one.url, one.size]);") == [["/day/", 7]]


def test_another_person_finds_nothing_of_the_first_whose_queue_stays(phone: BrowserContext) -> None:
    """Pages and settings go; what wasn't sent waits until its person is here again."""
    page = opened(phone)
    run(page, f'await store.meet("one"); {PUT} await store.queue.add({{ key: "a" }});')
    run(page, 'await store.about.put("clock", 1); await store.meet("two");')
    left = """const { page, queue, about } = store;
        return [(await page.list()).length, await queue.count(), await about.get("clock")];"""
    assert run(page, left) == [0, 0, None]
    run(page, 'await store.meet("one");')
    assert run(page, "return (await store.queue.list()).map((one) => one.key);") == ["a"]
    assert run(page, "return (await store.page.list()).length;") == 0


def test_a_stopped_account_leaves_nothing_and_others_keep_theirs(phone: BrowserContext) -> None:
    """Also what it didn't send."""
    page = opened(phone)
    run(page, 'await store.meet("two"); await store.queue.add({ key: "b" });')
    run(page, f'await store.meet("one"); {PUT} await store.queue.add({{ key: "a" }}); await store.wipe("one");')
    everything = """const database = await store.open();
        const queue = await database.getAll("queue");
        return [await database.count("pages"), await database.getAllKeys("about"), queue.map((one) => one.key)];"""
    assert run(page, everything) == [0, [], ["b"]]


def test_the_queue_keeps_the_order_in_which_things_were_added(phone: BrowserContext) -> None:
    """Whatever their keys; one key is taken once, changed in its place, and removed once."""
    page = opened(phone)
    run(page, 'await store.meet("one"); for (const key of ["z", "b", "m"]) await store.queue.add({ key, tap: 1 });')
    again = 'return store.queue.add({ key: "b" }).then(() => "", (error) => error.name);'
    assert run(page, again) == "ConstraintError"
    assert run(page, 'return store.queue.change("b", { tap: 2, key: "other", number: 99, who: "x" });') is True
    listed = "return (await store.queue.list()).map((one) => [one.key, one.tap]);"
    assert run(page, listed) == [["z", 1], ["b", 2], ["m", 1]]
    gone = """const { queue } = store;
        return [await queue.remove("z"), await queue.remove("z"), await queue.change("z", {})];"""
    assert run(page, gone) == [True, False, False]
    assert run(page, listed) == [["b", 2], ["m", 1]]


def test_the_clock_is_held_against_the_servers(phone: BrowserContext) -> None:
    """Seven minutes behind, with an answer that took two seconds; a header that is no date changes nothing."""
    page = opened(phone)
    run(page, 'const asked = Date.parse("2026-11-01T05:53:00Z"); '
              'await store.clockMet("Sun, 01 Nov 2026 06:00:00 GMT", asked, asked + 2000); '
              'await store.clockMet("soon", asked, asked);')  # fmt: skip
    # From 05:53:01 on the phone, halfway, to the middle of the second that the header names.
    assert run(page, "return store.clockOffset();") == 7 * 60_000 - 500


def test_what_is_known_of_the_clock_stays_while_an_answer_allows_it(phone: BrowserContext) -> None:
    """A Date header names a whole second: it alone can't say 400 ms either way. Half an hour it can."""
    page = opened(phone)
    met = """const base = Date.parse("2026-11-01T06:00:00Z"); const found = [];
        for (const asked of [0, 300, 900, 2500, 1_800_000]) {
            const served = new Date(base + (asked < 1_000_000 ? asked + 200 : 0)).toUTCString();
            await store.clockMet(served, base + asked, base + asked + 40);
            found.push(await store.clockOffset());
        }
        return found;"""
    # The server is 200 ms ahead; the answers allow -40..1000, -340..700, 60..1100 and -540..500 of what is told
    # first. Then half an hour in which its clock stood still: at most a second less.
    assert run(page, met) == [480, 480, 480, 480, -1_799_000]


@pytest.mark.parametrize("version", sorted(RELEASED))
def test_a_store_of_an_earlier_version_moves_forward_with_its_entries(phone: BrowserContext, version: int) -> None:
    """A new version of the program never strands a queue."""
    old = phone.new_page()
    old.goto(f"{ORIGIN}/before")
    old.evaluate(f"""async () => {{
        const database = await idb.openDB("minutes-miles", {version}, {{ upgrade: {RELEASED[version]} }});
        await database.put("about", "one", "who");
        await database.add("queue", {{ key: "a", who: "one", tap: 1 }});
        const page = {{ url: "/day/", who: "one", at: "2026-09-14T06:40:00Z" }};
        await database.put("pages", {{ ...page, bytes: new ArrayBuffer(3) }});
        database.close();
    }}""")
    new = opened(phone)
    assert run(new, "return (await store.queue.list()).map((one) => [one.key, one.tap]);") == [["a", 1]]
    assert run(new, "return (await store.page.list()).map((one) => [one.url, one.size]);") == [["/day/", 3]]
    assert run(new, "return (await store.open()).version === store.VERSION;")


def test_every_released_version_has_its_test() -> None:
    """One step, one version: whoever adds a step writes down what was there before it."""
    source = (STATIC / "store.js").read_text(encoding="utf-8")
    assert len(RELEASED) == len(re.findall(r"^    \(database.*\) => \{$", source, re.MULTILINE))


def test_a_newer_version_in_another_tab_is_not_kept_waiting(phone: BrowserContext) -> None:
    """The open database is let go, and what is tapped on the earlier page afterwards is kept beside the rest: also
    when the program was put back, and every page is the earlier one."""
    page = opened(phone)
    run(page, 'await store.meet("one"); await store.queue.add({ key: "a" });')
    newer = phone.new_page()
    newer.goto(f"{ORIGIN}/before")
    assert newer.evaluate("""async () => {
        const database = await idb.openDB("minutes-miles", 99, { upgrade: (one) => one.createObjectStore("more") });
        return (await database.getAll("queue")).map((one) => one.key);
    }""") == ["a"]
    for number, earlier in enumerate((page, opened(phone))):
        run(earlier, f'await store.queue.add({{ key: "b{number}" }});')
    assert run(page, "return (await store.queue.list()).map((one) => one.key);") == ["a", "b0", "b1"]
    assert run(page, "return (await store.open()).version;") == 99
