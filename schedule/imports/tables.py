"""Every table that a district can bring: its columns, what they mean, and what identifies a row.

This is the one place that says so: templates, reading, export, the pages and docs/importing.md follow it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from caseload.models import SchoolClass, ServiceLine, StudentHold
from schedule.models import BellPeriod, BellSchedule, ContractDay, DayRotation, TeacherRules
from travel.models import Building
from travel.models.space import SpaceKind


class ColumnKind(StrEnum):
    """What a cell of a column holds."""

    TEXT = "text"
    CODE = "code"
    CLOCK = "clock"
    DATE = "date"
    INTEGER = "integer"
    DECIMAL = "decimal"
    YES_NO = "yes or no"
    CHOICE = "choice"
    GRADES = "grades"
    DAYS = "days"
    NAMES = "list of names"


class RowRole(StrEnum):
    """What the rows of a table stand for, and so what an import does to what is saved already.

    record: a row adds the record with its key, or changes it. set: the rows with one key together are all
    that there is under this key; what is saved under it and isn't in the file goes. Keys that the file doesn't
    name are never touched.
    """

    RECORD = "record"
    SET = "set"


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `choices` are the words that a cell may hold, each with the value that is saved for it."""

    header: str
    name: str
    kind: ColumnKind
    help: str
    example: str
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """The words that a cell may hold; empty unless the column is a choice."""
        return tuple(word for word, _ in self.choices)


@dataclass(frozen=True, slots=True)
class Table:
    """One table. `key` names the columns that identify a record (or a set of rows)."""

    kind: str
    title: str
    about: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    role: RowRole = RowRole.RECORD

    def column(self, name: str) -> Column:
        """The column of a name. Raises KeyError."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @property
    def headers(self) -> tuple[str, ...]:
        """All headers in order."""
        return tuple(column.header for column in self.columns)


def _words(choices: Iterable[tuple[object, object]]) -> tuple[tuple[str, str], ...]:
    """A model's choices as words with spaces: `early dismissal` for `early_dismissal`."""
    return tuple((str(value).replace("_", " "), str(value)) for value, _ in choices)


_WEEKDAYS = tuple((str(label), str(value)) for value, label in ContractDay.Weekday.choices)
_TEXT, _CODE, _CLOCK, _DATE = ColumnKind.TEXT, ColumnKind.CODE, ColumnKind.CLOCK, ColumnKind.DATE
_INTEGER, _DECIMAL, _YES_NO, _CHOICE = ColumnKind.INTEGER, ColumnKind.DECIMAL, ColumnKind.YES_NO, ColumnKind.CHOICE
_GRADES, _DAYS, _NAMES = ColumnKind.GRADES, ColumnKind.DAYS, ColumnKind.NAMES

_CLOCK_HELP = "Local time such as 08:05, 13:05 or 1:05 PM."
_DATE_HELP = "A date such as 2026-09-08 or 9/8/2026."

_BUILDING = Column(
    "Building code", "building", _CODE, "Code of a building in the table of buildings.", "NORTH", required=True
)
_STUDENT = Column(
    "Student code", "student", _CODE, "Code of a student in the table of students.", "S01", required=True
)
_TEACHER = Column("Teacher", "teacher", _CODE, "Sign-in name of the teacher; empty: you, the one who imports.", "")
_SPACE = Column("Space name", "space", _TEXT, "Name of a space of this building.", "Gym", required=True)
_SLOT_DAYS = Column("Days", "days", _DAYS, "Days such as Mon,Wed or Day 3 or A; empty for every day.", "Mon,Wed")
_SLOT_PERIOD = Column(
    "Period", "period", _TEXT, "Name of a period of the building's bells; or fill Start and End.", "Period 3"
)
_SLOT_START = Column("Start", "start", _CLOCK, f"{_CLOCK_HELP} Only where Period is empty.", "")
_SLOT_END = Column("End", "end", _CLOCK, f"{_CLOCK_HELP} Only where Period is empty.", "")

