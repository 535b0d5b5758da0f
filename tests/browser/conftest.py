"""A real server on a scratch database with the invented district, and Debian's Chromium in front of it."""

import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from schedule.imports.services.demo import PASSWORD
from tests.services import free_port, leave_out

ROOT = Path(__file__).resolve().parents[2]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}
# What a page comes to show is waited for as long as the page itself: the machine may have other work.
expect.set_options(timeout=30_000)


@dataclass
class Site:
    """A running server and how to sign in to it."""

    address: str
    password: str
    environment: dict[str, str]

    def manage(self, *arguments: str) -> str:
        """Run a management command on the server's database; returns what it printed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


def wait_until_up(address: str, process: "subprocess.Popen[bytes]") -> None:
    """Return once the health address answers; fail if the server ends first."""
    for _ in range(300):
        assert process.poll() is None, "the server ended before it answered"
        try:
            with urllib.request.urlopen(f"{address}/health/", timeout=10) as answer:  # noqa: S310 -- our own server
                if answer.status == 200:
                    return
        except OSError:
            time.sleep(0.1)
    pytest.fail("the server did not answer in 30 seconds")


def home_of_its_own(folder: Path) -> dict[str, str | float | bool]:
    """Where a desktop program looks for what it keeps about its user."""
    places = {"XDG_CACHE_HOME": ".cache", "XDG_CONFIG_HOME": ".config", "XDG_DATA_HOME": ".local/share"}
    return {"HOME": str(folder), **{name: str(folder / place) for name, place in places.items()}}


def chromium_path() -> str:
    """Where Debian's Chromium is; a test that needs it is left out without."""
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        leave_out("Chromium (Debian package chromium)", "the tests that look at pages in a browser")
    return path


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Debian's Chromium, headless; what it writes into a home goes into one of this run."""
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            env={**os.environ, **home_of_its_own(tmp_path_factory.mktemp("home"))},
            args=["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                  "--disable-background-networking", "--disable-component-update", "--disable-sync"],
        )  # fmt: skip
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory, chromium: Browser, tables: Path) -> Iterator[Site]:
    """The invented district with a published week, served by the command that the demo uses."""
    ready = empty_site(tmp_path_factory.mktemp("site"), tables)
    ready.manage("load_demo")
    ready.manage("plan_week", "--teacher=teacher", "--time-limit=5", "--publish-anyway")
    with served(ready):
        yield ready


def empty_site(folder: Path, tables: Path) -> Site:
    """A site with a database of its own in `folder`; nothing is in it and nobody serves it yet."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": f"sqlite:///{folder / 'site.sqlite3'}",
        "ROADS_DIR": str(folder / "roads"),
        "LOG_LEVEL": "WARNING",
    }
    shutil.copy(tables, folder / "site.sqlite3")
    return Site(f"http://127.0.0.1:{free_port()}", PASSWORD, environment)


@contextmanager
def served(ready: Site) -> Iterator[None]:
    """The site's server, for as long as it is needed."""
    listen = ready.address.removeprefix("http://")
    process = subprocess.Popen(
        [sys.executable, "-m", "waitress", f"--listen={listen}", "--threads=4", "config.wsgi:application"],
        cwd=ROOT,
        env=ready.environment,
    )
    try:
        wait_until_up(ready.address, process)
        yield
    finally:
        process.terminate()
        process.wait(timeout=20)


@pytest.fixture
def context(chromium: Browser, request: pytest.FixtureRequest) -> Iterator[BrowserContext]:
    """A fresh browser context on a desk, light; a test may ask for others by itself."""
    one = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    yield one
    one.close()


def unfold(page: Page) -> None:
    """Show what of today is over, which a phone folds away; with or without scripts."""
    summary = page.locator(".earlier:not([open]) > summary")
    if summary.is_visible():
        summary.click()


def sign_in(page: Page, site: Site, username: str) -> None:
    """Sign in by the form."""
    page.goto(f"{site.address}/sign-in/")
    page.get_by_label("Username").fill(username)
    page.get_by_label("Password").fill(site.password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_load_state()
