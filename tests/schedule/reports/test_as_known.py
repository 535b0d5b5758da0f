"""Reports as they were known on a day: corrections, decisions, services and rules of later are not in them."""

import datetime as dt
from typing import Any

import pytest
from django.db.models import F
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.models import DeliveryVersion, TeamDecision
from caseload.delivery.selectors.known import rule_book_known
from caseload.delivery.selectors.log import rule_book_of
from caseload.delivery.services.log import decision_record, delivery_correct
from caseload.delivery.services.rules import ledger_settings_delete, ledger_settings_save, reasons_save
from caseload.delivery.told import Outcome
from caseload.ledger.report_data import report_from_json
from caseload.plans.models import ServiceLine
from caseload.plans.services import service_line_save
from caseload.plans.services.enrollments import enrollment_take_back, student_leave, student_move
from jobs.runner import run_job
from schedule.calendar.models import CalendarEntry
from schedule.calendar.services.records import calendar_entry_save
from schedule.log.known import known_on
from schedule.reports.models import StoredReport
from schedule.reports.selectors import places
from schedule.reports.selectors.known import known_of
from schedule.reports.selectors.people import student_report, teacher_report
from schedule.reports.selectors.places import building_report, district_report
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.builders import YEAR_START, date, make_ground, make_line
from tests.schedule.log_builders import evening_of, log_line
from travel.places.models import Building

AS_OF = date(6)
"""The Sunday of the first week."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """2 x 30 a week; one session held, one missed for a reason left to the team, all of it some days ago."""
    make_ground(cast)
    ledger_settings_save(actor=cast.coordinator, values={"counts_from": date(0), "short_week": "whole"})
    log_line(cast, date(0))
    log_line(cast, date(2), outcome=Outcome(reason="medical"))
    some_days_ago()
    return cast


def some_days_ago() -> None:
    """Everything that was written so far was written ten days earlier: the program stamps rows by the clock."""
    ten = dt.timedelta(days=10)
    DeliveryVersion.objects.update(logged_at=F("logged_at") - ten)
    TeamDecision.objects.update(recorded_at=F("recorded_at") - ten)
    AuditEntry.objects.update(at=F("at") - ten)


def figures(cast: Cast, *, then: bool) -> dict[str, int]:
    """The services' figures in the service record, now or as known five days ago."""
    today = date_there()
    known = known_of(cast.district, today - dt.timedelta(days=5), today) if then else None
    table = student_report(cast.teacher, cast.student, date(0), AS_OF, today, known).tables[0]
    names = ("Owed", "Delivered", "Not owed", "Team decides", "Still owed")
    return {name: sum(int(str(row[table.columns.index(name)])) for row in table.rows) for name in names}


def test_what_nobody_changed_since_is_the_same(ground: Cast) -> None:
    """60 owed, 30 delivered, 30 left to the team, by hand from 2 x 30 a week."""
    assert figures(ground, then=True) == figures(ground, then=False)
    assert figures(ground, then=True) == {
        "Owed": 60, "Delivered": 30, "Not owed": 0, "Team decides": 30, "Still owed": 0,
    }  # fmt: skip


def changes_of(cast: Cast) -> dict[str, Any]:
    """Each kind of change since, with what it does now."""
    held, missed = cast.line.entries.order_by("date")

    def correct() -> None:
        delivery_correct(
            actor=cast.coordinator, entry=held, outcome=Outcome(10, "testing"), expected_revision=held.revision
        )

    def withdraw() -> None:
        delivery_correct(actor=cast.coordinator, entry=held, outcome=None, expected_revision=held.revision)

    def decide() -> None:
        decision_record(
            actor=cast.teacher, entry=missed, effect="owed", decided_by="Team", decided_on=date(3),
            expected_revision=missed.revision, now=evening_of(date(4)),
        )  # fmt: skip

    return {
        "a correction": correct,
        "a log taken back": withdraw,
        "a later session": lambda: log_line(cast, date(4)),
        "a decision": decide,
        "another frequency": lambda: service_line_save(
            actor=cast.coordinator, row=cast.line, values={"statement": "3 x 30 min/week"}
        ),
        "another first day": lambda: service_line_save(
            actor=cast.coordinator, row=cast.line, values={"start": date(2)}
        ),
        "a new service": lambda: service_line_save(
            actor=cast.coordinator,
            row=ServiceLine(plan=cast.plan, provider=cast.teacher),
            values={"statement": "1 x 30 min/week"},
        ),
        "a last day": lambda: student_leave(actor=cast.coordinator, student=cast.student, last_day=date(2)),
        "what a reason does": lambda: reasons_save(
            actor=cast.coordinator, values={"medical": {"effect": "not_owed"}}
        ),
        "what a reason does from a day on": lambda: reasons_save(
            actor=cast.coordinator, values={"medical": {"effect": "not_owed", "first_day": date(1)}}
        ),
    }


