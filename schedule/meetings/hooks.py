"""What the room of weeks adds to common meetings; `schedule.apps` hands it down when the application starts."""

import datetime as dt
from collections.abc import Callable, Collection

from accounts.models import Person
from schedule.meetings.models import CommonMeeting

type InForce = Callable[[CommonMeeting, Collection[Person], dt.date], list[str]]

_taking: list[InForce] = []
_lacking: list[InForce] = []


def in_force_add(*, taking: InForce, lacking: InForce) -> None:
    """Register who knows what a meeting meets in weeks in force, and which of them lack it.

    A second time replaces the first.
    """
    _taking[:] = [taking]
    _lacking[:] = [lacking]


def taken_in_force(meeting: CommonMeeting, people: Collection[Person], today: dt.date) -> list[str]:
    """Sentences about sessions of weeks in force, from today on, that are at the meeting's time; none for lunch."""
    if meeting.is_lunch:
        return []
    return [told for ask in _taking for told in ask(meeting, people, today)]


def lacking_in_force(meeting: CommonMeeting, people: Collection[Person], today: dt.date) -> list[str]:
    """The people in whose weeks in force it doesn't stand yet, with these weeks; none for lunch."""
    if meeting.is_lunch:
        return []
    return [told for ask in _lacking for told in ask(meeting, people, today)]
