"""What a common meeting meets in weeks in force, and which of them lack it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable

from accounts.dates import date_words, short_date_words
from accounts.models import Person
from schedule.calendar.models import TimedMeeting
from schedule.calendar.words import listed
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan

MOST_WEEKS = 3


def sessions_at(meeting: TimedMeeting, people: Collection[Person], today: dt.date) -> list[str]:
    """Of each person how many sessions of weeks in force, from today on, are at the meeting's time."""
    rows = PlannedSession.objects.filter(
        week__teacher__in=people,
        week__status=WeekPlan.Status.PUBLISHED,
        date__gte=today,
        start__lt=meeting.end,
        end__gt=meeting.start,
    )
    dates: dict[int, list[dt.date]] = defaultdict(list)
    for teacher, date in rows.order_by("date").values_list("week__teacher", "date"):
        if meeting.is_on(date):
            dates[teacher].append(date)
    return [_taken_words(one, dates[one.pk]) for one in people if one.pk in dates]


def _taken_words(person: Person, dates: list[dt.date]) -> str:
    many = "1 session is" if len(dates) == 1 else f"{len(dates)} sessions are"
    first = f"on {date_words(dates[0])}" if len(dates) == 1 else f"the first on {date_words(dates[0])}"
    return f"{person}: {many} at that time in weeks in force, {first}. Plan these weeks again to make room."


def weeks_without(meeting: TimedMeeting, people: Collection[Person], today: dt.date) -> list[str]:
    """``Ada Vey (Oct 5 and Oct 12)``: people with weeks in force, on a day of which the meeting should stand."""
    weeks = WeekPlan.objects.filter(teacher__in=people, status=WeekPlan.Status.PUBLISHED, last_date__gte=today)
    mondays = {one.pk: one for one in weeks.order_by("monday")}
    lacking = _lacking(meeting, DayItem.objects.filter(week__in=mondays, date__gte=today))
    without = [week for pk, week in mondays.items() if pk in lacking]
    told = (_lacking_words(one, [week for week in without if week.teacher_id == one.pk]) for one in people)
    return list(filter(None, told))


def _lacking(meeting: TimedMeeting, rows: Iterable[DayItem]) -> set[int]:
    """Weeks with a planned day on which it is held and doesn't stand."""
    planned: dict[int, set[dt.date]] = defaultdict(set)
    held: set[tuple[int, dt.date]] = set()
    for item in rows:
        if meeting.is_on(item.date):
            planned[item.week_id].add(item.date)
            if _is_it(item, meeting):
                held.add((item.week_id, item.date))
    return {week for week, dates in planned.items() if any((week, one) not in held for one in dates)}


def _is_it(item: DayItem, meeting: TimedMeeting) -> bool:
    """Whether it is the meeting, or the part of it inside the contract day."""
    same = item.kind == DayItem.Kind.MEETING and item.title == meeting.title
    return (
        same and item.building_id == meeting.building_id and meeting.start <= item.start and item.end <= meeting.end
    )


def _lacking_words(person: Person, weeks: list[WeekPlan]) -> str:
    if not weeks:
        return ""
    mondays = [short_date_words(one.monday) for one in weeks]
    more = [f"{len(mondays) - MOST_WEEKS} more"] if len(mondays) > MOST_WEEKS else []
    return f"{person} ({listed([*mondays[:MOST_WEEKS], *more])})"
