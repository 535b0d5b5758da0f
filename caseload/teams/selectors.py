"""Reads about teams."""

import datetime as dt
from collections.abc import Iterable

from accounts.models import Person
from accounts.selectors import LastChange, last_change_of
from caseload.plans.models import Student
from caseload.teams.models import Team

TEAM_UNDO = "team_undo"


def teams_listed(viewer: Person, today: dt.date) -> list[Team]:
    """Teams that aren't over, with their members: the district's for a coordinator, a teacher's own."""
    rows = Team.objects.visible_to(viewer).filter(last_day__gte=today)
    return list(rows.prefetch_related("members"))


def last_team_change(row: Team) -> LastChange | None:
    """What was done last to a team; one that was just added is removed, not taken back."""
    last = last_change_of(Team, row.district, [row.pk], undo=TEAM_UNDO)
    return None if last is None or "id" in last.entry.changes else last


def students_shared(members: Iterable[Person], day: dt.date) -> dict[int, int]:
    """How many students are on each teacher's caseload from a date on, by the teacher's id."""
    return {one.pk: _caseload(one, day) for one in members}


def _caseload(teacher: Person, day: dt.date) -> int:
    rows = Student.objects.filter(district=teacher.district_id)
    return rows.of_teachers(Person.objects.filter(pk=teacher.pk), day).count()
