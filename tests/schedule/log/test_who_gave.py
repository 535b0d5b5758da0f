"""Each session keeps whose it was and who gave it. Common practice, no source; people are invented."""

import datetime as dt
import uuid
from importlib import import_module

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connection

from accounts.models import Substitution
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import delivery_correct, delivery_log
from caseload.delivery.services.rules import ledger_settings_save
from caseload.delivery.told import AS_PLANNED, LogItem, Outcome
from caseload.plans.models import Student
from caseload.plans.services import service_line_save
from caseload.plans.services.enrollments import caseload_assign, student_enroll, student_move
from schedule.log.services import session_log
from schedule.reports.selectors.people import student_report, teacher_report
from schedule.reports.selectors.places import building_report
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground
from tests.schedule.log_builders import evening_of, log_line, log_session, publish_session

FRIDAY = date(4)
OCTOBER = dt.date(2026, 10, 1)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """S01 owes 2 x 30 a week."""
    make_ground(cast)
    return cast


def test_septembers_report_stays_with_septembers_teacher(ground: Cast) -> None:
    """The service is another teacher's afterward, even by a correction: delivered and planned minutes stay."""
    log_session(ground.teacher, publish_session(date(0), [ground.line]))
    publish_session(date(2), [ground.line])
    before = teacher_report(ground.coordinator, ground.teacher, MONDAY, OCTOBER).tables[0].rows
    service_line_save(actor=ground.coordinator, row=ground.line, values={"provider": ground.mate})
    after = teacher_report(ground.coordinator, ground.teacher, MONDAY, OCTOBER).tables[0].rows
    # Code, planned, delivered, made up, missed, not logged; what is owed at the end is the mate's now.
    assert [(row[0], *row[2:7]) for row in after] == [(row[0], *row[2:7]) for row in before]
    assert [(row[0], *row[2:7]) for row in after] == [("S01", 60, 30, 0, 0, 30)]
    (mates,) = teacher_report(ground.coordinator, ground.mate, MONDAY, OCTOBER).tables[0].rows
    assert (mates[0], *mates[2:7]) == ("S01", 0, 0, 0, 0, 0)


def test_a_substitutes_session_says_who_gave_it(ground: Cast) -> None:
    """Nothing has to be typed; a correction by the teacher keeps it, and may say otherwise."""
    Substitution.objects.create(
        substitute=ground.substitute,
        teacher=ground.teacher,
        first_date=dt.date(2020, 1, 1),
        last_date=dt.date(2100, 1, 1),
    )
    (entry,) = log_session(ground.substitute, publish_session(date(0), [ground.line]))
    assert entry.provider == ground.teacher
    assert entry.versions.get().given_by == "Substitute Vey"
    now = evening_of(FRIDAY)
    for outcome in (
        Outcome(20, "student_absent"),
        Outcome(25, "student_absent", given_by="Ina Holt", given_under="T. Vey"),
    ):
        entry = delivery_correct(
            actor=ground.teacher, entry=entry, outcome=outcome, expected_revision=entry.revision, now=now
        )
    assert list(entry.versions.order_by("number").values_list("given_by", "given_under")) == [
        ("Substitute Vey", ""),
        ("Substitute Vey", ""),
        ("Ina Holt", "T. Vey"),
    ]
    sessions = student_report(ground.coordinator, ground.student, MONDAY, FRIDAY, FRIDAY).tables[-1]
    assert sessions.columns[-1] == "Given by"
    assert [row[-1] for row in sessions.rows] == ["Ina Holt, under T. Vey"]


def covering(cast: Cast) -> None:
    """The substitute stands in for the teacher, ever."""
    Substitution.objects.create(
        substitute=cast.substitute,
        teacher=cast.teacher,
        first_date=dt.date(2020, 1, 1),
        last_date=dt.date(2100, 1, 1),
    )


def under_whom_from(cast: Cast, day: dt.date) -> None:
    """The district asks for it from a day on."""
    ledger_settings_save(actor=cast.coordinator, values={"first_day": day, "under_required": True})


