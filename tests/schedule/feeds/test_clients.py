"""Real calendar programs subscribe over HTTP to a running server and follow what changes.

vdirsyncer fetches by the same rules as a phone (ETag and all), khal shows what a person would see.
"""

import datetime as dt
import os
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.browser.conftest import wait_until_up
from tests.services import free_port

pytestmark = pytest.mark.clients
ROOT = Path(__file__).resolve().parents[3]
BIN = Path(sys.executable).parent
# Read by `manage.py shell`: a teacher's week in force, and its feed's address printed.
PREPARE = """
from schedule.services.feeds import feed_add
from tests.conftest import make_cast
from tests.schedule.builders import date, make_ground, make_line, make_week
from schedule.services.weeks import week_publish
from django.utils import timezone
import datetime as dt
monday = dt.date.fromisoformat("{monday}")
cast = make_cast()
make_ground(cast)
from schedule.models import SchoolYear
SchoolYear.objects.update(first_day=monday - dt.timedelta(days=30), last_day=monday + dt.timedelta(days=200))
from caseload.models import Plan, ServiceLine
Plan.objects.update(start=monday - dt.timedelta(days=30), end=monday + dt.timedelta(days=200))
ServiceLine.objects.update(start=monday - dt.timedelta(days=30), end=monday + dt.timedelta(days=200))
unit = f"line-{{cast.line.pk}}"
week = make_week(cast, [(unit, monday, "9:20"), (unit, monday + dt.timedelta(days=2), "9:20")], monday=monday)
week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
feed, address = feed_add(actor=cast.teacher, kind="teacher", site="{site}", values={{"label": "x"}})
print(address)
"""
# The Monday session moves, the Wednesday one is taken out, and the school closes on Thursday.
CHANGE = """
import datetime as dt
from accounts.models import Person
from schedule.models import CalendarEntry, PlannedSession, WeekPlan
from schedule.services.records import calendar_entry_save
from schedule.services.weeks import week_publish, week_session_move, week_session_remove
teacher = Person.objects.get(username="teacher")
monday = dt.date.fromisoformat("{monday}")
week = WeekPlan.objects.get(status="published")
first = PlannedSession.objects.get(week=week, date=monday)
second = PlannedSession.objects.get(week=week, date=monday + dt.timedelta(days=2))
draft = week_session_move(actor=teacher, week=week, uid=first.uid, date=monday, start=dt.time(8, 30),
    expected_revision=week.revision)
draft = week_session_remove(actor=teacher, week=draft, uid=second.uid, expected_revision=draft.revision)
week_publish(actor=teacher, week=draft, expected_revision=draft.revision)
closed = monday + dt.timedelta(days=3)
calendar_entry_save(actor=teacher, row=CalendarEntry(kind="closed", title="Burst pipe"),
    values={{"first_date": closed, "last_date": closed}})
"""


@dataclass
class Server:
    """A running site and how to change what is in it."""

    site: str
    monday: dt.date
    environment: dict[str, str]

    def run(self, code: str) -> str:
        """Run code inside the site; the last line that it printed."""
        filled = code.format(monday=self.monday, site=self.site)
        done = subprocess.run(
            [sys.executable, "manage.py", "shell", "--no-imports", "-c", filled],
            cwd=ROOT, env=self.environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return (done.stdout.strip().splitlines() or [""])[-1]


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    """A server of its own on a scratch database."""
    port = free_port()
    today = dt.datetime.now(dt.UTC).date()
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": f"sqlite:///{tmp_path / 'site.sqlite3'}",
        "LOG_LEVEL": "WARNING",
    }
    one = Server(f"http://127.0.0.1:{port}", today + dt.timedelta(days=7 - today.weekday()), environment)
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=environment, check=True)
    command = [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}", "config.wsgi:application"]
    process = subprocess.Popen(command, cwd=ROOT, env=environment)
    try:
        wait_until_up(one.site, process)
        yield one
    finally:
        process.terminate()
        process.wait(timeout=20)