BUILDINGS = Table(
    "buildings",
    "Buildings",
    "One row for each school, and for any other place where your day begins or ends.",
    (
        Column(
            "Building code",
            "code",
            _CODE,
            "Short and unique in the district: letters, digits, - and _.",
            "NORTH",
            required=True,
        ),
        Column("Name", "name", _TEXT, "Name of the building.", "North Hollow School", required=True),
        Column(
            "Level",
            "level",
            _CHOICE,
            "Which grades it teaches; base: a place without classes.",
            "elementary",
            choices=_words(Building.Level.choices),
        ),
        Column("Address", "address", _TEXT, "Street address.", "12 Mill Lane"),
        Column(
            "Latitude",
            "latitude",
            _DECIMAL,
            "Degrees north (WGS84); without it no drive can be estimated.",
            "43.104000",
        ),
        Column("Longitude", "longitude", _DECIMAL, "Degrees east, so west is negative (WGS84).", "-75.221000"),
        Column("Time zone", "time_zone", _TEXT, "Only if it isn't the district's, such as America/Chicago.", ""),
        Column("Minutes to arrive", "arrive_minutes", _INTEGER, "Minutes to park, sign in and unload.", "5"),
        Column("Minutes to leave", "leave_minutes", _INTEGER, "Minutes to pack up and sign out.", "3"),
        Column("Office phone", "office_phone", _TEXT, "Telephone of the school office.", "555-0100"),
        Column("Office contact", "office_contact", _TEXT, "Whom to ask about spaces and bells.", "Ms. Orrin"),
    ),
    key=("code",),
)

BELL_SCHEDULES = Table(
    "bell-schedules",
    "Bell schedules",
    "One row for each period. The rows of one building and schedule name are the whole schedule.",
    (
        _BUILDING,
        Column("Schedule name", "schedule", _TEXT, "Name of the bell schedule.", "Regular day", required=True),
        Column(
            "Schedule kind",
            "schedule_kind",
            _CHOICE,
            "On what sort of day it rings; the same in all its rows.",
            "regular",
            choices=_words(BellSchedule.Kind.choices),
        ),
        Column(
            "Passing minutes",
            "passing_minutes",
            _INTEGER,
            "Minutes between periods; the same in all its rows.",
            "4",
        ),
        Column(
            "Period name", "period", _TEXT, "Name of the period, once in a schedule.", "Period 1", required=True
        ),
        Column(
            "Period kind",
            "period_kind",
            _CHOICE,
            "What the period is for.",
            "instruction",
            choices=_words(BellPeriod.Kind.choices),
        ),
        Column("Start", "start", _CLOCK, _CLOCK_HELP, "08:30", required=True),
        Column("End", "end", _CLOCK, _CLOCK_HELP, "09:15", required=True),
        Column("Grades", "grades", _GRADES, "For a lunch: whose, such as K-2 or 3,4; empty for all.", ""),
    ),
    key=("building", "schedule"),
    role=RowRole.SET,
)

ROTATIONS = Table(
    "rotations",
    "Rotating days",
    "One row for each building that counts A/B weeks or cycle days. Others need none.",
    (
        _BUILDING,
        Column(
            "Rotation kind",
            "kind",
            _CHOICE,
            "How the building names its days.",
            "cycle",
            required=True,
            choices=_words(DayRotation.Kind.choices),
        ),
        Column("Days in cycle", "length", _INTEGER, "For a cycle: 2 to 10.", "6"),
        Column(
            "Labels", "labels", _TEXT, "Names of the days in order, such as A,B,C,D; empty for Day 1, Day 2, …", ""
        ),
        Column(
            "After a closed day",
            "practice",
            _CHOICE,
            "Next unused: the label that was lost follows. Fixed to date: it is lost.",
            "next unused",
            choices=_words(DayRotation.Practice.choices),
        ),
        Column(
            "Known date", "anchor_date", _DATE, f"A school day whose label you know. {_DATE_HELP}", "2026-09-08"
        ),
        Column("Label on known date", "anchor_label", _TEXT, "Its label; empty for the first.", "Day 1"),
    ),
    key=("building",),
)

