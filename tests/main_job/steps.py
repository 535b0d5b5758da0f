"""The steps of the main job as a teacher does them on the pages, over HTTP."""

import datetime as dt
import re
import time
from collections.abc import Callable, Mapping

from tests.main_job.browser import Browser, Form, Page

PLAN_SECONDS = 180
SEARCH_SECONDS = "10"
WEEKS_BACK = 4
# The password of the invented district is public: script/demo prints it.
NAME, PASSWORD = "teacher", "marrow-vale-demo"
# The invented school year of load_demo: its last full week, once that lies in the past.
LAST_MONDAY = dt.date(2027, 6, 14)
ONE_WEEK = dt.timedelta(days=7)


class StepFailedError(Exception):
    """A step didn't do what it should; the message says which and what came instead."""


def require(page: Page, *, status: int = 200, says: str = "") -> Page:
    """The page, if it answers so. Raises `StepFailedError` with its words otherwise."""
    if page.status != status or says not in page.text:
        words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text.partition("<main")[2] or page.text))
        raise StepFailedError(f"{page.path} answered {page.status}, wanted {status} {says!r}: {words[:1500]}")
    return page


def form_of(page: Page, wanted: Callable[[Form], bool], what: str) -> Form:
    """A form of a page. Raises `StepFailedError` if there is none."""
    found = next((form for form in page.forms() if wanted(form)), None)
    if found is None:
        raise StepFailedError(f"{page.path} has no form to {what}.")
    return found


def sign_in(browser: Browser) -> None:
    """As the teacher."""
    page = require(browser.get("/sign-in/"))
    form = form_of(page, lambda form: "password" in form.fields, "sign in")
    require(browser.send(page, form, username=NAME, password=PASSWORD), says="Sign out")


def plan_and_publish(browser: Browser, before_planned: Callable[[], None]) -> None:
    """Plan the latest week whose sessions can be logged, and put it in force."""
    run = _plan_asked(browser)
    before_planned()
    end = time.monotonic() + PLAN_SECONDS
    while "The plan is made" not in (page := require(browser.get(run.path))).text:
        if "No plan was made" in page.text or time.monotonic() > end:
            require(page, says="The plan is made")
        time.sleep(0.5)
    compare = re.search(r'href="(/week/\d+/compare/)"', page.text)
    if compare is None:
        raise StepFailedError(f"{page.path} offers no week to publish.")
    page = require(browser.get(compare[1]))
    publish = form_of(page, lambda form: form.action.endswith("/publish/"), "publish")
    require(browser.send(page, publish))


def _plan_asked(browser: Browser) -> Page:
    """The page of the run. A week without a school day can't be planned, so the one before is asked for."""
    today = dt.datetime.now(tz=dt.UTC).date()
    monday = min(today - dt.timedelta(days=today.weekday()) - ONE_WEEK, LAST_MONDAY)
    for _ in range(WEEKS_BACK):
        page = require(browser.get("/plan/"))
        form = form_of(page, lambda form: "first_date" in form.fields, "plan")
        friday = monday + dt.timedelta(days=4)
        dates = {"first_date": monday.isoformat(), "last_date": friday.isoformat()}
        answer = browser.send(page, form, time_limit=SEARCH_SECONDS, **dates)
        if answer.status != 422:
            return require(answer)
        monday -= ONE_WEEK
    return require(answer)


def log_session(browser: Browser) -> int:
    """Log the first session that waits for it; the first of its students."""
    page = require(browser.get("/log/"), says="Not logged yet")
    day = re.search(r'href="(\?date=\d{4}-\d{2}-\d{2})"[^>]*>[^<]+</a><div', page.text)
    if day is None:
        raise StepFailedError("No day waits for its log.")
    page = require(browser.get(f"/log/{day[1]}"))
    form = form_of(page, lambda form: form.action == "/log/session/", "log a session")
    _before, _, session = page.text.partition(f'value="{form.fields["uid"]}"')
    student = re.search(r'href="/students/(\d+)/"', session)
    if student is None:
        raise StepFailedError(f"{page.path} has a session to log without a student.")
    require(browser.send(page, form), says="Logged:")
    return int(student[1])


def read_ledger(browser: Browser, student: int) -> Mapping[str, int]:
    """The figures at the head of a student's ledger, by their names."""
    page = require(browser.get(f"/students/{student}/minutes/"), says="Owed to date")
    return {name: int(value) for name, value in re.findall(r"<dt>([^<]+)</dt><dd>(\d+)", page.text)}


def read_feed(browser: Browser) -> None:
    """Add a feed of one's own days, and fetch it as a phone does: by its address and nothing else."""
    page = require(browser.get("/phone-calendar/new/teacher/"))
    form = form_of(page, lambda form: "days_back" in form.fields, "add a feed")
    page = require(browser.send(page, form, label="Phone"), says="This address is shown once")
    address = re.search(r'value="(http[^"]+\.ics)"', page.text)
    if address is None:
        raise StepFailedError("The new feed's page shows no address.")
    feed = require(Browser(browser.address).get(address[1]), says="BEGIN:VCALENDAR")
    if feed.text.count("BEGIN:VEVENT") == 0:
        raise StepFailedError("The feed holds no event.")
