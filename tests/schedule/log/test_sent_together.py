"""What a phone sends in one request is answered, and stored, as if each had come alone.

The oracle is the program itself with one request a sending: the same sequence from the same beginning.
"""

import datetime as dt
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import transaction
from django.test import Client
from django.utils import timezone
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from accounts.idempotency.together import OneSending, sendings_carry
from accounts.models import AuditEntry, IdempotencyKey, Person
from caseload.delivery.models import DeliveryVersion
from caseload.progress.models import DataPoint, StudentGoal
from schedule.calendar.models import CalendarEntry, Happening
from schedule.weeks.models import PlannedSession
from schedule.weeks.selectors.pages import district_today
from tests.browser.phone_day import DRIVES, TEACHER, make_phone_day
from travel.drives.models import DriveLog
from travel.places.models import Building

pytestmark = [pytest.mark.django_db, pytest.mark.long]
TOKEN = "t" * 32
"""Against forgery: each part of a request is asked for it."""
TIMES = ("noted_at", "taken_at", "at")
MADE = {"id", "taken_at"}
"""What an answer holds that isn't the same when the same is done again."""
NUMBER = st.integers(0, 7)
STEPS = st.lists(
    st.tuples(
        st.sampled_from([
            "log", "log", "absent", "undo", "data", "data", "nobodys_data", "start", "arrive", "start", "arrive",
            "drive_undo", "closed", "away", "student_away", "mark", "nowhere",
        ]),
        NUMBER,
        NUMBER,
    ),
    min_size=2,
    max_size=14,
)  # fmt: skip
type Sending = dict[str, Any]
type Told = list[tuple[int, Any]]


@dataclass(frozen=True)
class Day:
    """A teacher's day as it lies on the phone."""

    phone: Client
    day: dt.date
    begun: dt.datetime
    sessions: Sequence[PlannedSession]
    lines: Sequence[int]
    goals: Sequence[int]
    legs: Sequence[str]
    far: int

    def sending(self, place: int, kind: str, which: int, other: int) -> Sending:
        """What a step sends; under the key of another step now and then."""
        url, body = getattr(self, f"_{kind}")(which, other)
        moment = (self.begun + dt.timedelta(milliseconds=10 * place)).isoformat()
        body |= {name: moment for name in TIMES if name in body}
        key = f"key-number-{place if other < 7 else which}"
        after = [f"key-number-{which}"] if kind == "arrive" and other % 2 and which < place else []
        return {"key": key, "url": url, "body": body, "after": after}

    def _id(self, what: str, number: int) -> str:
        return str(uuid.uuid5(uuid.NAMESPACE_OID, f"{what} {number}"))

    def _log(self, which: int, other: int) -> tuple[str, Sending]:
        session = self.sessions[which % len(self.sessions)]
        body = {"session": str(session.uid), "client_id": self._id("log", other), "exceptions": []}
        return "/api/1/session-logs/", {**body, "noted_at": ""}

    def _absent(self, which: int, other: int) -> tuple[str, Sending]:
        url, body = self._log(which, other)
        line = self.lines[(which if other < 5 else other) % len(self.lines)]
        return url, {**body, "exceptions": [{"service_line": line, "reason": "student_absent"}]}

    def _undo(self, which: int, other: int) -> tuple[str, Sending]:
        return "/api/1/log-undos/", {"client_id": self._id("log", other)}

    def _data(self, which: int, other: int) -> tuple[str, Sending]:
        day = self.day + dt.timedelta(days=other == 6)
        body = {"goal": self.goals[which % len(self.goals)], "day": str(day), "value": str(other)}
        return "/api/1/data-points/", {**body, "client_id": self._id("data", other), "taken_at": ""}

    def _nobodys_data(self, which: int, other: int) -> tuple[str, Sending]:
        url, body = self._data(which, other)
        return url, {**body, "goal": 10**6 + which}

    def _tap(self, which: int) -> Sending:
        return {"leg": self.legs[which % len(self.legs)], "at": ""}

    def _start(self, which: int, other: int) -> tuple[str, Sending]:
        return f"/api/1/days/{self.day}/start/", self._tap(which)

    def _arrive(self, which: int, other: int) -> tuple[str, Sending]:
        return f"/api/1/days/{self.day}/arrive/", self._tap(which)

    def _drive_undo(self, which: int, other: int) -> tuple[str, Sending]:
        return f"/api/1/days/{self.day}/undo/", {**self._tap(which), "tap": "start" if other % 2 else "arrive"}

    def _said(self, kind: str, **values: Any) -> tuple[str, Sending]:
        return "/api/1/happenings/", {"kind": kind, "first_date": str(self.day), **values}

    def _closed(self, which: int, other: int) -> tuple[str, Sending]:
        return self._said("closed", buildings=[self.far])

    def _away(self, which: int, other: int) -> tuple[str, Sending]:
        return self._said("away", start=f"{9 + other}:00", end=f"{10 + other}:00")

    def _student_away(self, which: int, other: int) -> tuple[str, Sending]:
        session = self.sessions[which % len(self.sessions)]
        return self._said("student_absent", student=session.attendees.get().student_id)

    def _mark(self, which: int, other: int) -> tuple[str, Sending]:
        return "/api/1/day-marks/", {"date": str(self.day), "client_id": self._id("mark", other)}

    def _nowhere(self, which: int, other: int) -> tuple[str, Sending]:
        return ("/day/", {}) if which % 2 else ("/api/1/own-password/", {})

    def alone(self, sendings: Sequence[Sending]) -> Told:
        """Each in a request of its own; what hangs on one that wasn't taken isn't sent."""
        missing: set[str] = set()
        answers: Told = []
        for one in sendings:
            if set(one["after"]) & missing:
                answers.append((424, "waits"))
            elif not one["url"].startswith("/api/") or "own-password" in one["url"]:
                answers.append((400, "not_an_operation"))
            else:
                headers = {"Idempotency-Key": f'"{one["key"]}"', "Prefer": "return=minimal"}
                sent = self.phone.post(one["url"], one["body"], content_type="application/json", headers=headers)
                answers.append((sent.status_code, said(sent.json() if sent.content else None)))
            if answers[-1][0] >= 300:
                missing.add(one["key"])
        return answers

    def together(self, sendings: Sequence[Sending]) -> Told:
        """All of them in one request, however long a busy machine takes for it."""
        request = self.phone.get("/health/", headers={"Prefer": "return=minimal"}).wsgi_request
        told = [OneSending(one["key"], one["url"], one["body"], frozenset(one["after"])) for one in sendings]
        return [(one.status, said(one.body)) for one in sendings_carry(request, told, clock=lambda: 0.0)]


