"""The tables of the schedule floor, shown to Django. Code takes each from its room (schedule.weeks.models)."""

from schedule.aides.models import AideHours
from schedule.assigning.models import AssigningPart, AssigningProposal, AssigningRun, TeacherPost
from schedule.calendar.models.bells import BellPeriod, BellRule, BellSchedule, DayRotation
from schedule.calendar.models.busy import BusyCalendar, BusyTime
from schedule.calendar.models.class_days import ClassDayTime
from schedule.calendar.models.entries import CalendarEntry, MarkingPeriod, SchoolYear, WordRule
from schedule.calendar.models.happenings import Happening
from schedule.calendar.models.meetings import ClassMeeting, SpaceFreeTime
from schedule.calendar.models.sources import CalendarSource
from schedule.calendar.models.teacher import ContractDay, Meeting, TeacherRules
from schedule.class_hour.models import PartEquipment, Routine, RoutineChoice, RoutinePart, RunTap
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions
from schedule.everybody.models import EverybodyPlan, EverybodyTurn
from schedule.feeds.models import Feed, FeedBody, FeedItem
from schedule.imports.models import ImportBatch, ImportedRow, OwnHeader
from schedule.joint.models import JointService
from schedule.leaving.models import TeacherLeave
from schedule.long_steps.models import LongStep
from schedule.meetings.models import CommonMeeting
from schedule.next_year.models import (
    NextYear,
    NextYearBuilding,
    NextYearClass,
    NextYearDay,
    NextYearPeriod,
    NextYearStudent,
)
from schedule.notices.models import Hearing, Notice, NoticeSettings, ToldDate, WatchedTeacher
from schedule.overview.models import CountedCause, CountedMissed, CountedServices, TeacherCount
from schedule.packet.models import PacketLink, PacketView
from schedule.reports.models import StoredReport
from schedule.stations.models import Station, StationEquipment, StationGoal, StationRotation
from schedule.telling.models import ProgressReport, ReportSentence
from schedule.terms.models import TermPlan
from schedule.together.models import TogetherPlan
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
    "Activity",
    "AideHours",
    "AssigningPart",
    "AssigningProposal",
    "AssigningRun",
    "BellPeriod",
    "BellRule",
    "BellSchedule",
    "BusyCalendar",
    "BusyTime",
    "CalendarEntry",
    "CalendarSource",
    "ClassDayTime",
    "ClassMeeting",
    "CommonMeeting",
    "ContractDay",
    "CountedCause",
    "CountedMissed",
    "CountedServices",
    "DayItem",
    "DayRotation",
    "Equipment",
    "EquipmentStock",
    "EverybodyPlan",
    "EverybodyTurn",
    "Feed",
    "FeedBody",
    "FeedItem",
    "Happening",
    "Hearing",
    "ImportBatch",
    "ImportedRow",
    "JointService",
    "LongStep",
    "MarkingPeriod",
    "Meeting",
    "NextYear",
    "NextYearBuilding",
    "NextYearClass",
    "NextYearDay",
    "NextYearPeriod",
    "NextYearStudent",
    "Notice",
    "NoticeSettings",
    "OwnHeader",
    "PacketLink",
    "PacketView",
    "PartEquipment",
    "PlanRun",
    "PlannedSession",
    "ProgressReport",
    "ReportSentence",
    "Routine",
    "RoutineChoice",
    "RoutinePart",
    "RunTap",
    "SchoolYear",
    "SessionAttendee",
    "SpaceCautions",
    "SpaceFreeTime",
    "Station",
    "StationEquipment",
    "StationGoal",
    "StationRotation",
    "StoredReport",
    "TeacherCount",
    "TeacherLeave",
    "TeacherPost",
    "TeacherRules",
    "TermPlan",
    "TimetableAttendee",
    "TimetableSession",
    "TimetableVersion",
    "TogetherPlan",
    "ToldDate",
    "UnplacedSession",
    "WatchedTeacher",
    "WeekPlan",
    "WeekQuestion",
    "WeekRevision",
    "WordRule",
]