KINDS = (
    "a correction", "a log taken back", "a later session", "a decision", "another frequency", "another first day",
    "a new service", "a last day", "what a reason does", "what a reason does from a day on",
)  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_a_change_since_then_is_not_in_it(ground: Cast, kind: str) -> None:
    """Now the figures are others; as known five days ago they are those of before."""
    before = figures(ground, then=False)
    changes_of(ground)[kind]()
    assert figures(ground, then=False) != before
    assert figures(ground, then=True) == before


def test_every_kind_of_change_is_tried(ground: Cast) -> None:
    """The list above is the whole of them."""
    assert set(changes_of(ground)) == set(KINDS)


def test_a_change_before_then_is_in_it(ground: Cast) -> None:
    """Corrected ten days ago: told both ways."""
    changes_of(ground)["a correction"]()
    some_days_ago()
    assert figures(ground, then=True) == figures(ground, then=False)
    assert figures(ground, then=True)["Delivered"] == 10


def test_rules_taken_back_since_then_still_held_then(ground: Cast) -> None:
    """Deleted rules are there again, in figures and in the sentences."""
    row = ledger_settings_save(actor=ground.coordinator, values={"first_day": YEAR_START, "carry_ahead": True})
    some_days_ago()
    ledger_settings_delete(actor=ground.coordinator, row=row)
    today = date_there()
    known = known_of(ground.district, today - dt.timedelta(days=5), today)
    then = student_report(ground.teacher, ground.student, date(0), AS_OF, today, known).rules
    now = student_report(ground.teacher, ground.student, date(0), AS_OF, today).rules
    assert any("count for other periods" in one for one in then)
    assert not any("count for other periods" in one for one in now)


def test_rules_that_nobody_changed_are_known_as_they_are(ground: Cast) -> None:
    """Every rule that a district can set, each otherwise than it ships."""
    ledger_settings_save(
        actor=ground.coordinator,
        values={"first_day": YEAR_START, "short_week": "proportion", "carry_ahead": True, "least_minutes": 20},
    )
    reasons_save(actor=ground.coordinator, values={"medical": {"effect": "owed", "first_day": date(3)}})
    assert rule_book_known(ground.district, timezone.now()) == rule_book_of(ground.district)


def test_what_cannot_be_known_is_said(ground: Cast) -> None:
    """The calendar is told as it is now, and how often it was changed since."""
    day = {"first_date": date(30), "last_date": date(30), "kind": "closed"}
    calendar_entry_save(actor=ground.coordinator, row=CalendarEntry(), values=day)
    make_line(ground, "Z1")
    today = date_there()
    known = known_of(ground.district, today - dt.timedelta(days=5), today)
    reports = (
        student_report(ground.coordinator, ground.student, date(0), AS_OF, today, known),
        teacher_report(ground.coordinator, ground.teacher, date(0), today, known),
        building_report(ground.coordinator, ground.north, AS_OF, today, known),
        district_report(ground.coordinator, AS_OF, today, known),
    )
    for report in reports:
        assert "the calendar and published weeks as they are now" in report.notes[0], report.kind
        assert "special days 1" in report.notes[1], report.kind
        assert "As known on" in dict(report.facts), report.kind
    assert not student_report(ground.coordinator, ground.student, date(0), AS_OF, today).notes


def students_of(cast: Cast, building: Building, *, then: bool) -> list[str]:
    """Whom the building's report lists, and the school on each one's own record, now or as known five days ago."""
    today = date_there()
    known = known_of(cast.district, today - dt.timedelta(days=5), today) if then else None
    return [str(row[0]) for row in building_report(cast.coordinator, building, AS_OF, today, known).tables[0].rows]


