"""Reads of planned weeks for pages and the API; the shapes are in ``schedule.weeks.data``.

An office sees the sessions in its own buildings, without students, reasons, figures or the rest of the day.
"""

import datetime as dt
import uuid as uuid_lib
from collections.abc import Iterable, Mapping
from dataclasses import replace

from django.db.models import Q

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from schedule.calendar.models import CalendarEntry
from schedule.weeks.data import GoalComparison, SessionOption, WeekComparison, WeekDetail, WeekLine
from schedule.weeks.models import PlannedSession, UnplacedSession, WeekPlan
from schedule.weeks.planning.telling import whom_to_tell
from schedule.weeks.selectors.detail import build_detail, goal_figures, goal_label, titles_of
from schedule.weeks.selectors.options import SessionMoments
from schedule.weeks.selectors.scope import NOT_FOUND, week_require
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import WeekContent, content_read


def week_get(viewer: Person, week_id: int) -> WeekPlan:
    """A week that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    row = WeekPlan.objects.visible_to(viewer).select_related("teacher", "district").filter(pk=week_id).first()
    if row is None:
        raise ApplicationError(NOT_FOUND, code="not_found", status=404)
    return row


def week_in_force(viewer: Person, teacher: Person, monday: dt.date) -> WeekPlan | None:
    """The published version of a teacher's week, if there is one that the viewer may see."""
    rows = WeekPlan.objects.visible_to(viewer)
    found = rows.filter(teacher=teacher, monday=monday, status=WeekPlan.Status.PUBLISHED).order_by("pk").first()
    if found is not None and viewer.district is not None:
        # Of the viewer's district, as every week that is seen, and the teacher is known with the roles.
        found.teacher, found.district = teacher, viewer.district
    return found


def is_planned_on(entry: CalendarEntry) -> bool:
    """Whether a week in force has a session on the days, and at the school, of an entry, saved or not."""
    rows = PlannedSession.objects.filter(
        week__district=entry.district_id,
        week__status=WeekPlan.Status.PUBLISHED,
        date__range=(entry.first_date, entry.last_date),
    )
    there = Q(building=entry.building_id) | Q(students_from=entry.building_id)
    return (rows if entry.building_id is None else rows.filter(there)).exists()


def weeks_in_force_around(
    viewer: Person, teacher: Person, monday: dt.date
) -> tuple[dt.date | None, dt.date | None]:
    """Mondays of the last week in force before a week and of the next one after it, if the viewer may see any."""
    rows = WeekPlan.objects.visible_to(viewer).filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED)
    mondays = rows.order_by("monday").values_list("monday", flat=True)
    return mondays.filter(monday__lt=monday).last(), mondays.filter(monday__gt=monday).first()


def latest_draft(viewer: Person, teacher: Person, monday: dt.date) -> WeekPlan | None:
    """The newest draft of a teacher's week, if there is one that the viewer may see."""
    rows = WeekPlan.objects.visible_to(viewer).select_related("teacher", "district")
    drafts = rows.filter(teacher=teacher, monday=monday, status=WeekPlan.Status.DRAFT)
    return drafts.order_by("-created_at", "-pk").first()


def week_versions(viewer: Person, teacher: Person, monday: dt.date) -> tuple[WeekLine, ...]:
    """Every version of a teacher's week that the viewer may see: in force first, then drafts, then older ones."""
    rows = WeekPlan.objects.visible_to(viewer).filter(teacher=teacher, monday=monday)
    order = {WeekPlan.Status.PUBLISHED: 0, WeekPlan.Status.DRAFT: 1}
    found = sorted(
        rows.select_related("created_by", "published_by"),
        key=lambda row: (order.get(WeekPlan.Status(row.status), 2), -(row.version or 0), -row.pk),
    )
    names = student_names(viewer)
    titles = titles_of(found)
    lines = tuple(week_line(row, names, titles) for row in found)
    # What changed names students, which is not for an office.
    return tuple(replace(one, changes=()) for one in lines) if viewer.sees_no_students_in_weeks else lines


