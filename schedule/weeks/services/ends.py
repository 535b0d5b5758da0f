"""What a last day of a building or a teacher, other hours or other bells end, tried out before it is saved."""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q

from accounts.dates import date_words
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.selectors import lines_unserved
from schedule.calendar.models import BellSchedule, DayRotation
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.leaving import after_closing, days_after_leaving
from schedule.weeks.selectors.told.bells import bells_held, sessions_by_bells
from schedule.weeks.selectors.told.outside import held_in_hours
from travel.places.models import Building

type Ending = Building | Person


@dataclass(frozen=True, slots=True)
class _Ends:
    """As things stand: sessions that are off, by id, and services that nobody gives."""

    off: Mapping[int, PlannedSession]
    unserved: Mapping[int, str]


def ends_told(actor: Person, row: object, act: Callable[[], object]) -> list[str]:
    """What an act on a row ends and what it lets go on from today, in sentences; nothing of it is saved.

    Counts sessions of published weeks. Of rows of another kind nothing is said. Raises what the act raises.
    """
    if not isinstance(row, Building | Person):
        return []
    today = today_of(actor)
    with transaction.atomic():
        before = _ends(actor, row, today)
        act()
        after = _ends(actor, row, today)
        transaction.set_rollback(True)
    lost, back = _more(after.off, before.off), _more(before.off, after.off)
    return [
        *_told(lost, "planned session is off", "planned sessions are off"),
        *_told(back, "planned session takes place after all", "planned sessions take place after all"),
        *_unserved_told(before.unserved, after.unserved),
    ]


def outside_told(actor: Person, row: object, act: Callable[[], object]) -> list[str]:
    """Sessions of published weeks from today on that an act on a row puts outside, or inside again, in sentences.

    `row`: a contract day, a space, or a time when a space is free; of anything else nothing is said. Nothing of the
    act is saved. Raises what the act raises.
    """
    held = held_in_hours(row, today_of(actor))
    if held is None:
        return []
    with transaction.atomic():
        before = held.outside
        act()
        after = held.outside
        transaction.set_rollback(True)
    return held.told(before, after)


def bells_told(actor: Person, row: object, act: Callable[[], object]) -> list[str]:
    """School days that an act on bells or on a rotation changes, and what is planned then, in sentences.

    Of anything else, and of bells that are new, nothing is said. Nothing of the act is saved. Raises what the act
    raises.
    """
    if not isinstance(row, BellSchedule | DayRotation) or (isinstance(row, BellSchedule) and not row.pk):
        return []
    building, today = row.building, today_of(actor)
    with transaction.atomic():
        before = bells_held(building, today)
        act()
        after = bells_held(building, today)
        transaction.set_rollback(True)
    return before.told(after, sessions_by_bells(building))


def _ends(actor: Person, row: Ending, today: dt.date) -> _Ends:
    """What holds now: rows are read anew, for an act changes them."""
    rows = PlannedSession.objects.filter(week__status=WeekPlan.Status.PUBLISHED, date__gte=today)
    rows = rows.select_related("building", "week__teacher")
    if isinstance(row, Building):
        there = rows.filter(Q(building=row) | Q(students_from=row), date__gt=today)
        now = Building.objects.get(pk=row.pk)
        return _Ends({one.pk: one for one in there if after_closing(now, one.date)}, {})
    sessions = list(rows.filter(week__teacher=row))
    teacher = Person.objects.get(pk=row.pk)
    gone = days_after_leaving(teacher, {one.date for one in sessions})
    unserved = lines_unserved(teacher, today).changeable_by(actor).select_related("plan__student")
    # Versions of one service are one: the first of those to come gives its words.
    ordered = unserved.order_by("plan__student__last_name", "plan__student__first_name", "-start")
    names = {line.service_id: f"{line.plan.student.full_name}, {line.statement}" for line in ordered}
    return _Ends({one.pk: one for one in sessions if one.date in gone}, names)


def _more(these: Mapping[int, PlannedSession], those: Mapping[int, PlannedSession]) -> list[PlannedSession]:
    """Those of these that aren't among those."""
    return sorted((one for pk, one in these.items() if pk not in those), key=lambda one: (one.date, one.start))


def _told(sessions: list[PlannedSession], one: str, more: str) -> list[str]:
    if not sessions:
        return []
    count = f"1 {one}" if len(sessions) == 1 else f"{len(sessions)} {more}"
    first, last = sessions[0].date, sessions[-1].date
    when = f"on {date_words(first)}" if first == last else f"from {date_words(first)} to {date_words(last)}"
    teachers = Counter(str(session.week.teacher) for session in sessions)
    whose = ", ".join(f"{name} {number}" for name, number in sorted(teachers.items()))
    return [f"{count}, {when} ({whose})."]


def _unserved_told(before: Mapping[int, str], after: Mapping[int, str]) -> list[str]:
    lost = [name for pk, name in after.items() if pk not in before]
    back = [name for pk, name in before.items() if pk not in after]
    told = [f"Nobody gives these services then: {'; '.join(lost)}. Hand them over."] if lost else []
    return [*told, *([f"These services have their teacher again: {'; '.join(back)}."] if back else [])]
