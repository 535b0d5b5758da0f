"""Reads of common meetings: for planning, for the list, and what stands in their way."""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from accounts.dates import date_words, day_words
from accounts.models import Person
from accounts.selectors import LastChange, last_change_of, today_of
from schedule.calendar.models import Meeting, TimedMeeting
from schedule.calendar.selectors.school_days import minutes_of
from schedule.calendar.starts import spoken
from schedule.calendar.words import listed
from schedule.meetings.hooks import lacking_in_force, taken_in_force
from schedule.meetings.models import CommonMeeting

UNDO = "common_meeting_take_back"
ANSWERED = "common_meeting_answer"
"""Whose answer it was takes it back, by another answer."""
A_YEAR = dt.timedelta(days=366)
SAID_YES_TO = (
    "kind",
    "weekday",
    "weekdays",
    "month_place",
    "date",
    "start",
    "end",
    "building",
    "first_day",
    "last_day",
)
"""What somebody who came along said yes to: when it is and where, not what it is called."""


def common_meetings_of(teacher: Person) -> list[CommonMeeting]:
    """Those in which a teacher is, with their places; lunches take no time and are none."""
    rows = CommonMeeting.objects.filter(teachers=teacher, kind=CommonMeeting.Kind.MEETING)
    return list(rows.select_related("building"))


@dataclass(frozen=True, slots=True)
class LunchWish:
    """With whom a teacher wants lunch, on which days."""

    row: CommonMeeting
    mates: tuple[Person, ...]


def lunch_wishes(teacher: Person, first: dt.date, last: dt.date) -> list[LunchWish]:
    """The common lunches that a teacher said yes to and that hold on a day of a stretch; one query if none."""
    rows = CommonMeeting.objects.filter(
        Q(first_day=None) | Q(first_day__lte=last),
        Q(last_day=None) | Q(last_day__gte=first),
        kind=CommonMeeting.Kind.LUNCH,
        teachers=teacher,
    )
    rows = rows.select_related("building").prefetch_related("teachers").order_by("pk")
    found = ((row, tuple(one for one in row.teachers.all() if one.is_active and one != teacher)) for row in rows)
    return [LunchWish(row, mates) for row, mates in found if mates]


def when_words(meeting: TimedMeeting) -> str:
    """``Every Wednesday, 2:00 to 3:00 PM, at North School, from October 5, 2026 on``."""
    day = date_words(meeting.date) if meeting.date is not None else meeting.days
    lunch = isinstance(meeting, CommonMeeting) and meeting.is_lunch
    between = "where it can be had from " if lunch else ""
    parts = [day, f"{between}{spoken((minutes_of(meeting.start), minutes_of(meeting.end)))}"]
    if meeting.building is not None:
        parts.append(f"at {meeting.building}")
    if isinstance(meeting, CommonMeeting) and (days := _days_words(meeting)):
        parts.append(days)
    return ", ".join(parts)


def _days_words(meeting: CommonMeeting) -> str:
    first = f"from {date_words(meeting.first_day)}" if meeting.first_day is not None else ""
    if meeting.last_day is None:
        return f"{first} on" if first else ""
    return f"{first} to {date_words(meeting.last_day)}" if first else f"until {date_words(meeting.last_day)}"


# ---- what stands in the way ------------------------------------------------------------------------------------


def meetings_in_the_way(meeting: CommonMeeting, people: Collection[Person], today: dt.date) -> dict[str, str]:
    """By field: somebody has another meeting at that time on a day within a year. A lunch is in nobody's way."""
    if meeting.is_lunch:
        return {}
    found = [told for person in people if (told := _in_the_way(meeting, person, today))]
    return {"start": " ".join(found)} if found else {}


def _in_the_way(meeting: CommonMeeting, person: Person, today: dt.date) -> str:
    own: list[TimedMeeting] = [*Meeting.objects.filter(teacher=person), *common_meetings_of(person)]
    for other in own:
        same = isinstance(other, CommonMeeting) and other.pk == meeting.pk
        if not same and (day := _first_together(meeting, other, today)) is not None:
            return (
                f"{person} has “{other.title}” then on {day_words(day)}. Choose another time, or change that first."
            )
    return ""