def test_a_district_that_asks_under_whom_refuses_a_log_without_it(ground: Cast) -> None:
    """By the date of the session: Monday's needs nothing, Wednesday's does, and nobody's who missed it."""
    covering(ground)
    under_whom_from(ground, date(1))
    assert log_session(ground.substitute, publish_session(date(0), [ground.line]))
    session = publish_session(date(2), [ground.line])
    with pytest.raises(ValidationError) as refused:
        session_log(actor=ground.substitute, session=session, client_id=uuid.uuid4(), now=evening_of(FRIDAY))
    assert "Say under whom Substitute Vey gave it" in refused.value.messages[0]
    absent = Outcome(reason="student_absent")
    (entry,) = session_log(
        actor=ground.substitute,
        session=session,
        client_id=uuid.uuid4(),
        exceptions={ground.line.pk: absent},
        now=evening_of(FRIDAY),
    )
    with pytest.raises(ValidationError, match="under whom"):
        delivery_correct(
            actor=ground.teacher, entry=entry, outcome=Outcome(30), expected_revision=1, now=evening_of(FRIDAY)
        )
    told = Outcome(30, given_under="Teacher Vey")
    delivery_correct(actor=ground.teacher, entry=entry, outcome=told, expected_revision=1, now=evening_of(FRIDAY))
    assert entry.versions.current().get().given_under == "Teacher Vey"


def test_the_providers_own_session_says_nothing_of_under_whom(ground: Cast) -> None:
    """Also where the district asks."""
    under_whom_from(ground, date(-7))
    (entry,) = log_session(ground.teacher, publish_session(date(0), [ground.line]))
    assert entry.versions.get().given_by == ""


def test_a_session_is_logged_by_the_clock_of_its_building(ground: Cast) -> None:
    """South lies three hours west; a session of a day is logged there although North's next day has begun."""
    ground.south.time_zone = "America/Los_Angeles"
    ground.south.save()
    student_move(actor=ground.teacher, student=ground.student, from_day=date(1), values={"building": ground.south})
    student = Student.objects.get(pk=ground.student.pk)
    line = student.plans.get().lines.get()
    assert [line.building_on(day).code for day in (date(0), date(1))] == ["NORTH", "SOUTH"]


def test_who_had_the_caseload_that_day_may_log_it(ground: Cast) -> None:
    """The mate from Wednesday on, for a service of the teacher's: Wednesday's session and not Monday's."""
    student_enroll(student=ground.student)
    caseload_assign(actor=ground.coordinator, student=ground.student, teacher=ground.mate, from_day=date(2))

    def log(day: dt.date) -> DeliveryEntry:
        item = LogItem(uuid.uuid4(), ground.line, day, 30, AS_PLANNED)
        return delivery_log(actor=ground.mate, item=item, now=evening_of(FRIDAY))

    assert log(date(2)).provider == ground.teacher
    with pytest.raises(Exception, match="nothing here that you can see"):
        log(date(0))


def test_a_buildings_report_names_who_was_there_on_its_date(ground: Cast) -> None:
    """North before the move, South after it."""
    student_move(actor=ground.teacher, student=ground.student, from_day=date(7), values={"building": ground.south})

    def codes(building: object, as_of: dt.date) -> list[object]:
        report = building_report(ground.coordinator, building, as_of, OCTOBER)  # type: ignore[arg-type]  # a Building
        return [row[0] for row in report.tables[0].rows]

    assert codes(ground.north, FRIDAY) == ["S01"]
    assert codes(ground.south, FRIDAY) == []
    assert codes(ground.north, date(11)) == []
    assert codes(ground.south, date(11)) == ["S01"]


def test_entries_from_before_get_their_services_provider(ground: Cast) -> None:
    """Who had the service then was never kept."""
    entry = log_line(ground, date(0))
    DeliveryEntry.objects.update(provider=None)
    import_module("caseload.migrations.0019_providers_of_entries").fill(apps, connection.schema_editor())
    entry.refresh_from_db()
    assert entry.provider == ground.teacher
