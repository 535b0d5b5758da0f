"""Builds ``WeekDetail``: rows of a version as plain values, cut down to what the viewer may see."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from caseload.care.written import Care
from caseload.plans.names import student_names
from caseload.plans.naming import CODES_ONLY, StudentNames
from schedule.calendar.selectors.school_days import BuildingCalendar
from schedule.planner.problem import Goal
from schedule.weeks.data import DayDetail, GoalFigure, ItemView, SessionView, UnplacedView, WeekDetail
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, UnplacedSession, WeekPlan, WeekRevision
from schedule.weeks.selectors.day_shapes import AsHeld
from schedule.weeks.selectors.leaving import Gone
from schedule.weeks.selectors.seen.week import SeenWeek
from schedule.weeks.version_names import VersionRow, version_titles
from travel.places.models import Building

GOAL_LABELS = {
    Goal.UNPLACED: "Owed minutes not placed",
    Goal.WISHES: "Minutes of contract wishes missed",
    Goal.DRIVING: "Minutes at the wheel",
    Goal.CHANGE: "Sessions moved from where they were",
    Goal.SAMENESS: "Minutes away from the usual times",
}


def goal_label(goal: str) -> str:
    """A goal in words."""
    return GOAL_LABELS[Goal(goal)]


def goal_figures(figures: Mapping[str, Any]) -> tuple[GoalFigure, ...]:
    """The goals kept with a week, in their order."""
    return tuple(
        GoalFigure(one["goal"], goal_label(one["goal"]), one["value"], one["bound"], one["status"])
        for one in figures.get("goals", [])
    )


def _minutes_placed(sessions: Iterable[SessionView]) -> int:
    """Minutes of all students together."""
    return sum(one.minutes * max(1, len(one.attendees)) for one in sessions)


def build_detail(viewer: Person, week: WeekPlan, names: StudentNames | None = None) -> WeekDetail:
    """The version as the viewer may see it; the caller has checked that it may be seen at all.

    ``names`` where students are called differently than for this viewer, such as by codes only on a terminal.
    """
    names = names or week_names(viewer, week)
    seen = SeenWeek(viewer, week, names)
    office = seen.office
    figures = {} if office else week.figures
    placed = _minutes_placed(seen.sessions)
    return WeekDetail(
        week_id=week.pk,
        teacher_id=week.teacher_id,
        teacher_name=str(week.teacher),
        monday=week.monday,
        last_date=week.last_date,
        status=week.status,
        status_label=week.get_status_display(),
        version=week.version,
        revision=week.revision,
        name=week.name,
        published_by=str(week.published_by) if week.published_by else "",
        published_at=week.published_at,
        created_by=str(week.created_by),
        created_at=week.created_at,
        based_on_id=week.based_on_id,
        days=seen.days(),
        places=seen.places(),
        unplaced=() if office else _unplaced(week, names),
        goals=goal_figures(figures),
        sessions_placed=len(seen.sessions),
        minutes_placed=int(figures.get("minutes_placed", placed)),
        minutes_owed=int(figures.get("minutes_owed", placed)),
        drive_minutes=sum(item.drive_minutes for item in seen.driven),
        miles=sum((item.miles for item in seen.driven), Decimal(0)),
        broken=names.all_told(figures.get("broken", [])),
        no_longer_fits=names.all_told(figures.get("no_longer_fits", [])),
        notes=names.all_told([*figures.get("groups", []), *figures.get("notes", [])]),
        changes=() if office else names.all_told(week.changes),
        students_shown=not office,
        may_edit=week.teacher_id == viewer.pk or viewer.is_coordinator,
        title=titles_of([week])[week.pk],
        apart=_apart(seen, names),
        can_undo=week.status == WeekPlan.Status.DRAFT and WeekRevision.objects.filter(week=week).exists(),
    )


def _apart(seen: SeenWeek, names: StudentNames) -> tuple[str, ...]:
    """Joint sessions that aren't at the same time, in sentences."""
    return tuple(one.words(names.full.get(one.student, one.code)) for one in seen.joint.apart)