CONFIG = """
[general]
status_path = "{home}/status/"
[pair school]
a = "feed"
b = "here"
collections = null
[storage feed]
type = "http"
url = "{address}"
[storage here]
type = "filesystem"
path = "{home}/calendar/"
fileext = ".ics"
"""
KHAL = """
[calendars]
[[school]]
path = {home}/calendar/
[locale]
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
local_timezone = America/New_York
default_timezone = America/New_York
[sqlite]
path = {home}/khal.db
"""


@dataclass
class Subscriber:
    """vdirsyncer and khal in a home of their own."""

    home: Path

    def start(self, address: str) -> None:
        """Subscribe."""
        (self.home / "calendar").mkdir()
        (self.home / "vdirsyncer.conf").write_text(CONFIG.format(home=self.home, address=address))
        (self.home / "khal.conf").write_text(KHAL.format(home=self.home))
        self._run("vdirsyncer", "discover")

    def sync(self) -> str:
        """Fetch and see what there is over a week, one line an event."""
        self._run("vdirsyncer", "sync")
        form = "{start-date} {start-time} {title} [{status}]"
        return self._run("khal", "list", "--format", form, "--day-format", "", "today", "21d")

    def _run(self, program: str, *words: str) -> str:
        config = {
            "vdirsyncer": ["-c", str(self.home / "vdirsyncer.conf")],
            "khal": ["-c", str(self.home / "khal.conf")],
        }
        done = subprocess.run(
            [str(BIN / program), *config[program], *words],
            capture_output=True, text=True, check=False, env={**os.environ, "HOME": str(self.home)},
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


def lines_with(text: str, *parts: str) -> list[str]:
    """Lines that hold all parts."""
    return [line for line in text.splitlines() if all(part in line for part in parts)]


def test_vdirsyncer_and_khal_follow_a_week(server: Server, tmp_path: Path) -> None:
    """They show the week, then the move, the cancellation and the closure."""
    address = server.run(PREPARE)
    home = tmp_path / "home"
    home.mkdir()
    subscriber = Subscriber(home)
    subscriber.start(address)
    monday, wednesday = server.monday, server.monday + dt.timedelta(days=2)
    before = subscriber.sync()
    first = lines_with(before, f"{monday} 09:20", "One to one")
    second = lines_with(before, f"{wednesday} 09:20", "One to one")
    assert len(first) == len(second) == 1, before
    assert lines_with(before, f"{monday}", "Lunch")
    assert not lines_with(before, "Cancelled")
    server.run(CHANGE)
    after = subscriber.sync()
    moved = lines_with(after, f"{monday} 08:30", "One to one")
    assert len(moved) == 1, after
    assert not lines_with(after, f"{monday} 09:20", "One to one")
    assert len(lines_with(after, f"{wednesday} 09:20", "Cancelled: One to one", "CANCELLED")) == 1
    assert lines_with(after, f"{server.monday + dt.timedelta(days=3)}", "Closed: all schools (Burst pipe)")


def test_the_server_answers_as_the_framework_does(server: Server) -> None:
    """Over a socket: HEAD without a body, 304 with none, no cookie."""
    address = server.run(PREPARE)
    whole = urllib.request.urlopen(address)  # noqa: S310 -- our own server
    body = whole.read()
    head = urllib.request.urlopen(urllib.request.Request(address, method="HEAD"))  # noqa: S310
    assert head.read() == b""
    assert head.headers["Content-Length"] == str(len(body))
    assert whole.headers.get("Set-Cookie") is None
    asked = urllib.request.Request(address, headers={"If-None-Match": whole.headers["ETag"]})  # noqa: S310
    with pytest.raises(urllib.error.HTTPError) as told:
        urllib.request.urlopen(asked)  # noqa: S310
    assert told.value.code == 304
    assert told.value.read() == b""
