"""How a district stands: what is counted of each teacher, when, and that the sums are those of the reports."""

import datetime as dt

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.selectors import today_of
from caseload.delivery.told import Outcome
from jobs.models import Job
from schedule.attention.selectors.rows import Kind
from schedule.overview.models import CountedCause, CountedServices, TeacherCount
from schedule.overview.selectors.counting import past_sums, week_sum
from schedule.overview.selectors.shown import overview
from schedule.overview.selectors.waiting import waiting_of
from schedule.overview.services import (
    Counted,
    counts_ask,
    counts_ask_due,
    teacher_count_save,
    teacher_count_work,
    teachers_counted,
)
from schedule.overview.sums import By, OverviewAsked
from schedule.reports.selectors.places import district_report
from schedule.weeks.planning.load import monday_of
from tests.conftest import Cast, make_person
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.log_builders import log_session, publish_session

SATURDAY = date(5)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two teachers: one with two students in the north and one in the south, the mate with one in the north.

    Of the teacher's three sessions of 30 minutes one was held, one missed for an assembly, one isn't logged; the
    mate's was missed for an assembly too.
    """
    make_ground(cast)
    cast.line.delete()
    held, missed = make_line(cast, "A1"), make_line(cast, "B1")
    far = make_line(cast, "C1", building=cast.south)
    for number, line in enumerate((held, missed, far)):
        session = publish_session(date(0), [line], f"{9 + number}:00", f"{9 + number}:30")
        if line != far:
            outcome = {line.pk: Outcome(reason="assembly")} if line == missed else {}
            log_session(cast.teacher, session, outcome)
    mates = make_line(cast, "D1", teacher=cast.mate)
    session = publish_session(date(0), [mates], "13:00", "13:30")
    log_session(cast.mate, session, {mates.pk: Outcome(reason="assembly")})
    return cast


def count(*teachers: Person, day: dt.date = SATURDAY) -> None:
    for teacher in teachers:
        with transaction.atomic():
            teacher_count_save(teacher=teacher, found=Counted(0, (week_sum(teacher, day),)))


@pytest.mark.django_db
def test_the_sums_are_those_of_the_districts_report(ground: Cast) -> None:
    """The report walks the district's students, the counts each teacher's services: the same minutes both ways."""
    count(ground.teacher, ground.mate)
    found = overview(ground.coordinator, OverviewAsked(By.TEACHER))
    report = district_report(ground.coordinator, SATURDAY, SATURDAY)
    for table, by in zip(report.tables, (By.BUILDING, By.TEACHER), strict=True):
        lines = overview(ground.coordinator, OverviewAsked(by)).lines
        told = sorted((row[3], row[4], row[5], row[6], row[7], row[8], row[9], row[10]) for row in table.rows)
        sums = [one.sums for one in lines]
        counted = [
            (
                one.owed,
                one.delivered,
                one.made_up,
                one.missed,
                one.not_owed,
                one.undecided,
                one.unlogged,
                one.behind,
            )
            for one in sums
        ]
        assert sorted(counted) == told
    assert found.sums.owed == 4 * 30
    assert (found.sums.delivered, found.sums.missed, found.sums.unlogged) == (30, 60, 30)


@pytest.mark.django_db
def test_minutes_by_school_service_and_reason_and_narrowed(ground: Cast) -> None:
    count(ground.teacher, ground.mate)
    by_school = {one.name: one.sums.owed for one in overview(ground.coordinator, OverviewAsked(By.BUILDING)).lines}
    assert by_school == {ground.north.name: 90, ground.south.name: 30}
    by_service = overview(ground.coordinator, OverviewAsked(By.SERVICE)).lines
    assert [(one.name, one.sums.services) for one in by_service] == [("Direct", 4)]
    whole = overview(ground.coordinator, OverviewAsked())
    assert [one.minutes for one in whole.reasons] == [60]
    south = overview(ground.coordinator, OverviewAsked(By.TEACHER, building=ground.south.pk))
    assert [(one.key, one.sums.owed) for one in south.lines] == [(str(ground.teacher.pk), 30)]
    assert (south.loads, south.waits) == ((), ()), "loads and causes aren't known by school"
    mine = overview(ground.coordinator, OverviewAsked(teacher=ground.mate.pk))
    assert (mine.sums.owed, mine.teachers, len(mine.loads)) == (30, 1, 1)


@pytest.mark.django_db
def test_a_cause_that_two_teachers_share_is_said_once_and_leads_to_each(ground: Cast) -> None:
    count(ground.teacher, ground.mate)
    [behind] = [one for one in overview(ground.coordinator, OverviewAsked()).waits if one.kind == Kind.BEHIND]
    [cause] = behind.causes
    assert (cause.teachers, cause.things, cause.minutes) == (2, 2, 60)
    waiting = waiting_of(ground.coordinator, Kind.BEHIND, cause.row, None)
    assert {one.count.teacher for one in waiting.rows} == {ground.teacher, ground.mate}
    alone = waiting_of(ground.coordinator, Kind.BEHIND, cause.row, ground.teacher.pk)
    assert [one.minutes for one in alone.rows] == [30]
    assert all("Quernmore" not in one.words for one in CountedCause.objects.all()), "no student's name is kept"


@pytest.mark.django_db
def test_counted_anew_a_week_has_its_last_figures_and_earlier_weeks_stay(ground: Cast) -> None:
    count(ground.teacher, day=date(0))
    count(ground.teacher, day=SATURDAY)
    assert TeacherCount.objects.count() == 1
    before = CountedServices.objects.get(building=ground.south).owed
    count(ground.teacher, day=SATURDAY + dt.timedelta(days=7))
    assert [one.monday for one in TeacherCount.objects.order_by("monday")] == [date(0), date(7)]
    assert CountedServices.objects.get(building=ground.south, count__monday=date(0)).owed == before
    found = overview(ground.coordinator, OverviewAsked())
    assert found.teachers == 1, "a teacher is in the sums once, with the latest week"
    assert [one.monday for one in found.weeks] == [date(0), date(7)]


@pytest.mark.django_db
def test_past_weeks_are_counted_with_the_first_count(ground: Cast) -> None:
    """Each up to its Sunday; none that ended before the school year began."""
    later = SATURDAY + dt.timedelta(days=14)
    weeks = list(past_sums(ground.teacher, later))
    assert [one.last_date for one in weeks][-2:] == [date(6), date(13)]
    owed = [sum(one.figures.owed for one in week.services.values()) for week in weeks]
    assert owed == sorted(owed)
    assert owed[-1] == owed[-2] + 90


@pytest.mark.django_db
def test_who_has_left_is_not_in_the_sums(ground: Cast) -> None:
    count(ground.mate, day=SATURDAY - dt.timedelta(days=28))
    count(ground.teacher)
    assert [one.key for one in overview(ground.coordinator, OverviewAsked()).lines] == [str(ground.teacher.pk)]


@pytest.mark.django_db
def test_nobody_but_the_district_s_coordinator_sees_any_of_it(ground: Cast) -> None:
    count(ground.teacher)
    stranger = make_person(ground.other_district, "far_coordinator", Person.Role.COORDINATOR)
    for viewer in (ground.teacher, ground.mate, ground.office, stranger):
        assert overview(viewer, OverviewAsked()).teachers == 0
        assert not CountedServices.objects.visible_to(viewer).exists()
        assert not waiting_of(viewer, Kind.BEHIND, None, None).rows.exists()
    for viewer in (ground.teacher, ground.office):
        with pytest.raises(ApplicationError) as refused:
            counts_ask(actor=viewer)
        assert refused.value.status == 403


@pytest.mark.django_db
def test_due_are_those_who_were_not_counted_today_and_after_a_change(ground: Cast) -> None:
    """Once while a job waits; counted, asked for again only after a change, and not within the hour."""
    expected = {ground.teacher.pk, ground.mate.pk}
    assert {one.pk for one in teachers_counted(ground.coordinator, today_of(ground.coordinator))} == expected

    def waiting() -> set[int]:
        return {one.payload["teacher"] for one in Job.objects.filter(kind="count_teacher", state="waiting")}

    counts_ask_due()
    counts_ask_due()
    assert waiting() == expected
    assert Job.objects.filter(kind="count_teacher").count() == 2
    Job.objects.all().delete()
    for teacher in (ground.teacher, ground.mate):
        with transaction.atomic():
            teacher_count_save(teacher=teacher, found=teacher_count_work(teacher=teacher))
    counts_ask_due()
    assert waiting() == set()
    AuditEntry.objects.create(district=ground.district, action="test", model="x.y", object_id="1")
    counts_ask_due()
    assert waiting() == set(), "a count of a moment ago is young enough"
    TeacherCount.objects.filter(teacher=ground.teacher).update(counted_at=timezone.now() - dt.timedelta(hours=2))
    counts_ask_due()
    assert waiting() == {ground.teacher.pk}


@pytest.mark.django_db
def test_the_number_of_queries_does_not_grow_with_teachers(ground: Cast) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            overview(ground.coordinator, OverviewAsked())
        return len(seen)

    count(ground.teacher)
    few = queries()
    for number in range(6):
        teacher = make_person(ground.district, f"more{number}", Person.Role.TEACHER)
        make_line(ground, f"M{number}", teacher=teacher)
        count(teacher)
    assert queries() == few


@pytest.mark.django_db
def test_monday_of() -> None:
    assert monday_of(SATURDAY) == date(0)
    assert monday_of(date(0)) == date(0)
