"""Every page through axe-core (WCAG 2 A and AA rules and best practices), wide and narrow, light and dark."""

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import quote

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.conftest import DESK, PHONE, Site, sign_in

pytestmark = pytest.mark.browser
OPEN = ["/sign-in/", "/phone/no-signal/", "/phone/locked/", "/manual/", "/manual/all/"]
LOOKS = [(DESK, "light"), (PHONE, "dark"), (PHONE, "light"), (DESK, "dark")]
NAMED = re.compile(
    r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d{4}-\d{2}-\d{2}|\d+|(?<=tables/)[\w-]+|(?<=manual/)(?!all/)[\w-]+"
)
"""What an address names: a session, a date, a number, a kind of table, a chapter."""
NEVER = re.compile(r"/(sign-out|static|api)/|\.(csv|xlsx|ics|pdf)$|/template\.|/rows\.|/problems\.")


OPTIONS = {
    # Beside axe's own choice: WCAG 2.5.3 (A), Label in Name, which axe leaves off as experimental.
    "rules": {"label-content-name-mismatch": {"enabled": True}},
    # Every rule is held; but what passed is not described node by node, which took longer than to find it.
    "resultTypes": ["violations"],
}


def faults(page: Page) -> list[str]:
    """What axe finds, one line each."""
    found: dict[str, Any] = Axe().run(page, options=OPTIONS).response
    return [
        f"{page.url}: {fault['id']}: {node['html'][:120]}"
        for fault in found["violations"]
        for node in fault["nodes"]
    ]


def faults_in_every_look(page: Page) -> list[str]:
    """What is wrong with the page that is open, wide and light as a crawl opens it, and so left behind.

    It is loaded anew for the other width; in the other scheme only its style is another.
    """
    found = faults_here(page)
    page.emulate_media(color_scheme="dark")
    found.extend(faults_here(page))
    page.set_viewport_size(PHONE)  # type: ignore[arg-type]
    page.reload()
    found.extend(faults_here(page))
    page.emulate_media(color_scheme="light")
    found.extend(faults_here(page))
    page.set_viewport_size(DESK)  # type: ignore[arg-type]
    return found


def faults_here(page: Page) -> list[str]:
    """What axe finds, and whether the page scrolls sideways, in the look that it has."""
    found = faults(page)
    if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
        found.append(f"{page.url} scrolls sideways at {page.evaluate('window.innerWidth')} pixels")
    return found


def crawl(page: Page, site: Site, most: int, first: Sequence[str] = ("/week/", "/week/1/")) -> Iterator[str]:
    """Open what a person reaches by links from the `first` pages, one page of each shape, at most `most`."""
    seen: dict[str, str] = {}
    waiting = list(first)
    while waiting and len(seen) < most:
        path = waiting.pop(0)
        shape = NAMED.sub("N", path.split("?")[0])
        if shape in seen:
            continue
        seen[shape] = path
        answer = page.goto(site.address + path)
        assert answer is not None
        assert answer.status == 200, f"{path} answered {answer.status}"
        links = page.eval_on_selector_all("a[href]", "all => all.map(a => a.getAttribute('href'))")
        # The manual is one for everybody: it leads to pages that aren't everybody's.
        beyond = "/manual/" if path.startswith("/manual/") else "/"
        found = [link.split("#")[0] for link in links if link.startswith(beyond)]
        waiting.extend(link for link in found if not NEVER.search(link))
        yield path


def test_the_run_finds_a_fault_where_there_is_one(chromium: Browser) -> None:
    """A page with an unnamed image: the check can fail."""
    page = chromium.new_page()
    page.set_content("<html><body><img src='data:,'></body></html>")
    assert any("image-alt" in fault for fault in faults(page))
    page.set_content("<html><body><a href='/' aria-label='Monday'>9:20 Ola</a></body></html>")
    assert any("label-content-name-mismatch" in fault for fault in faults(page))
    page.close()


def test_a_fault_of_one_look_alone_is_found(chromium: Browser) -> None:
    """Words too pale in the dark, a line too wide for a phone; and the next page is opened wide and light again."""
    page = chromium.new_context(viewport=DESK).new_page()  # type: ignore[arg-type]
    dark = "@media (prefers-color-scheme: dark) { p { color: #555; background: #444 } }"
    narrow = "@media (max-width: 500px) { p { width: 900px } }"
    words = "<title>A page</title><main><h1>A page</h1><p>Words</p></main>"
    for style, looks in (("", 0), (dark, 2), (narrow, 2)):
        page.goto(f"data:text/html,<!doctype html><html lang=en><style>{quote(style)}</style>{words}</html>")
        assert len(faults_in_every_look(page)) == looks
        assert page.viewport_size == DESK
        assert not page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    page.context.close()