def week_line(row: WeekPlan, names: StudentNames, titles: Mapping[int, str]) -> WeekLine:
    """A version as one line of a list."""
    values = {goal.goal: goal.value for goal in goal_figures(row.figures)}
    return WeekLine(
        week_id=row.pk,
        monday=row.monday,
        status=row.status,
        status_label=row.get_status_display(),
        version=row.version,
        name=row.name,
        created_by=str(row.created_by),
        created_at=row.created_at,
        published_by=str(row.published_by) if row.published_by else "",
        published_at=row.published_at,
        changes=names.all_told(row.changes),
        sessions=int(row.figures.get("sessions", 0)),
        drive_minutes=values.get("driving", 0),
        unplaced_minutes=int(row.figures.get("minutes_owed", 0)) - int(row.figures.get("minutes_placed", 0)),
        title=titles.get(row.pk, ""),
        revision=row.revision,
    )


def week_detail(viewer: Person, week: WeekPlan, names: StudentNames | None = None) -> WeekDetail:
    """Everything about a version that the viewer may see; raises ``ApplicationError`` (404) for a hidden one.

    Students are called by ``names``, or as this viewer may know them.
    """
    return build_detail(viewer, week_get(viewer, week.pk), names)


def session_options(viewer: Person, week: WeekPlan, uid: uuid_lib.UUID | str) -> tuple[SessionOption, ...]:
    """Moments to which a session could move, with the driving each adds and the rules it would break.

    Those that bells, spaces and students allow, and those that one rule stands against (it says whom to ask).
    """
    content = _content_to_edit(viewer, week)
    session = content.session(str(uid))
    if session is None:
        raise ApplicationError("There is no such session in this week.", code="not_found", status=404)
    return _told_options(viewer, SessionMoments(week, content).of(session))


def unplaced_options(viewer: Person, week: WeekPlan, unplaced_id: int) -> tuple[SessionOption, ...]:
    """Moments at which one of the unplaced sessions could be placed."""
    content = _content_to_edit(viewer, week)
    row = UnplacedSession.objects.filter(week=week, pk=unplaced_id).first()
    if row is None:
        raise ApplicationError("This isn't among this week's unplaced sessions.", code="not_found", status=404)
    options = SessionMoments(week, content)
    return _told_options(viewer, options.of(options.new_session(row.service_line_id)))


def _told_options(viewer: Person, options: Iterable[SessionOption]) -> tuple[SessionOption, ...]:
    names = student_names(viewer)
    return tuple(replace(one, breaks=names.all_told(one.breaks)) for one in options)


def _content_to_edit(viewer: Person, week: WeekPlan) -> WeekContent:
    week_require(viewer, week_get(viewer, week.pk))
    return content_read(week)


def compare_weeks(viewer: Person, one: WeekPlan, other: WeekPlan) -> WeekComparison:
    """Figures of two versions by goal, and what moved, came and went from ``one`` to ``other``.

    The caller has got both weeks by ``week_get``. Raises ``ApplicationError`` unless both are
    the same week of the same teacher.
    """
    if (one.teacher_id, one.monday) != (other.teacher_id, other.monday):
        raise ApplicationError("Choose two versions of the same week.", code="other_week")
    before, after = content_read(one), content_read(other)
    found = differences(before, after, labels_of(before, after))
    values = {figure.goal: figure.value for figure in goal_figures(one.figures)}
    names = student_names(viewer)
    return WeekComparison(
        goals=tuple(
            GoalComparison(figure.goal, goal_label(figure.goal), values[figure.goal], figure.value)
            for figure in goal_figures(other.figures)
            if figure.goal in values
        ),
        moved=names.all_told(found.moved),
        added=names.all_told(found.added),
        removed=names.all_told(found.removed),
        same=found.same,
        tell=whom_to_tell(before, after),
    )
