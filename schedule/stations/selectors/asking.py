"""Reads of stations and rotations: what there is, what is asked for a session, what was made of it."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from caseload.care.models import Contact, Support
from caseload.care.selectors import cautions_met
from caseload.care.written import CautionMet
from caseload.delivery.selectors.log import entries_of_sessions
from caseload.plans.names import student_names
from caseload.progress.selectors import goals_of, last_taken
from schedule.equipment.models import KeptQuerySet
from schedule.stations.choices import TEACHER, AdultChoice, RotationChoices
from schedule.stations.models import (
    Station,
    StationGoal,
    StationRotation,
    StationRotationQuerySet,
)
from schedule.stations.rotation.asked import (
    ALL_RULES,
    AskedAdult,
    AskedStation,
    AskedStudent,
    RotationAsked,
    RotationRule,
)
from schedule.weeks.data import AttendeeView
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.models.weeks import of_mates
from schedule.weeks.selectors.attending import people_of
from schedule.weeks.selectors.covered import covered_now

NEVER = 61
"""Days that a goal without any data weighs; older data weigh as much as data of 60 days."""


def stations_for(viewer: Person) -> KeptQuerySet[Station]:
    """The district's stations that are in use, with equipment, and the goals of students whom the viewer sees."""
    rows = Station.objects.visible_to(viewer).in_use().defer("picture", "picture_before").select_related("activity")
    goals = StationGoal.objects.visible_to(viewer).select_related("goal__student")
    return rows.prefetch_related("tags", "needs__equipment", Prefetch("goals", goals))


# ---- a session --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ClassHour:
    """A session of a published week with who is in it, each student once. Times are local to the building."""

    uid: uuid.UUID
    teacher: Person
    date: dt.date
    start: dt.time
    minutes: int
    building_name: str
    class_name: str
    class_id: int | None
    students: tuple[AttendeeView, ...]

    @property
    def title(self) -> str:
        """The class, or the building where it is none."""
        return self.class_name or self.building_name

    def clock(self, minutes: int) -> str:
        """The time so many minutes into it: "9:20"."""
        moment = dt.datetime.combine(self.date, self.start) + dt.timedelta(minutes=minutes)
        return f"{moment.hour % 12 or 12}:{moment.minute:02}"


def class_hour(viewer: Person, uid: uuid.UUID | str, *, to_read: bool = False) -> ClassHour:
    """The session; raises `ApplicationError` (404) for one that isn't the viewer's to hold, or `to_read` to see."""
    row = _sessions(viewer, to_read=to_read).filter(uid=uid).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return _hour_of(viewer, row)


def class_hours_with_rotation(viewer: Person, uids: Collection[uuid.UUID]) -> list[ClassHour]:
    """Of these sessions those that have a rotation and that the viewer holds; one query where none has."""
    rows = StationRotation.objects.visible_to(viewer).standing().filter(session_uid__in=uids)
    having = set(rows.order_by().values_list("session_uid", flat=True))
    return (
        [_hour_of(viewer, row) for row in _sessions(viewer, to_read=True).filter(uid__in=having)] if having else []
    )


def _hour_of(viewer: Person, row: PlannedSession) -> ClassHour:
    people = people_of(viewer, [row], student_names(viewer))[row.pk].attendees
    once = {one.student_id: one for one in people}
    begins, ends = (dt.datetime.combine(row.date, one) for one in (row.start, row.end))
    return ClassHour(
        uid=row.uid,
        teacher=row.week.teacher,
        date=row.date,
        start=row.start,
        minutes=(ends - begins) // dt.timedelta(minutes=1),
        building_name=row.building.name,
        class_name=row.school_class.name if row.school_class is not None else "",
        class_id=row.school_class_id,
        students=tuple(sorted(once.values(), key=lambda one: one.who)),
    )


def _sessions(viewer: Person, *, to_read: bool = False) -> QuerySet[PlannedSession]:
    """Sessions of published weeks that the viewer teaches, stands in for, or coordinates; `to_read` mates', too."""
    with_mates = to_read and bool(viewer.mates)
    weeks = WeekPlan.objects.visible_to(viewer) if with_mates else WeekPlan.objects.changeable_by(viewer)
    rows = PlannedSession.objects.filter(week__in=weeks, week__status=WeekPlan.Status.PUBLISHED)
    rows = rows.select_related("week__teacher", "building", "school_class")
    if with_mates:
        return rows.filter(of_mates(viewer))
    if viewer.sees_no_students_in_weeks:
        return rows.none()
    if viewer.role != Person.Role.SUBSTITUTE:
        return rows
    return rows.filter(covered_now(viewer, today_of(viewer)))


def adults_known(hour: ClassHour) -> tuple[AdultChoice, ...]:
    """The teacher, and the aides among the contacts of the class and of its students, who stay with these."""
    aides = Contact.objects.filter(role=Contact.Role.AIDE).filter(
        Q(school_class=hour.class_id, school_class__isnull=False)
        | Q(student__in=[one.student_id for one in hour.students])
    )
    found = [AdultChoice(TEACHER, str(hour.teacher), counts=False)]
    return (*found, *(AdultChoice(one.pk, one.name, own_student=one.student_id) for one in aides))


def cautions_at(
    hour: ClassHour, stations: Iterable[Station], students: Collection[int] | None = None
) -> dict[tuple[int, int], tuple[CautionMet, ...]]:
    """Cautions that stations meet, by student and station."""
    keys = {one.student_id for one in hour.students} if students is None else set(students)
    found: dict[tuple[int, int], tuple[CautionMet, ...]] = {}
    for station in stations:
        for met in cautions_met(keys, [tag.pk for tag in station.tags.all()], day=hour.date):
            found[met.student, station.pk] = (*found.get((met.student, station.pk), ()), met)
    return found