BELL_DAYS = Table(
    "bell-days",
    "Bells by day",
    "One row for each weekday or cycle day on which a building rings another schedule than its regular one.",
    (
        _BUILDING,
        Column("Day", "day", _TEXT, "A weekday or a label of the rotation: Wed, Day 3, B.", "Wed", required=True),
        Column(
            "Schedule name",
            "schedule",
            _TEXT,
            "Name of a bell schedule of this building.",
            "Early Wednesday",
            required=True,
        ),
    ),
    key=("building", "day"),
)

SPACES = Table(
    "spaces",
    "Spaces",
    "One row for each room or field where a class of yours can meet.",
    (
        _BUILDING,
        Column("Space name", "name", _TEXT, "Name of the space, once in a building.", "Gym", required=True),
        Column(
            "Space kind", "kind", _CHOICE, "What sort of space it is.", "gym", choices=_words(SpaceKind.choices)
        ),
        Column("Classes that fit", "classes_that_fit", _INTEGER, "How many classes can use it at one time.", "2"),
    ),
    key=("building", "name"),
)

SPACE_TIMES = Table(
    "space-times",
    "When spaces are free",
    "One row for each time when a space is free for you. The rows of one space are all its free times; a space "
    "without any row is free all day.",
    (_BUILDING, _SPACE, _SLOT_DAYS, _SLOT_PERIOD, _SLOT_START, _SLOT_END),
    key=("building", "space"),
    role=RowRole.SET,
)

CLASSES = Table(
    "classes",
    "Classes",
    "One row for each self-contained class, and for each general class that a service is pushed into.",
    (
        _BUILDING,
        Column(
            "Class code",
            "code",
            _CODE,
            "Short and unique in the building: letters, digits, - and _.",
            "RM4",
            required=True,
        ),
        Column("Name", "name", _TEXT, "Name of the class.", "Room 4", required=True),
        Column(
            "Class kind",
            "kind",
            _CHOICE,
            "General or self contained.",
            "self contained",
            choices=_words(SchoolClass.Kind.choices),
        ),
        Column("Class teacher", "class_teacher", _TEXT, "Who teaches the class.", "Mr. Aldous"),
        Column("Grades", "grades", _GRADES, "Such as K-2 or 6,7,8; empty for any.", "K-2"),
        Column(
            "Ratio",
            "ratio",
            _TEXT,
            "Students:teachers:aides as the class is approved; needed if self contained.",
            "8:1:1",
        ),
        Column("Largest", "largest", _INTEGER, "Most students at one time.", "8"),
    ),
    key=("building", "code"),
)

CLASS_TIMES = Table(
    "class-times",
    "When classes meet",
    "One row for each time when a class has physical education of its own. The rows of one class are all its times.",
    (
        _BUILDING,
        Column("Class code", "school_class", _CODE, "Code of a class of this building.", "RM4", required=True),
        _SLOT_DAYS,
        _SLOT_PERIOD,
        _SLOT_START,
        _SLOT_END,
        Column("Space name", "space", _TEXT, "Where it meets: name of a space of this building.", "Gym"),
    ),
    key=("building", "school_class"),
    role=RowRole.SET,
)

STUDENTS = Table(
    "students",
    "Students",
    "One row for each student of the caseload.",
    (
        Column(
            "Student code",
            "code",
            _CODE,
            "A code of your own, unique in the district; not the name.",
            "S01",
            required=True,
        ),
        Column("First name", "first_name", _TEXT, "First name.", "Ola", required=True),
        Column("Last name", "last_name", _TEXT, "Last name.", "Tarn", required=True),
        Column("Grade", "grade", _TEXT, "One of PK, K, 1 to 12, or 12+ for transition.", "3", required=True),
        _BUILDING,
        Column("Home class code", "home_class", _CODE, "Code of a class of this building.", "RM4"),
        Column(
            "Caseload teacher",
            "caseload_teacher",
            _CODE,
            "Sign-in name of the teacher; empty: you, the one who imports.",
            "",
        ),
        Column("First day", "first_day", _DATE, f"At this school, if the student comes mid-year. {_DATE_HELP}", ""),
        Column("Last day", "last_day", _DATE, f"If the student leaves. {_DATE_HELP}", ""),
        Column("Supports", "supports", _TEXT, "Aides, equipment, communication.", "Walker; picture cards"),
        Column("Cautions", "cautions", _TEXT, "What to ask about before an activity.", ""),
    ),
    key=("code",),
)

