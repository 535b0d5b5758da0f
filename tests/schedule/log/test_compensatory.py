"""Compensatory time: what a team decided to give is an account of its own. By hand."""

import datetime as dt
import uuid

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.delivery.models import CompensatoryTime
from caseload.delivery.services.compensatory import compensatory_delete, compensatory_save
from caseload.delivery.services.log import delivery_log
from caseload.delivery.told import LogItem, Outcome
from caseload.ledger.compensatory import CompensatoryAccount
from schedule.log.selectors.ledger import student_ledger
from schedule.reports.selectors.people import student_report
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.log_builders import evening_of, publish_session

NOW = evening_of(date(4))


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """2 x 30 a week, and a week in which one session waits for its log."""
    make_ground(cast)
    publish_session(date(0), [cast.line])
    return cast


@pytest.fixture
def award(ground: Cast) -> CompensatoryTime:
    """The team gives 120 minutes until November."""
    return compensatory_save(
        actor=ground.teacher,
        row=CompensatoryTime(student=ground.student),
        values={
            "minutes": 120,
            "decided_by": "Plan team",
            "decided_on": date(0),
            "until": date(60),
            "note": "",
        },
    )


def give(cast: Cast, award: CompensatoryTime, minutes: int, day: dt.date) -> None:
    """Log minutes for it."""
    item = LogItem(uuid.uuid4(), cast.line, day, minutes, Outcome(minutes), compensatory=award)
    delivery_log(actor=cast.teacher, item=item, now=NOW)


def test_what_is_given_counts_in_its_own_account_and_for_no_service(ground: Cast, award: CompensatoryTime) -> None:
    """30 of 120 given on Tuesday, 45 on Thursday; what the service owes stays as it was."""
    before = student_ledger(ground.teacher, ground.student, date(4)).direct
    give(ground, award, 30, date(1))
    give(ground, award, 45, date(3))
    found = {day: student_ledger(ground.teacher, ground.student, date(day)) for day in (0, 1, 2, 4)}
    assert [(one.compensatory[0].given, one.compensatory[0].left) for one in found.values()] == [
        (0, 120),
        (30, 90),
        (30, 90),
        (75, 45),
    ]
    assert found[4].direct == before
    assert all(row.entry is None for one in found[4].lines for row in one.rows)


def test_a_report_up_to_a_date_knows_no_later_decision(ground: Cast, award: CompensatoryTime) -> None:
    """Nor what was given of it after."""
    assert (
        student_ledger(ground.teacher, ground.student, award.decided_on - dt.timedelta(days=1)).compensatory == ()
    )
    give(ground, award, 30, date(3))
    report = student_report(ground.teacher, ground.student, date(0), date(2), date(4))
    (table,) = [one for one in report.tables if one.title == "Compensatory time"]
    decided, until = dt.date(2026, 9, 14), dt.date(2026, 11, 13)
    assert table.rows == (("Plan team", decided, until, 120, 0, 120),)


@pytest.mark.parametrize(
    ("given", "day", "left", "late"), [(75, 11, 0, False), (20, 10, 40, False), (20, 11, 40, True)]
)
def test_what_is_left_after_the_last_day_is_late(given: int, day: int, left: int, late: bool) -> None:
    """Of 60 minutes until September 24; more than was decided leaves nothing, and never less."""
    found = CompensatoryAccount(1, 60, "Team", date(0), date(10), date(day), given)
    assert (found.left, found.is_late) == (left, late)


def test_minutes_are_either_a_make_up_or_compensatory_and_of_the_same_student(
    ground: Cast, award: CompensatoryTime
) -> None:
    """The field says which."""
    other = make_line(ground, "S77")
    wrong = {
        "makes_up": LogItem(uuid.uuid4(), ground.line, date(1), 30, Outcome(30), makes_up=True, compensatory=award),
        "compensatory": LogItem(uuid.uuid4(), other, date(1), 30, Outcome(30), compensatory=award),
    }
    for field, item in wrong.items():
        with pytest.raises(ValidationError) as refused:
            delivery_log(actor=ground.teacher, item=item, now=NOW)
        assert set(refused.value.error_dict) == {field}


def test_it_is_taken_back_until_some_is_given(ground: Cast, award: CompensatoryTime) -> None:
    """And a last day before the decision, or a decision in the future, is refused by field."""
    later = dt.date(2099, 1, 1)
    with pytest.raises(ValidationError, match="before the decision"):
        compensatory_save(actor=ground.teacher, row=award, values={"until": date(-1)})
    with pytest.raises(ValidationError, match="in the future"):
        compensatory_save(actor=ground.teacher, row=award, values={"decided_on": later, "until": later})
    award.refresh_from_db()
    give(ground, award, 30, date(1))
    with pytest.raises(ApplicationError):
        compensatory_delete(actor=ground.teacher, row=award)
    other = compensatory_save(
        actor=ground.teacher,
        row=CompensatoryTime(student=ground.student),
        values={"minutes": 15, "decided_by": "Team", "decided_on": date(0), "until": date(9)},
    )
    compensatory_delete(actor=ground.teacher, row=other)
    assert CompensatoryTime.objects.count() == 1


def test_pages_record_it_and_log_it_and_the_ledger_shows_it(ground: Cast) -> None:
    """From the ledger to the form and back; then minutes are logged for it."""
    browser = Client()
    browser.force_login(ground.coordinator)
    ledger = reverse("student_ledger", args=[ground.student.pk])
    address = reverse("compensatory_new", args=[ground.student.pk])
    assert address in browser.get(ledger).content.decode()
    assert (
        "Gives compensatory time"
        not in browser.get(reverse("minutes_log", args=[ground.student.pk])).content.decode()
    )
    sent = {"minutes": 90, "decided_by": "Plan team", "decided_on": "2026-09-14", "until": "2026-12-18", "note": ""}
    assert browser.post(address, sent).status_code == 302
    award = CompensatoryTime.objects.get()
    assert award.recorded_by == ground.coordinator
    for name in ("compensatory_change", "compensatory_delete"):
        assert browser.get(reverse(name, args=[award.pk])).status_code == 200
    minutes = {
        "service_line": ground.line.pk,
        "date": "2026-09-15",
        "delivered_minutes": 30,
        "compensatory": award.pk,
        "note": "",
        "client_id": uuid.uuid4(),
    }
    assert browser.post(reverse("minutes_log", args=[ground.student.pk]), minutes).status_code == 302
    page = browser.get(f"{ledger}?as_of=2026-09-18").content.decode()
    assert "60 of 90 minutes left" in page
    assert "Decided by Plan team on September 14, 2026" in page


def test_the_api_does_the_same(ground: Cast) -> None:
    """Record, give, read, and what is given can't be taken back."""
    api = Api(ground.coordinator)
    award = api.post(
        "compensatory-times/",
        student=ground.student.pk,
        minutes=60,
        decided_by="Plan team",
        decided_on="2026-09-14",
        until="2026-12-18",
    )
    api.post(
        "log-entries/",
        client_id=str(uuid.uuid4()),
        service_line=ground.line.pk,
        date="2026-09-15",
        planned_minutes=30,
        delivered_minutes=30,
        compensatory=award["id"],
    )
    (account,) = api.get(f"students/{ground.student.pk}/ledger/", as_of="2026-09-18")["compensatory"]
    assert (account["minutes"], account["given"], account["left"]) == (60, 30, 30)
    api.delete(f"compensatory-times/{award['id']}/", expect=409)