@dataclass(frozen=True, slots=True)
class SeenDay:
    """One date of a version. ``day``: None on a weekend without anything; ``places``: the week's schools by id.

    The rest is what it was made of, for whoever shows more of the same date: names, supports and cautions of those
    in its sessions, what each session comes to, who isn't in them anymore, the calendars of its schools by id, and
    the rows that the viewer may see.
    """

    day: DayDetail | None
    places: Mapping[int, Building]
    students_shown: bool
    names: StudentNames
    care: Mapping[int, Care]
    held: Mapping[UUID, AsHeld]
    gone: Gone
    calendars: Mapping[int, BuildingCalendar]
    rows: Sequence[PlannedSession]
    item_rows: Sequence[DayItem]


def build_day(viewer: Person, week: WeekPlan, date: dt.date, *, whole: bool = False) -> SeenDay:
    """A date of a version, as `build_detail` has it; the same condition holds.

    ``whole``: with what a date alone doesn't say (`SeenWeek`); without it, whether a session stands at its usual
    time is unknown, and short names tell apart the schools of the date only.
    """
    names = week_names(viewer, week)
    seen = SeenWeek(viewer, week, names, date, whole=whole)
    care = {
        each.student_id: each.care
        for people in seen.people.values()
        for each in people.everyone
        if each.care is not None
    }
    return SeenDay(
        day=next((one for one in seen.days() if one.date == date), None),
        places={one.pk: one for one in seen.buildings},
        students_shown=not seen.office,
        names=names,
        care=care,
        held=seen.marks.held(),
        gone=seen.marks.gone,
        calendars=seen.calendars,
        rows=seen.rows,
        item_rows=seen.item_rows,
    )


def day_items(viewer: Person, week: WeekPlan, date: dt.date) -> tuple[ItemView, ...]:
    """What fills a date of a version between its sessions, without anything of students."""
    items = SeenWeek(viewer, week, CODES_ONLY, date, whole=False).fillings
    return tuple(one for one in items if one.date == date)


def titles_of(weeks: Iterable[WeekPlan]) -> dict[int, str]:
    """What versions are called, told apart from all others of their weeks; by id (one query)."""
    wanted = {(week.teacher_id, week.monday) for week in weeks}
    zones = {week.teacher_id: ZoneInfo(week.district.time_zone) for week in weeks}
    rows = WeekPlan.objects.filter(teacher__in=zones, monday__in={monday for _, monday in wanted})
    found: dict[tuple[int, dt.date], list[VersionRow]] = {key: [] for key in wanted}
    for pk, teacher, monday, number, name, made in rows.values_list(
        "pk", "teacher_id", "monday", "version", "name", "created_at"
    ):
        if (teacher, monday) in found:
            found[teacher, monday].append(VersionRow(pk, number, name, made.astimezone(zones[teacher])))
    return {pk: title for versions in found.values() for pk, title in version_titles(versions).items()}


def week_names(viewer: Person, week: WeekPlan) -> StudentNames:
    """How the students of a week are called for somebody."""
    return student_names(viewer, among=ATTENDING(week.pk))


ATTENDING = SqlOnce(
    lambda week: (
        SessionAttendee.objects.filter(session__week=week)
        .order_by()
        .values_list("student_id", flat=True)
        .distinct()
    )
)


def _unplaced(week: WeekPlan, names: StudentNames) -> tuple[UnplacedView, ...]:
    rows = UnplacedSession.objects.filter(week=week).select_related("service_line__plan__student")
    return tuple(
        UnplacedView(
            id=row.pk,
            line_id=row.service_line_id,
            code=row.service_line.plan.student.code,
            name=names.full.get(row.service_line.plan.student_id, ""),
            statement=row.service_line.statement,
            sessions=row.sessions,
            minutes=row.minutes,
            reasons=names.all_told(row.reasons),
            ask=names.told(row.ask),
        )
        for row in rows.order_by("-minutes", "service_line__plan__student__code", "pk")
    )