def pairs_of(hour: ClassHour, keys: Collection[int]) -> tuple[frozenset[frozenset[int]], frozenset[frozenset[int]]]:
    """Of these students who are kept apart, and who go together, by their supports."""
    rows = Support.objects.filter(student__in=keys, other_student__in=keys).holding(hour.date)
    named = {kind: set[frozenset[int]]() for kind in (Support.Kind.APART, Support.Kind.WITH)}
    for row in rows:
        if row.other_student_id is not None:
            named[Support.Kind(row.kind)].add(frozenset({row.student_id, row.other_student_id}))
    return frozenset(named[Support.Kind.APART]), frozenset(named[Support.Kind.WITH])


def goal_days(hour: ClassHour, stations: Iterable[Station]) -> dict[int, dict[int, int]]:
    """By student and station the days since data of the goal there whose data are oldest."""
    goals = {one.pk: one for rows in goals_of([one.student_id for one in hour.students], day=hour.date).values()
             for one in rows}  # fmt: skip
    taken = last_taken(goals.keys())
    found: dict[int, dict[int, int]] = {}
    rows = StationGoal.objects.filter(station__in=list(stations), goal__in=list(goals))
    for station, goal in rows.values_list("station", "goal"):
        last = taken.get(goal)
        days = NEVER if last is None else max(1, min(NEVER - 1, (hour.date - last).days))
        wants = found.setdefault(goals[goal].student_id, {})
        wants[station] = max(days, wants.get(station, 0))
    return found


def rotation_asked(hour: ClassHour, choices: RotationChoices, stations: Mapping[int, Station]) -> RotationAsked:
    """What the search is asked: the class as it is this morning, by what the teacher said."""
    rows = [stations[key] for key in choices.stations]
    known = adults_known(hour)
    adults = _told(known, choices)
    students = _asked_students(hour, choices, rows, {one.own_student for one in (*known, *adults)})
    keys = {one.key for one in students}
    apart, together = pairs_of(hour, keys)
    return RotationAsked(
        stations=tuple(AskedStation(one.pk, one.name, one.at_a_time, one.staff) for one in rows),
        students=students,
        adults=tuple(_asked_adult(one, keys) for one in adults),
        rounds=choices.rounds,
        help_by=choices.help_by,
        apart=apart,
        together=together,
        waits_at_most=choices.waits_at_most,
        done=choices.done,
        rules=ALL_RULES if choices.once else ALL_RULES - {RotationRule.ONCE},
    )


def _asked_adult(said: AdultChoice, students: Collection[int]) -> AskedAdult:
    """Whose own student isn't here helps where needed."""
    own = said.own_student if said.own_student in students else None
    return AskedAdult(said.key, said.name, own, said.leads)


def _asked_students(
    hour: ClassHour, choices: RotationChoices, stations: Iterable[Station], own: Collection[int | None]
) -> tuple[AskedStudent, ...]:
    """Who is here; `own`: students who have an adult of their own."""
    wants, met = goal_days(hour, stations), cautions_at(hour, stations)
    asked = {(one.student, one.station) for one in choices.asked}
    barred: dict[int, set[int]] = defaultdict(set)
    for who, at in set(met) - asked:
        barred[who].add(at)
    found = []
    for one in hour.students:
        said, key = choices.student(one.student_id), one.student_id
        if said.here:
            away = frozenset(range(min(said.from_round - 1, choices.rounds)))
            care = (frozenset(barred[key]), key in own, said.adult_near)
            found.append(AskedStudent(key, one.who, wants.get(key, {}), *care, away))
    return tuple(found)


def _told(known: Iterable[AdultChoice], choices: RotationChoices) -> list[AdultChoice]:
    """Everybody who is here and counts, of those known or named, as the teacher said."""
    keys = {one.key for one in known}
    more = [one for one in choices.adults if one.key not in keys]
    return [one for one in [*(choices.adult(one.key) or one for one in known), *more] if one.here and one.counts]


def logged_away(hour: ClassHour) -> dict[int, str]:
    """Students, with how they are called, of whom the log says that they had nothing of this session.

    Whom nobody logged are expected.
    """
    logged = [one for one in entries_of_sessions([hour.uid]).values() if one.delivered is not None]
    missed = {one.student_id for one in logged if one.delivered == 0}
    there = {one.student_id for one in logged if one.delivered}
    return {one.student_id: one.who for one in hour.students if one.student_id in missed - there}


# ---- what was made ----------------------------------------------------------------------------------------


def rotations_of(viewer: Person, uid: uuid.UUID | str) -> StationRotationQuerySet:
    """Every version for a session, the newest first."""
    return StationRotation.objects.visible_to(viewer).filter(session_uid=uid).order_by("-number")


def rotation_now(viewer: Person, uid: uuid.UUID | str) -> StationRotation | None:
    """The version that is used; None before the first, or where all were taken back."""
    return rotations_of(viewer, uid).standing().first()


def rotation_before(viewer: Person, hour: ClassHour) -> StationRotation | None:
    """The last rotation of the same class on an earlier day: what today's form begins with."""
    rows = StationRotation.objects.visible_to(viewer).standing().filter(teacher=hour.teacher, date__lt=hour.date)
    rows = rows.filter(school_class=hour.class_id, school_class__isnull=False)
    return rows.order_by("-date", "-number").first()