PLANS = Table(
    "plans",
    "Plans and service lines",
    "One row for each service line. Rows of one student with the same plan start belong to one plan. A service line "
    "that is saved and isn't in the file stays as it is.",
    (
        _STUDENT,
        Column("Plan start", "plan_start", _DATE, _DATE_HELP, "2026-09-08", required=True),
        Column(
            "Plan end",
            "plan_end",
            _DATE,
            f"Last day on which services are owed. {_DATE_HELP}",
            "2027-06-18",
            required=True,
        ),
        Column("Annual review", "annual_review", _DATE, _DATE_HELP, "2027-05-03"),
        Column("Provisional", "provisional", _YES_NO, "Yes while no plan has come yet.", "no"),
        Column(
            "Statement",
            "statement",
            _TEXT,
            "How often and how long, as the plan writes it.",
            "2 x 30 min/week",
            required=True,
        ),
        Column(
            "Service type",
            "service_type",
            _CHOICE,
            "Direct service, or consultation with those who teach the student.",
            "direct",
            choices=_words(ServiceLine.Type.choices),
        ),
        Column(
            "Setting",
            "setting",
            _CHOICE,
            "Where and with whom.",
            "small group",
            choices=_words(ServiceLine.Setting.choices),
        ),
        Column("Service start", "start", _DATE, f"Empty: the plan's start. {_DATE_HELP}", ""),
        Column("Service end", "end", _DATE, f"Empty: the plan's end. {_DATE_HELP}", ""),
        Column(
            "Provider", "provider", _CODE, "Sign-in name of the teacher; empty: the student's caseload teacher.", ""
        ),
        Column(
            "Pushed-into class", "pushed_into", _CODE, "For push in: code of a class of the student's building.", ""
        ),
        Column("Largest group", "largest_group", _INTEGER, "Most students at one time; 1 for one to one.", "4"),
        Column(
            "Allowed spaces",
            "allowed_spaces",
            _NAMES,
            "Names of spaces, with ; between them; empty for any that fits.",
            "Gym; Field",
        ),
        Column(
            "Days apart",
            "days_apart",
            _INTEGER,
            "0: may meet twice a day; 1: on different days; 2 to 4: further apart.",
            "1",
        ),
    ),
    key=("student", "plan_start"),
)

STUDENT_HOLDS = Table(
    "student-holds",
    "When students can't be taken",
    "One row for each time when a student can't be taken. The rows of one student are all such times.",
    (
        _STUDENT,
        Column(
            "Reason",
            "reason",
            _CHOICE,
            "Core: core instruction that the team protected.",
            "speech",
            required=True,
            choices=_words(StudentHold.Reason.choices),
        ),
        _SLOT_DAYS,
        _SLOT_PERIOD,
        _SLOT_START,
        _SLOT_END,
        Column("First day", "first_day", _DATE, f"If it doesn't hold all year. {_DATE_HELP}", ""),
        Column("Last day", "last_day", _DATE, f"If it doesn't hold all year. {_DATE_HELP}", ""),
    ),
    key=("student",),
    role=RowRole.SET,
)

