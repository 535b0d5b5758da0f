"""A new version of the program comes in the middle of the day, and the store on the phone moves forward with it."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.browser.conftest import ROOT, Site, served, sign_in
from tests.browser.phone_day import TEACHER
from tests.browser.test_offline import HELD, LONG
from tests.browser.unsent.conftest import kept_as, log_as_planned, opened, send, stored
from tests.services import free_port

pytestmark = [pytest.mark.browser, pytest.mark.long]
ABOUT = """      database.createObjectStore("about");
    },
"""
STEP = """    (database, transaction) => {
      database.createObjectStore("later");
      (async () => {
        const queue = transaction.objectStore("queue");
        for await (const one of queue.iterate()) one.update({ ...one.value, moved: true });
      })();
    },
"""
"""A second version of the store: one more place, and something new in each entry that waits."""
SETTINGS = """from config.settings import *

STATICFILES_DIRS = [{folder!r}]
"""
HERE = """async () => {
    const queue = await phoneStore.queue.list();
    return [(await phoneStore.open()).version, queue.map((one) => one.moved ?? false)];
}"""
ONLY = """() => new Promise((done) => {
    const mine = document.querySelector("script[src*='/store.js']").src;
    const look = async () => {
        const kept = (await (await caches.open("minutes-miles-files")).keys()).map((one) => one.url);
        const stores = kept.filter((one) => one.includes("/static/store.js"));
        stores.length === 1 && stores[0] === mine ? done() : setTimeout(look, 100);
    };
    look();
})"""
"""Until the worker of the page's version has taken over: it keeps no file of the one before."""


@pytest.fixture
def before(made_site: Site, tmp_path: Path) -> Site:
    """A server that isn't there yet, with the day."""
    shutil.copy(kept_as(made_site), tmp_path / "site.sqlite3")
    environment = {**made_site.environment, "DATABASE_URL": f"sqlite:///{tmp_path / 'site.sqlite3'}"}
    return Site(f"http://127.0.0.1:{free_port()}", made_site.password, environment)


@pytest.fixture
def later(before: Site, tmp_path: Path) -> Site:
    """The next version of the program on the same address and database: its store is a step further."""
    folder = tmp_path / "later"
    folder.mkdir()
    source = (ROOT / "config/static/store.js").read_text(encoding="utf-8")
    assert source.count(ABOUT) == 1
    (folder / "store.js").write_text(source.replace(ABOUT, ABOUT + STEP), encoding="utf-8")
    (tmp_path / "later_settings.py").write_text(SETTINGS.format(folder=str(folder)), encoding="utf-8")
    more = {"DJANGO_SETTINGS_MODULE": "later_settings", "PYTHONPATH": str(tmp_path)}
    return replace(before, environment={**before.environment, **more})


def test_a_new_version_in_the_middle_of_the_day(chromium: Browser, before: Site, later: Site) -> None:
    """What was tapped before it came waits in the new store, a page that was open goes on, and all of it is sent.
    Then the program is put back, and what is tapped goes on being sent."""
    phone = chromium.new_context(**HELD)
    with served(before):
        sign_in(phone.new_page(), before, TEACHER)
        old = opened(phone, before, "/log/")
        old.evaluate("navigator.serviceWorker.ready")
        phone.route(re.compile("/api/1/"), lambda route: route.abort())
        log_as_planned(old, 0)
        log_as_planned(old, 1)
        assert old.evaluate(HERE) == [1, [False, False]]
    with served(later):
        new = opened(phone, later, "/unsent/")
        assert new.evaluate(HERE) == [2, [True, True]]
        new.evaluate(ONLY)
        log_as_planned(old, 2)
        expect(new.locator(".unsent-rows > li")).to_have_count(3)
        phone.unroute_all()
        send(new)
        expect(new.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
        assert stored(later) == [[(30, TEACHER)]] * 3
    phone.set_offline(True)
    log_as_planned(old, 3)
    with served(before):
        phone.set_offline(False)
        again = opened(phone, before, "/unsent/")
        send(again)
        expect(again.get_by_text("Everything is sent.")).to_be_visible(timeout=LONG)
        assert stored(before) == [[(30, TEACHER)]] * 4
    phone.close()
