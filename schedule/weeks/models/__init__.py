"""Tables of weeks and of what is in them."""

from schedule.weeks.models.questions import WeekQuestion
from schedule.weeks.models.standing import TimetableAttendee, TimetableSession, TimetableVersion
from schedule.weeks.models.weeks import (
    DayItem,
    PlannedSession,
    PlanRun,
    SessionAttendee,
    UnplacedSession,
    WeekPlan,
    WeekRevision,
)

__all__ = [
    "DayItem",
    "PlanRun",
    "PlannedSession",
    "SessionAttendee",
    "TimetableAttendee",
    "TimetableSession",
    "TimetableVersion",
    "UnplacedSession",
    "WeekPlan",
    "WeekQuestion",
    "WeekRevision",
]