def _first_together(one: TimedMeeting, other: TimedMeeting, today: dt.date) -> dt.date | None:
    """The first day on which both are held at a common minute."""
    if one.start >= other.end or other.start >= one.end:
        return None
    days = (today + dt.timedelta(days=ahead) for ahead in range(A_YEAR.days))
    return next((day for day in days if one.is_on(day) and other.is_on(day)), None)


def asked_again(actor: Person, row: CommonMeeting, values: Mapping[str, Any]) -> list[Person]:
    """Who said yes and is asked anew by these changes: whoever came along, if it is at another time or place.

    A coordinator puts people into a meeting and asks nobody.
    """
    known = CommonMeeting.objects.filter(pk=row.pk).select_related("building").first()
    if known is None or actor.is_coordinator or not _is_otherwise(known, values):
        return []
    return [one for one in known.teachers.all() if may_leave(known, one)]


def _is_otherwise(known: CommonMeeting, values: Mapping[str, Any]) -> bool:
    """Whether it would be at another time, place or on other days. One on a date has neither first nor last day."""
    then = {name: values.get(name, getattr(known, name)) for name in SAID_YES_TO}
    if then["date"] is not None:
        then |= {"first_day": None, "last_day": None}
    return any(getattr(known, name) != value for name, value in then.items())


# ---- the list --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MeetingShown:
    """One meeting as a person sees it. `lacking`: weeks in force in which it doesn't stand yet."""

    row: CommonMeeting
    when: str
    who: str
    asked: str
    is_over: bool
    may_change: bool
    is_asked: bool
    may_leave: bool
    in_the_way: tuple[str, ...]
    lacking: tuple[str, ...]


def meetings_shown(viewer: Person, rows: Sequence[CommonMeeting]) -> list[MeetingShown]:
    """Meetings in words."""
    today = today_of(viewer)
    changeable = set(CommonMeeting.objects.changeable_by(viewer).values_list("pk", flat=True))
    return [_shown(viewer, one, today, may_change=one.pk in changeable) for one in rows]


def meetings_listed(viewer: Person) -> list[CommonMeeting]:
    """All that the viewer sees: those that are over come last."""
    rows = CommonMeeting.objects.visible_to(viewer).select_related("building", "called_by")
    today = today_of(viewer)
    return sorted(rows.prefetch_related("teachers", "asked"), key=lambda one: is_over(one, today))


def is_over(meeting: CommonMeeting, today: dt.date) -> bool:
    """Whether no day of it is left."""
    last = meeting.date or meeting.last_day
    return last is not None and last < today


def _shown(viewer: Person, row: CommonMeeting, today: dt.date, *, may_change: bool) -> MeetingShown:
    teachers, asked = list(row.teachers.all()), list(row.asked.all())
    over, is_asked = is_over(row, today), viewer in asked
    seen = teachers if viewer.is_coordinator else [one for one in teachers if one == viewer]
    return MeetingShown(
        row,
        when_words(row),
        _names(teachers),
        _names(asked),
        over,
        may_change,
        is_asked,
        may_leave(row, viewer),
        tuple(taken_in_force(row, [viewer], today)) if is_asked and not over else (),
        tuple(lacking_in_force(row, seen, today)) if not over else (),
    )


def _names(people: Sequence[Person]) -> str:
    return listed([str(one) for one in people]) if people else ""


def may_leave(row: CommonMeeting, person: Person) -> bool:
    """Whether somebody is in it because a colleague asked: who was put in by a coordinator isn't."""
    called = row.called_by
    asked = called is not None and called != person and not called.is_coordinator
    return asked and any(one == person for one in row.teachers.all())


def meetings_asked(person: Person) -> int:
    """How many meetings wait for a teacher's answer."""
    return sum(not is_over(one, today_of(person)) for one in CommonMeeting.objects.filter(asked=person))


def last_meeting_change(viewer: Person) -> LastChange | None:
    """What was done last to common meetings that the viewer may change, or by the viewer."""
    if viewer.district is None:
        return None
    rows = CommonMeeting.objects.changeable_by(viewer).values_list("pk", flat=True)
    gone = Q(pk__isnull=False) if viewer.is_coordinator else Q(actor=viewer, changes__called_by__0=viewer.pk)
    last = last_change_of(CommonMeeting, viewer.district, rows, undo=UNDO, about=gone)
    return None if last is None or last.entry.action == ANSWERED else last
