"""Planned sessions that are off for good: a school has closed, students or the teacher have left."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

from accounts.dates import date_words
from accounts.models import Person
from schedule.attention.causes import count_words
from schedule.attention.selectors.rows import AttentionRow, Kind
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.leaving import days_after_leaving, sessions_of_left


def ended_rows(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    """From today on, one row for each end. A fixed number of queries."""
    rows = PlannedSession.objects.visible_to(viewer).filter(
        week__teacher=teacher, week__status=WeekPlan.Status.PUBLISHED, date__gte=today
    )
    sessions = list(rows.select_related("building").order_by("date", "start"))
    gone = days_after_leaving(teacher, {one.date for one in sessions})
    left = sessions_of_left((one.uid, one.date) for one in sessions)
    found: dict[str, list[PlannedSession]] = defaultdict(list)
    for one in sessions:
        why = _why(one, teacher_left=one.date in gone, students_left=str(one.uid) in left)
        if why:
            found[why].append(one)
    for why, each in found.items():
        count = count_words(len(each), "planned session doesn't", "planned sessions don't")
        words = f"{why}: {count} take place. Plan those weeks again, or hand over what is owed."
        minutes = sum(minutes_of(one.end) - minutes_of(one.start) for one in each)
        yield AttentionRow(Kind.ENDED, words, each[0].date, minutes=minutes)


def _why(session: PlannedSession, *, teacher_left: bool, students_left: bool) -> str:
    """Why a session is off, empty if it isn't."""
    if teacher_left:
        return "The teacher has left"
    last = session.building.last_day
    if last is not None and session.date > last:
        return f"{session.building.name} closes for good after {date_words(last)}"
    return f"Students have left {session.building.name}" if students_left else ""
