"""Who is in the sessions of a week, as one viewer may know them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from caseload.care.selectors import care_of
from caseload.plans.enrollment.selectors import grade_on
from caseload.plans.models import ServiceLine
from caseload.plans.naming import CODES_ONLY, StudentNames
from schedule.weeks.data import AttendeeView
from schedule.weeks.models import PlannedSession, SessionAttendee
from schedule.weeks.selectors.leaving import Gone, gone_in


@dataclass(frozen=True, slots=True)
class People:
    """Who is in a session, and without whom that was planned in it the session goes on: why, in clauses.

    `everyone`: whoever was planned in it.
    """

    attendees: tuple[AttendeeView, ...] = ()
    without: tuple[str, ...] = ()
    everyone: tuple[AttendeeView, ...] = ()


NOBODY = People()
ATTENDING = SqlOnce(
    lambda sessions: (
        SessionAttendee.objects.filter(session__in=sessions)
        .annotate(grade=grade_on("student", "session__date"))
        .select_related("student", "service_line__plan")
        .order_by("student__code")
    )
)


def people_of(
    viewer: Person, rows: Iterable[PlannedSession], names: StudentNames, gone: Gone | None = None
) -> dict[int, People]:
    """By session. `gone`: who isn't in these sessions anymore, where it was read already."""
    sessions = list(rows)
    planned = _attendees(viewer, sessions, names)
    left = gone_in(sessions) if gone is None else gone
    return {row.pk: _people(row, planned.get(row.pk, ()), left) for row in sessions}


def _people(row: PlannedSession, planned: Sequence[AttendeeView], gone: Gone) -> People:
    """Of a session that is off for good, everyone who was planned in it."""
    absent = [one for one in planned if gone.is_absent(row.uid, one.line_id)]
    staying = tuple(one for one in planned if one not in absent)
    return People(staying, tuple(_why_absent(row, one, gone) for one in absent), tuple(planned))


def _why_absent(row: PlannedSession, one: AttendeeView, gone: Gone) -> str:
    if (row.uid, one.line_id) in gone.left:
        return f"{one.who} has left {row.building.name}"
    return f"another teacher serves {one.who} now"


def _attendees(
    viewer: Person, rows: Iterable[PlannedSession], names: StudentNames
) -> dict[int, tuple[AttendeeView, ...]]:
    found: dict[int, list[AttendeeView]] = {}
    attendees = ATTENDING([row.pk for row in rows])
    care = care_of(viewer, {one.student_id for one in attendees}, names=None if names is CODES_ONLY else names.full)
    for one in attendees:
        view = AttendeeView(
            one.student_id,
            one.service_line_id,
            one.student.code,
            names.full.get(one.student_id, ""),
            one.grade,
            one.service_line.plan.is_provisional,
            care.get(one.student_id),
            names.short.get(one.student_id, ""),
            names.tight.get(one.student_id, ""),
            one.service_line.service_type == ServiceLine.Type.CONSULTATION,
        )
        found.setdefault(one.session_id, []).append(view)
    return {key: tuple(views) for key, views in found.items()}