def school_of(cast: Cast, *, then: bool) -> str:
    """The school on the service record."""
    today = date_there()
    known = known_of(cast.district, today - dt.timedelta(days=5), today) if then else None
    return dict(student_report(cast.teacher, cast.student, date(0), AS_OF, today, known).facts)["School"]


def test_who_has_moved_since_was_at_the_school_before(ground: Cast) -> None:
    """In the building's report and on the record; the move is not in what was known."""
    code, north, south = ground.student.code, ground.north, ground.south
    student_move(
        actor=ground.coordinator, student=ground.student, from_day=date(2), values={"building": ground.south}
    )
    assert (students_of(ground, north, then=True), students_of(ground, south, then=True)) == ([code], [])
    assert (students_of(ground, north, then=False), students_of(ground, south, then=False)) == ([], [code])
    assert (school_of(ground, then=True), school_of(ground, then=False)) == (str(north), str(south))


def test_a_move_that_was_taken_back_since_still_held_then(ground: Cast) -> None:
    """What is deleted by now is there again."""
    moved = student_move(
        actor=ground.coordinator, student=ground.student, from_day=date(2), values={"building": ground.south}
    )
    some_days_ago()
    enrollment_take_back(actor=ground.coordinator, row=moved)
    code = ground.student.code
    assert (students_of(ground, ground.south, then=True), students_of(ground, ground.south, then=False)) == (
        [code],
        [],
    )
    assert (school_of(ground, then=True), school_of(ground, then=False)) == (str(ground.south), str(ground.north))


def test_a_large_district_is_told_as_it_was_known_in_the_background(
    ground: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By the page and by the API, beside the report of now, with the same figures as at once."""
    today = date_there()
    day = today - dt.timedelta(days=5)
    changes_of(ground)["a correction"]()
    at_once = district_report(ground.coordinator, AS_OF, today, known_of(ground.district, day, today))
    monkeypatch.setattr(places, "AT_ONCE", 0)
    client = Client()
    client.force_login(ground.coordinator)
    address = f"{reverse('report_district')}?last={AS_OF}&known={day}"
    assert "Work it out" in client.get(address).content.decode()
    assert client.post(address, {"start": "1"}).status_code == 302
    Api(ground.coordinator).post(f"reports/district/?last={AS_OF}&known={day}", 202)
    stored = StoredReport.objects.get()
    run_job(stored.job_id)
    page = client.get(address).content.decode()
    assert "As known on" in page
    stored.refresh_from_db()
    assert report_from_json(stored.content).tables == at_once.tables
    assert "Work it out" in client.get(f"{reverse('report_district')}?last={AS_OF}").content.decode()


def test_the_evening_is_the_districts() -> None:
    """November 30 ends at midnight in Chicago: 6 in the morning of December 1, UTC (six hours behind in winter)."""
    found = known_on(dt.date(2026, 11, 30), "America/Chicago")
    assert found.moment == dt.datetime(2026, 12, 1, 6, tzinfo=dt.UTC)


def test_pages_files_and_the_api_tell_it_alike(ground: Cast) -> None:
    """The address asks for it; a day in the future is refused with the remedy."""
    changes_of(ground)["a correction"]()
    today = date_there()
    then, later = today - dt.timedelta(days=5), today + dt.timedelta(days=2)
    client = Client()
    client.force_login(ground.teacher)
    address = reverse("report_student", args=[ground.student.pk])
    asked: dict[str, Any] = {"first": str(date(0)), "last": str(AS_OF)}
    page = client.get(address, {**asked, "known": str(then)}).content.decode()
    assert "As known on" in page
    content = client.post(f"{address}?first={date(0)}&last={AS_OF}&known={then}", {"form": "csv"}).content.decode()
    assert "As known on" in content
    api = Api(ground.teacher)
    services = api.get(f"reports/students/{ground.student.pk}/", **asked, known=str(then))["tables"][0]
    assert services["rows"][0][services["columns"].index("Delivered")] == 30
    assert "is in the future" in client.get(address, {**asked, "known": str(later)}).content.decode()
    assert (
        api.get(f"reports/students/{ground.student.pk}/", 409, **asked, known=str(later))["code"] == "known_later"
    )
    with pytest.raises(ApplicationError):
        known_of(ground.district, later, today)
