"""What ends leave behind: planned sessions that are off for good, and services that nobody gives any more."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.selectors import lines_unserved
from schedule.attention.causes import count_words
from schedule.attention.selectors.rows import AttentionRow, Kind
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.words import week_words
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.gaps import services_beyond
from schedule.weeks.selectors.leaving import Gone, after_closing, days_after_leaving, gone_from


def ended_rows(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    """From today on, one row for each end. A fixed number of queries."""
    rows = PlannedSession.objects.visible_to(viewer).filter(
        week__teacher=teacher, week__status=WeekPlan.Status.PUBLISHED, date__gte=today
    )
    sessions = list(rows.select_related("building").order_by("date", "start"))
    gone = days_after_leaving(teacher, {one.date for one in sessions})
    absent = gone_from(one.uid for one in sessions)
    left, handed = absent.sessions_left, absent.sessions_handed_over
    found: dict[str, list[PlannedSession]] = defaultdict(list)
    for one in sessions:
        why = _why(one, teacher_left=one.date in gone, students_left=str(one.uid) in left)
        why = "Another teacher gives them now" if not why and str(one.uid) in handed else why
        if why:
            found[why].append(one)
    for why, each in found.items():
        count = count_words(len(each), "planned session doesn't", "planned sessions don't")
        words = f"{why}: {count} take place. Plan those weeks again, or hand over what is owed."
        minutes = sum(minutes_of(one.end) - minutes_of(one.start) for one in each)
        yield AttentionRow(Kind.ENDED, words, each[0].date, minutes=minutes, things=len(each))
    yield from _thinner_rows(sessions, absent)


def _thinner_rows(sessions: Iterable[PlannedSession], absent: Gone) -> Iterator[AttentionRow]:
    """Sessions that go on without somebody who was planned in them."""
    off = absent.sessions
    each = [one for one in sessions if one.uid in absent.attending and str(one.uid) not in off]
    if each:
        count = count_words(len(each), "planned session goes", "planned sessions go")
        why = "Students have left, or another teacher serves them"
        words = f"{why}: {count} on without them. Plan those weeks again."
        yield AttentionRow(Kind.ENDED, words, each[0].date, things=len(each))


def unserved_rows(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    """One for each service that is owed after its provider's last day: somebody has to be found. One query.

    For who can hand a caseload over; the one who leaves can't.
    """
    if not viewer.is_coordinator or (last := teacher.last_teaching_day) is None:
        return
    first = max(last + dt.timedelta(days=1), today)
    lines = lines_unserved(teacher, today).visible_to(viewer)
    cause = f"nobody gives these services after {date_words(last)}"
    for line in lines.select_related("plan__student").order_by("plan__student__code", "start", "pk"):
        words = f"Owed until {date_words(line.end)}, and nobody gives it after {date_words(last)}."
        due = max(first, line.start)
        yield AttentionRow(Kind.UNSERVED, words, due, line.plan.student, line.pk, line.statement, cause=cause)


def beyond_rows(viewer: Person, teacher: Person, today: dt.date) -> Iterator[AttentionRow]:
    """One for each service of which published weeks hold more than they owe by the terms as they are now."""
    for one in services_beyond(viewer, teacher, today):
        first, most = next(iter(one.planned)), max(one.planned.values())
        weeks = len(one.planned)
        where = f"In {week_words(first)}" if weeks == 1 else f"In {weeks} weeks, first in {week_words(first)},"
        words = f"{where} up to {most} are planned and at most {one.most} owed. Plan again, or take sessions out."
        minutes = one.spare * (one.line.minutes or 0)
        due, student = max(first, today), one.line.plan.student
        cause = "the terms have changed since the weeks were planned"
        yield AttentionRow(
            Kind.BEYOND, words, due, student, one.line.pk, one.line.statement, minutes=minutes, cause=cause
        )


def _why(session: PlannedSession, *, teacher_left: bool, students_left: bool) -> str:
    """Why a session is off, empty if it isn't."""
    if teacher_left:
        return "The teacher has left"
    building = session.building
    if building.last_day is not None and after_closing(building, session.date):
        return f"{building.name} closes for good after {date_words(building.last_day)}"
    return f"Students have left {session.building.name}" if students_left else ""
