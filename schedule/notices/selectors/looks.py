"""What changed of a teacher's days since somebody last said that they saw it: from what the days were in between.

Nothing is lost by a look: what is shown stays until the person says "seen", on whichever device, and that holds for
what stood there and for nothing that came after.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import dropwhile

from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_of
from schedule.notices.day_changes import KnownDay, day_from_json
from schedule.notices.models import EarlierDay, Look, ToldDate
from schedule.notices.selectors.hearers import covered_sessions
from schedule.notices.wording import changes_message
from travel.places.models import BuildingStaff, reviewed_on

LOOKS = SqlOnce(lambda viewer, teacher, dates: Look.objects.filter(person=viewer, teacher=teacher, date__in=dates))
TOLD = SqlOnce(lambda teacher, dates: ToldDate.objects.filter(teacher=teacher, date__in=dates).order_by("date"))
STEPS = SqlOnce(
    lambda teacher, dates: EarlierDay.objects.filter(teacher=teacher, date__in=dates).order_by("until", "pk")
)
LATELY = dt.timedelta(minutes=10)
"""How long "seen" can be taken back beside what it took away."""


@dataclass(frozen=True, slots=True)
class DateChanges:
    """One date's changes in words; `until` is when the last of them came, UTC."""

    date: dt.date
    lines: tuple[str, ...]
    until: dt.datetime


@dataclass(frozen=True, slots=True)
class SinceLook:
    """What wasn't seen yet, by date, and dates of which "seen" was said a moment ago."""

    changes: tuple[DateChanges, ...] = ()
    lately: tuple[dt.date, ...] = ()

    @property
    def until(self) -> dt.datetime | None:
        """What "seen" stands for: everything up to here."""
        return max((one.until for one in self.changes), default=None)


def changes_since_look(viewer: Person, teacher: Person, dates: Iterable[dt.date], now: dt.datetime) -> SinceLook:
    """What changed of a teacher's dates since the viewer said "seen", or since the days are known.

    The caller has chosen a teacher whom the viewer may ask for. What the viewer alone changed is no news to them.
    """
    wanted = sorted(set(dates))
    looks = {row.date: row for row in LOOKS(viewer.pk, teacher.pk, wanted)}
    steps = _steps(viewer, teacher, looks, wanted)
    told = TOLD(teacher.pk, wanted) if steps else []
    found = [_changes(viewer, teacher, row, steps[row.date]) for row in told if steps[row.date]]
    # Taking it back brings something back only where something changed before it.
    lately = [date for date, row in sorted(looks.items()) if now - row.said_at < LATELY]
    return SinceLook(tuple(one for one in found if one is not None), tuple(lately))


def _steps(
    viewer: Person, teacher: Person, looks: Mapping[dt.date, Look], wanted: list[dt.date]
) -> dict[dt.date, list[EarlierDay]]:
    """What each date was before each change that the viewer hasn't seen; their own first ones are left out."""
    found: dict[dt.date, list[EarlierDay]] = defaultdict(list)
    for row in STEPS(teacher.pk, wanted):
        look = looks.get(row.date)
        if look is None or row.until > look.at:
            found[row.date].append(row)
    own = viewer.pk
    kept = {date: list(dropwhile(lambda one: one.changed_by_id == own, rows)) for date, rows in found.items()}
    return defaultdict(list, kept)


def _changes(viewer: Person, teacher: Person, told: ToldDate, steps: list[EarlierDay]) -> DateChanges | None:
    known = (day_from_json(steps[0].content), day_from_json(told.content))
    was, now = (_part(viewer, teacher, told.date, day) for day in known)
    school = (
        ", ".join(sorted({one.school for one in (*was.sessions, *now.sessions)}))
        if viewer.sees_no_students_in_weeks
        else ""
    )
    message = changes_message(was, now, date=told.date, today=today_of(viewer), teacher=str(teacher), school=school)
    return DateChanges(told.date, message.lines, steps[-1].until) if message is not None else None


def _part(viewer: Person, teacher: Person, date: dt.date, day: KnownDay) -> KnownDay:
    """An office knows of its own schools' sessions, a substitute of those that they give."""
    if _is_office(viewer):
        return day.of_schools(BuildingStaff.objects.filter(person=viewer).values_list("building", flat=True))
    if viewer.is_reviewer:
        return day.of_schools(reviewed_on(viewer, date))
    covered = covered_sessions(viewer, teacher, date)
    return day if covered is None else day.of_sessions(covered)


def _is_office(viewer: Person) -> bool:
    return viewer.role == Person.Role.OFFICE
