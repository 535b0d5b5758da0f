"""What the demo's teacher has after a while: data, reports, stations worked out, a link; on the server's database.

`python manage.py shell -c "from tests.browser.class_hours import make_class_hours; make_class_hours()"`. Invented
words only.
"""

import datetime as dt
import json
import uuid
from decimal import Decimal

from django.utils import timezone

from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.models import Student
from caseload.progress.models import StudentGoal
from caseload.progress.services import DataTaken, data_take, goal_save
from schedule.class_hour.selectors.hours import Hour, hours_of_day
from schedule.class_hour.services import part_save
from schedule.packet.services import packet_link_make
from schedule.stations.choices import RotationChoices
from schedule.stations.selectors.asking import stations_for
from schedule.stations.services import rotation_make
from schedule.telling.models import ProgressReport
from schedule.telling.selectors.reports import shown_sentences
from schedule.telling.services import reports

TEXT = "Will strike a ball off a tee in 4 of 5 trials."


def make_class_hours() -> None:
    """Prints, as the last line, what the tests go to."""
    teacher = Person.objects.get(username="teacher")
    today = today_of(teacher)
    # The first two are those of the tests of taking data.
    *takers, student, other = Student.objects.visible_to(teacher).order_by("pk")[:4]
    goal = _goal(teacher, student, today)
    _goal(teacher, other, today)
    hour = _hour(teacher, today)
    # At these the students need nobody beside them.
    stations = tuple(stations_for(teacher).filter(staff=0).values_list("pk", flat=True)[:3])
    part_save(
        actor=teacher,
        row=next(iter(hour.parts.values())),
        values={"goals": [_goal(teacher, _in_hour(hour, takers), today)]},
    )
    rotation_make(
        actor=teacher, session=uuid.UUID(hour.session.uid), choices=RotationChoices(stations, rounds=2, minutes=4)
    )
    day = hour.session.date
    _, secret = packet_link_make(
        actor=teacher, teacher=teacher, first=day, last=max(day, today), label="Substitute", now=timezone.now()
    )
    told = {
        "student": student.pk,
        "goal": goal.pk,
        "draft": _report(teacher, student, today).pk,
        "signed": _signed(teacher, _report(teacher, other, today), today).pk,
        "session": hour.session.uid,
        "date": day.isoformat(),
        "start": hour.session.start.isoformat(),
        "secret": secret,
    }
    print(json.dumps(told))  # noqa: T201 -- the test reads it


def _goal(teacher: Person, student: Student, today: dt.date) -> StudentGoal:
    """With five weeks of data up to last week, which a chart and a trend are drawn of."""
    values = {
        "text": TEXT,
        "start": today - dt.timedelta(days=60),
        "end": today + dt.timedelta(days=120),
        "baseline": Decimal(1),
    }
    goal = goal_save(actor=teacher, row=StudentGoal(student=student), values=values)
    for weeks, value in enumerate((4, 3, 3, 2, 1), start=1):
        day = today - dt.timedelta(days=7 * weeks)
        data_take(actor=teacher, taken=DataTaken(uuid.uuid4(), goal, day, Decimal(value)))
    return goal


def _hour(teacher: Person, today: dt.date) -> Hour:
    """The session with a routine and the most students of the week in force."""
    monday = today - dt.timedelta(days=today.weekday())
    days = [monday + dt.timedelta(days=ahead) for ahead in range(14)]
    hours = [one for day in days for one in hours_of_day(teacher, teacher, day) if one.routine is not None]
    return max(hours, key=lambda one: len(one.session.attendees))


def _in_hour(hour: Hour, without: list[Student]) -> Student:
    """Somebody in the session."""
    among = Student.objects.filter(pk__in=[one.student_id for one in hour.session.attendees])
    return among.exclude(pk__in=[one.pk for one in without]).order_by("pk")[0]


def _report(teacher: Person, student: Student, today: dt.date) -> ProgressReport:
    """A draft of the last six weeks."""
    return reports.report_begin(
        actor=teacher, student=student, kind=ProgressReport.Kind.PERIOD, name="Six weeks",
        first_day=today - dt.timedelta(days=42), last_day=today, today=today,
    )  # fmt: skip


def _signed(teacher: Person, report: ProgressReport, today: dt.date) -> ProgressReport:
    """Every part read, and signed."""
    parts = shown_sentences(report)
    row = reports.sentences_save(
        actor=teacher, report=report, words={one.pk: one.text for one in parts}, read={one.pk for one in parts},
        expected_revision=report.revision, now=timezone.now(),
    )  # fmt: skip
    return reports.report_sign(
        actor=teacher,
        report=row,
        name=str(teacher),
        expected_revision=row.revision,
        today=today,
        now=timezone.now(),
    )