@pytest.mark.parametrize("username", ["teacher", "coordinator", "office", "substitute"])
def test_pages_have_no_violations(chromium: Browser, site: Site, username: str) -> None:
    """All shapes of page that a role reaches by links; the teacher's in every look, others' in one."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, username)
    look = faults_in_every_look if username == "teacher" else faults_here
    found = {path: look(page) for path in crawl(page, site, most=200)}
    context.close()
    assert len(found) >= (3 if username in {"office", "substitute"} else 25)
    assert [fault for faults_of_page in found.values() for fault in faults_of_page] == []


def test_an_import_that_is_being_checked_has_no_violations(chromium: Browser, site: Site) -> None:
    """A page that is there for a while only: thousands of rows are on their way, and are thrown away in the end."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, "teacher")
    page.goto(f"{site.address}/import/tables/students/")
    rows = [
        "Student code,First name,Last name,Grade,Building code",
        *(f"Z{n},Ola,Tarn,3,TANSY" for n in range(4000)),
    ]
    file: Any = {"name": "a.csv", "mimeType": "text/csv", "buffer": "\n".join(rows).encode()}
    page.get_by_label("Filled template").set_input_files(file)
    page.get_by_role("button", name="See what it would do").click()
    page.get_by_text("of 4,000 rows").wait_for()
    found = []
    for size, scheme in LOOKS:
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        found.extend(faults(page))
        if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            found.append(f"{page.url} scrolls sideways at {size['width']} pixels")
    page.get_by_role("button", name="Discard this import").click()
    page.get_by_text("The preview is discarded").wait_for()
    context.close()
    assert found == []


@pytest.mark.parametrize("path", OPEN)
def test_open_pages_have_no_violations(chromium: Browser, site: Site, path: str) -> None:
    """What anyone sees before signing in."""
    for size, scheme in LOOKS:
        context = chromium.new_context(viewport=size, color_scheme=scheme)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto(site.address + path)
        assert faults(page) == []
        context.close()


def test_a_planned_term_has_no_violations(chromium: Browser, site: Site) -> None:
    """Two weeks planned as a term, its page while it is planned and after, and the print."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, "teacher")
    page.goto(f"{site.address}/term/plan/")
    first = dt.date.fromisoformat(page.get_by_label("From").input_value())
    page.get_by_label("Until").fill((first + dt.timedelta(days=11)).isoformat())
    page.get_by_label("Search for at most").select_option("30")
    page.get_by_role("button", name="Plan the term").click()
    page.wait_for_url(re.compile(r"/term/\d+/$"))
    # How far it is is put anew each second, and axe would go on in what was taken away (htmx.org/events).
    page.evaluate("document.body.addEventListener('htmx:beforeRequest', (event) => event.preventDefault())")
    page.wait_for_load_state("networkidle")
    found = faults(page)
    page.reload()
    # The search may take three times its seconds by the clock, and the first one compiles itself.
    page.get_by_role("heading", name="Week by week").wait_for(timeout=300_000)
    for path in (page.url, f"{page.url}print/"):
        page.goto(path)
        for size, scheme in LOOKS:
            page.set_viewport_size(size)  # type: ignore[arg-type]
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            found.extend(faults(page))
            if page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
                found.append(f"{path} scrolls sideways at {size['width']} pixels")
    context.close()
    assert found == []


BREAK_OFF = """
from django.utils import timezone
from accounts.models import Person
from jobs.models import Job
from jobs.services import CUT_OFF
district = Person.objects.get(username="coordinator").district_id
for kind in ("plan_week", "send_notice"):
    Job.objects.create(
        kind=kind, district_number=district, state="failed", broke_off=True, error=CUT_OFF, attempts=3,
        ended_at=timezone.now(), unique_key=f"broken {kind}",
    )
"""
MEND = "from jobs.models import Job; Job.objects.filter(unique_key__startswith='broken ').delete()"


def test_work_that_broke_off_has_no_violations(chromium: Browser, site: Site) -> None:
    """Without any, as it mostly is, and with some."""
    context = chromium.new_context(viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    sign_in(page, site, "coordinator")
    page.goto(f"{site.address}/work/")
    page.get_by_text("Nothing has broken off.").wait_for()
    found = faults_in_every_look(page)
    site.manage("shell", "-c", BREAK_OFF)
    page.reload()
    assert page.get_by_role("button", name="Start again").count() == 2
    found.extend(faults_in_every_look(page))
    context.close()
    site.manage("shell", "-c", MEND)
    assert found == []
