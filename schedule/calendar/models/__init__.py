"""Tables of bells, days, meetings, calendars and teachers' rules."""

from schedule.calendar.models.bells import BellPeriod, BellRule, BellSchedule, DayRotation
from schedule.calendar.models.busy import BusyCalendar, BusyTime
from schedule.calendar.models.class_days import ClassDayTime
from schedule.calendar.models.entries import CalendarEntry, MarkingPeriod, SchoolYear, WordRule
from schedule.calendar.models.happenings import Happening
from schedule.calendar.models.meetings import ClassMeeting, SpaceFreeTime, TimeSlotRow
from schedule.calendar.models.sources import CalendarSource
from schedule.calendar.models.teacher import ContractDay, Meeting, TeacherRules, TimedMeeting

__all__ = [
    "BellPeriod",
    "BellRule",
    "BellSchedule",
    "BusyCalendar",
    "BusyTime",
    "CalendarEntry",
    "CalendarSource",
    "ClassDayTime",
    "ClassMeeting",
    "ContractDay",
    "DayRotation",
    "Happening",
    "MarkingPeriod",
    "Meeting",
    "SchoolYear",
    "SpaceFreeTime",
    "TeacherRules",
    "TimeSlotRow",
    "TimedMeeting",
    "WordRule",
]