TEACHER_RULES = Table(
    "teacher-rules",
    "The teacher's rules",
    "One row for each teacher: lunch, preparation and limits of every week.",
    (
        _TEACHER,
        Column("Day begins at", "start_place", _CODE, "Building code; empty: at the first class.", "BASE"),
        Column("Day ends at", "end_place", _CODE, "Building code; empty: at the last class.", ""),
        Column("Lunch minutes", "lunch_minutes", _INTEGER, "Duty-free lunch, not while driving.", "30"),
        Column("Lunch not before", "lunch_earliest", _CLOCK, _CLOCK_HELP, "10:45"),
        Column("Lunch over by", "lunch_latest_end", _CLOCK, _CLOCK_HELP, "13:30"),
        Column("Preparation minutes", "preparation_minutes", _INTEGER, "Minutes of preparation.", "45"),
        Column(
            "Preparation counted per",
            "preparation_per",
            _CHOICE,
            "Over what they are counted: day, or two weeks.",
            "day",
            choices=_words(TeacherRules.PreparationPer.choices),
        ),
        Column(
            "Smallest preparation block",
            "preparation_smallest_block",
            _INTEGER,
            "Shorter blocks don't count.",
            "15",
        ),
        Column(
            "Longest stretch",
            "longest_stretch",
            _INTEGER,
            "Most minutes of teaching and driving without a break.",
            "180",
        ),
        Column("Minutes to set up", "setup_minutes", _INTEGER, "Between sessions.", "5"),
        Column("Largest group", "largest_group", _INTEGER, "Most students in a group of your own making.", "6"),
        Column("Grades apart", "grades_apart", _INTEGER, "Most grades between students of one group.", "2"),
    ),
    key=("teacher",),
)

CONTRACT_DAYS = Table(
    "contract-days",
    "Contract hours",
    "One row for each weekday on which a teacher works.",
    (
        _TEACHER,
        Column("Weekday", "weekday", _CHOICE, "Monday to Sunday.", "Monday", required=True, choices=_WEEKDAYS),
        Column("Start", "start", _CLOCK, _CLOCK_HELP, "07:45", required=True),
        Column("End", "end", _CLOCK, _CLOCK_HELP, "15:15", required=True),
    ),
    key=("teacher", "weekday"),
)

MEETINGS = Table(
    "meetings",
    "Meetings",
    "One row for each meeting that blocks the teacher. The rows of one teacher are all their meetings.",
    (
        _TEACHER,
        Column(
            "Title",
            "title",
            _TEXT,
            "What it is; no student's name, for it shows on printed weeks.",
            "Team meeting",
            required=True,
        ),
        Column(
            "Weekday", "weekday", _CHOICE, "For a meeting of every week; or fill Date.", "Monday", choices=_WEEKDAYS
        ),
        Column("Date", "date", _DATE, f"For a meeting that happens once. {_DATE_HELP}", ""),
        Column("Start", "start", _CLOCK, _CLOCK_HELP, "14:30", required=True),
        Column("End", "end", _CLOCK, _CLOCK_HELP, "15:10", required=True),
        Column("Building code", "building", _CODE, "Where; empty: wherever you are (a call).", "BASE"),
    ),
    key=("teacher",),
    role=RowRole.SET,
)

OWN_DRIVE_TIMES = Table(
    "own-drive-times",
    "Your own drive times",
    "One row for each pair of buildings whose drive you know better than an estimate.",
    (
        _TEACHER,
        Column("From building", "origin", _CODE, "Building code.", "NORTH", required=True),
        Column("To building", "destination", _CODE, "Building code.", "SOUTH", required=True),
        Column(
            "Minutes", "minutes", _INTEGER, "Minutes at the wheel from car park to car park.", "14", required=True
        ),
        Column("Miles", "miles", _DECIMAL, "Driven distance, if you know it.", "8.4"),
        Column("Both ways", "both_ways", _YES_NO, "Whether the way back takes as long; empty: yes.", "yes"),
    ),
    key=("teacher", "origin", "destination"),
)

# In the order in which they refer to each other: buildings first.
TABLES = (
    BUILDINGS,
    BELL_SCHEDULES,
    ROTATIONS,
    BELL_DAYS,
    SPACES,
    SPACE_TIMES,
    CLASSES,
    CLASS_TIMES,
    STUDENTS,
    PLANS,
    STUDENT_HOLDS,
    TEACHER_RULES,
    CONTRACT_DAYS,
    MEETINGS,
    OWN_DRIVE_TIMES,
)


def find_table(kind: str) -> Table | None:
    """The table of a kind, or None."""
    return next((table for table in TABLES if table.kind == kind), None)