def said(body: Any) -> Any:
    """An answer without what is made anew; of the list's own refusals only the code."""
    if isinstance(body, list):
        return [said(one) for one in body]
    if not isinstance(body, dict):
        return body
    if body.get("code") in {"waits", "not_an_operation"}:
        return body["code"]
    return {name: said(value) for name, value in body.items() if name not in MADE and not name.endswith("_at")}


def stands() -> dict[str, list[Any]]:
    """Everything that these sendings can write, but for ids and the moments of storing."""
    logs = DeliveryVersion.objects.order_by("pk").values_list(
        "entry__session_uid", "number", "delivered_minutes", "reason__code", "noted_at"
    )
    drives = DriveLog.objects.order_by("pk").values_list("planned_drive", "started_at", "arrived_at", "date")
    return {
        "log": list(logs),
        "data": list(DataPoint.objects.order_by("pk").values_list("client_id", "goal", "value", "taken_at", "day")),
        "drives": list(drives),
        "said": list(Happening.objects.order_by("pk").values_list("kind", "student", "start", "taken_back_at")),
        "calendar": list(CalendarEntry.objects.order_by("pk").values_list("kind", "building", "first_date")),
        "keys": list(IdempotencyKey.objects.order_by("pk").values_list("key", "status", "content")),
        "audit": list(AuditEntry.objects.order_by("pk").values_list("actor", "action", "model")),
    }


@pytest.fixture
def day() -> Day:
    make_phone_day()
    teacher = Person.objects.get(username=TEACHER)
    phone = Client(headers={"X-CSRFToken": TOKEN})
    phone.cookies["csrftoken"] = TOKEN
    phone.force_login(teacher, backend="accounts.sign_in.backends.PasswordBackend")
    today = district_today(teacher)
    midnight = dt.datetime.combine(today, dt.time(), ZoneInfo("America/New_York"))
    places = {one.name.split()[0]: one.pk for one in Building.objects.all()}
    ways = [f"{places[one]}-{places[other]}" for one, other, _ in DRIVES]
    sessions = list(PlannedSession.objects.order_by("start"))
    return Day(
        phone=phone,
        day=today,
        begun=max(midnight, timezone.now() - dt.timedelta(seconds=1)),
        sessions=sessions,
        lines=[one.attendees.get().service_line_id for one in sessions],
        goals=list(StudentGoal.objects.order_by("pk").values_list("pk", flat=True)),
        legs=[f"{way}-{ways[: place + 1].count(way)}" for place, way in enumerate(ways)],
        far=places["Far"],
    )


def from_here(act: Callable[[], Told]) -> tuple[Told, dict[str, list[Any]]]:
    """What comes of it, and nothing stays."""
    with transaction.atomic():
        answers, found = act(), stands()
        transaction.set_rollback(True)
    return answers, found


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(STEPS)
@example([("start", 0, 0), ("arrive", 0, 1), ("start", 1, 0), ("arrive", 1, 0), ("drive_undo", 1, 0)])
@example([("log", 0, 0), ("closed", 0, 0), ("log", 1, 1), ("start", 1, 0), ("mark", 0, 0)])
@example([("log", 0, 0), ("undo", 0, 0), ("log", 0, 1), ("absent", 0, 2), ("log", 0, 0)])
@example([("start", 0, 0), ("closed", 0, 0), ("arrive", 0, 0), ("start", 2, 0)])
def test_each_is_answered_and_stored_as_it_would_be_alone(day: Day, steps: list[tuple[str, int, int]]) -> None:
    sendings = [day.sending(place, *step) for place, step in enumerate(steps)]
    answers, stood = from_here(lambda: day.alone(sendings))
    assert from_here(lambda: day.together(sendings)) == (answers, stood)


def test_the_comparison_sees_what_was_taken(day: Day) -> None:
    """Of a plain day all is taken: nothing above holds because everything is refused."""
    steps = [("log", 0, 0), ("data", 0, 1), ("start", 0, 2), ("arrive", 0, 3), ("absent", 1, 4), ("data", 3, 5)]
    answers, stood = from_here(
        lambda: day.together([day.sending(place, *step) for place, step in enumerate(steps)])
    )
    assert [status for status, _ in answers] == [201, 201, 200, 200, 201, 201]
    assert [len(stood[name]) for name in ("log", "data", "drives", "keys")] == [2, 2, 1, 6]
