"""Real calendar programs subscribe over HTTP to a running server and follow what changes.

vdirsyncer fetches by the same rules as a phone (ETag and all), khal shows what a person would see. Evolution's
backend (Debian's evolution-data-server) is the one behind GNOME's calendars.
"""

import datetime as dt
import json
import os
import shutil
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import icalendar
import pytest

from tests.browser.conftest import wait_until_up
from tests.services import free_port, leave_out

pytestmark = pytest.mark.clients
ROOT = Path(__file__).resolve().parents[3]
BIN = Path(sys.executable).parent
# Read by `manage.py shell`: a teacher's week in force, and its feed's address printed.
PREPARE = """
from schedule.feeds.services.feeds import feed_add
from tests.conftest import make_cast
from tests.schedule.builders import date, make_ground, make_line, make_week
from schedule.weeks.services.weeks import week_publish
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
from schedule.calendar.services.records import calendar_entry_save
from schedule.weeks.services.weeks import week_publish, week_session_move, week_session_remove
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
def server(tmp_path: Path, tables: Path) -> Iterator[Server]:
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
    shutil.copy(tables, tmp_path / "site.sqlite3")
    command = [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}", "config.wsgi:application"]
    process = subprocess.Popen(command, cwd=ROOT, env=environment)
    try:
        wait_until_up(one.site, process)
        yield one
    finally:
        process.terminate()
        process.wait(timeout=20)


# Published again as it stands: moved, moved back, and in force as a new version.
NOTHING = """
import datetime as dt
from accounts.models import Person
from schedule.models import PlannedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_move
teacher = Person.objects.get(username="teacher")
monday = dt.date.fromisoformat("{monday}")
week = WeekPlan.objects.get(status="published")
first = PlannedSession.objects.get(week=week, date=monday)
for start in (dt.time(8, 30), first.start):
    week = week_session_move(actor=teacher, week=week, uid=first.uid, date=monday, start=start,
        expected_revision=week.revision)
print(week_publish(actor=teacher, week=week, expected_revision=week.revision).pk)
"""


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


# Over HTTP vdirsyncer names files by what they say; with its own switch for UIDs, by them.
BY_UID = """
from vdirsyncer.cli import app
from vdirsyncer.storage.http import HttpStorage
HttpStorage._ignore_uids = False
app()
"""


@dataclass
class Subscriber:
    """vdirsyncer and khal in a home of their own."""

    home: Path
    by_uid: bool = False
    form: str = "{start-date} {start-time} {title} [{status}]"

    def start(self, address: str) -> None:
        """Subscribe."""
        (self.home / "calendar").mkdir()
        (self.home / "vdirsyncer.conf").write_text(CONFIG.format(home=self.home, address=address))
        (self.home / "khal.conf").write_text(KHAL.format(home=self.home))
        self._run("vdirsyncer", "discover")

    def sync(self) -> str:
        """Fetch and see what there is over a week, one line an event."""
        self._run("vdirsyncer", "sync")
        return self._run("khal", "list", "--format", self.form, "--day-format", "", "today", "21d")

    def files(self) -> dict[str, tuple[int, bytes]]:
        """What lies in the folder: by name, when it was written and what it says."""
        found = (self.home / "calendar").glob("*.ics")
        return {one.name: (one.stat().st_mtime_ns, one.read_bytes()) for one in found}

    def _run(self, program: str, *words: str) -> str:
        config = {
            "vdirsyncer": ["-c", str(self.home / "vdirsyncer.conf")],
            "khal": ["-c", str(self.home / "khal.conf")],
        }
        command = [str(BIN / program)]
        if self.by_uid and program == "vdirsyncer":
            command = [sys.executable, "-c", BY_UID]
        done = subprocess.run(
            [*command, *config[program], *words],
            capture_output=True, text=True, check=False, env={**os.environ, "HOME": str(self.home)},
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


def event_in(content: bytes) -> Any:
    """The one event of a file."""
    (event,) = icalendar.Calendar.from_ical(content).walk("VEVENT")
    return event


def session_on(files: dict[str, tuple[int, bytes]], date: dt.date) -> tuple[str, Any]:
    """The one session on a date, and the name of its file."""
    events = {name: event_in(content) for name, (_, content) in files.items()}
    ((name, event),) = [
        (name, event)
        for name, event in events.items()
        if event["CATEGORIES"].cats == ["Session"] and event.start.date() == date
    ]
    return name, event


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
    first = lines_with(before, f"{monday} 09:20", "Adapted PE")
    second = lines_with(before, f"{wednesday} 09:20", "Adapted PE")
    assert len(first) == len(second) == 1, before
    assert lines_with(before, f"{monday}", "Lunch")
    assert not lines_with(before, "Canceled")
    server.run(CHANGE)
    after = subscriber.sync()
    moved = lines_with(after, f"{monday} 08:30", "Adapted PE")
    assert len(moved) == 1, after
    assert not lines_with(after, f"{monday} 09:20", "Adapted PE")
    assert len(lines_with(after, f"{wednesday} 09:20", "Canceled: Adapted PE", "CANCELLED")) == 1
    assert lines_with(after, f"{server.monday + dt.timedelta(days=3)}", "Closed: all schools (Burst pipe)")


@pytest.mark.parametrize("by_uid", [False, True])
def test_vdirsyncer_writes_what_changed_only(server: Server, tmp_path: Path, by_uid: bool) -> None:
    """A new version in which nothing changed changes no file; a move changes the session's own.

    The moved session keeps its UID, and SEQUENCE rises (RFC 5545 sections 3.8.4.7 and 3.8.7.4).
    """
    home = tmp_path / "home"
    home.mkdir()
    subscriber = Subscriber(home, by_uid)
    subscriber.start(server.run(PREPARE))
    subscriber.sync()
    before = subscriber.files()
    assert len(before) > 2
    version = server.run(NOTHING)
    subscriber.sync()
    assert subscriber.files() == before, "a version in which nothing changed was written"
    assert server.run(NOTHING) != version, "no version was published"
    server.run(CHANGE)
    subscriber.sync()
    after = subscriber.files()
    old = session_on(before, server.monday)
    new = session_on(after, server.monday)
    assert (old[1].start.hour, new[1].start.hour) == (9, 8)
    assert new[1]["SEQUENCE"] > old[1]["SEQUENCE"]
    assert new[1]["LAST-MODIFIED"].dt > old[1]["LAST-MODIFIED"].dt
    if by_uid:
        assert new[0] == old[0]
        assert new[1]["UID"] == old[1]["UID"]


SYSTEM_PYTHON = Path("/usr/bin/python3")
EVOLUTION = Path(__file__).parent / "readers" / "evolution.py"
HAS_IT = "import gi; gi.require_version('ECal', '2.0'); gi.require_version('EDataServer', '1.2')"
WAIT_SECONDS = 60


class Evolution:
    """Evolution's calendar backend in a home and on a bus of its own."""

    def __init__(self, home: Path, address: str) -> None:
        folders = {name: home / name for name in ("CONFIG", "DATA", "CACHE", "RUNTIME")}
        for folder in folders.values():
            folder.mkdir(mode=0o700, parents=True)
        kept = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG", "LC_ALL")}
        xdg = {f"XDG_{name}_{'DIR' if name == 'RUNTIME' else 'HOME'}": str(path) for name, path in folders.items()}
        self.process = subprocess.Popen(
            ["dbus-run-session", "--", str(SYSTEM_PYTHON), str(EVOLUTION), address],
            env={**kept, **xdg, "HOME": str(home), "GSETTINGS_BACKEND": "memory"},
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
        )  # fmt: skip

    def sync(self) -> list[Any]:
        """Fetch again until something else is there, and what is."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{WAIT_SECONDS}\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        assert line, "Evolution's backend ended"
        return [icalendar.Event.from_ical(text) for text in json.loads(line)]

    def end(self) -> None:
        """Let go of the bus; its services end with it."""
        self.process.communicate(timeout=WAIT_SECONDS)


@pytest.fixture
def evolution(tmp_path: Path, server: Server) -> Iterator[Evolution]:
    """Evolution's backend, subscribed to the teacher's feed."""
    looked = subprocess.run([SYSTEM_PYTHON, "-c", HAS_IT], capture_output=True, check=False)
    if shutil.which("dbus-run-session") is None or looked.returncode != 0:
        packages = "evolution-data-server, gir1.2-ecal-2.0, python3-gi and dbus-daemon"
        leave_out(f"Evolution's calendar backend (Debian packages {packages})", "its subscription to a feed")
    one = Evolution(tmp_path / "evolution", server.run(PREPARE))
    try:
        yield one
    finally:
        one.end()


def told_as(events: list[Any], summary: str, date: dt.date) -> list[tuple[dt.time, str]]:
    """Wall-clock starts and states of the events of a name on a date."""
    return [
        (event.start.time(), str(event["STATUS"]))
        for event in events
        if str(event["SUMMARY"]).startswith(summary) and event.start.date() == date
    ]


def test_evolution_follows_a_week(server: Server, evolution: Evolution) -> None:
    """Its backend shows the week, then the move, the cancellation and the closure."""
    monday, wednesday, thursday = (server.monday + dt.timedelta(days=days) for days in (0, 2, 3))
    before = evolution.sync()
    assert told_as(before, "Adapted PE", monday) == [(dt.time(9, 20), "CONFIRMED")]
    assert told_as(before, "Adapted PE", wednesday) == [(dt.time(9, 20), "CONFIRMED")]
    server.run(CHANGE)
    after = evolution.sync()
    assert told_as(after, "Adapted PE", monday) == [(dt.time(8, 30), "CONFIRMED")]
    assert told_as(after, "Adapted PE", wednesday) == []
    assert told_as(after, "Canceled: Adapted PE", wednesday) == [(dt.time(9, 20), "CANCELLED")]
    (closure,) = [event for event in after if str(event["SUMMARY"]).startswith("Closed: all schools")]
    assert (closure.start, closure.end) == (thursday, thursday + dt.timedelta(days=1))
    numbers = {str(event["UID"]): int(event["SEQUENCE"]) for event in after}
    sessions = [event for event in before if event["CATEGORIES"].cats == ["Session"]]
    assert len(sessions) == 2
    assert all(numbers[str(event["UID"])] > event["SEQUENCE"] for event in sessions)


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
