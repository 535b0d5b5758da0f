"""Tables of places: buildings, bells, spaces and classes."""

from caseload.plans.models import SchoolClass
from schedule.calendar.models import BellPeriod, BellSchedule, DayRotation
from schedule.imports.tables.columns import (
    BUILDING,
    CHOICE,
    CLOCK,
    CLOCK_HELP,
    CODE,
    DATE,
    DATE_HELP,
    DECIMAL,
    GRADES,
    INTEGER,
    SLOT_DAYS,
    SLOT_END,
    SLOT_PERIOD,
    SLOT_START,
    SPACE,
    TEXT,
    Column,
    RowRole,
    Table,
    choice_words,
)
from travel.places.models import Building
from travel.places.models.space import SpaceKind

BUILDINGS = Table(
    "buildings",
    "Buildings",
    "One row for each school, and for any other place where your day begins or ends.",
    (
        Column(
            "Building code",
            "code",
            CODE,
            "Short and unique in the district: letters, digits, - and _.",
            "NORTH",
            required=True,
        ),
        Column("Name", "name", TEXT, "Name of the building.", "North Hollow School", required=True),
        Column(
            "Level",
            "level",
            CHOICE,
            "Which grades it teaches; base: a place without classes.",
            "elementary",
            choices=choice_words(Building.Level.choices),
        ),
        Column("Address", "address", TEXT, "Street address.", "12 Mill Lane"),
        Column(
            "Latitude",
            "latitude",
            DECIMAL,
            "Degrees north (WGS84); without it no drive can be estimated.",
            "43.104000",
        ),
        Column("Longitude", "longitude", DECIMAL, "Degrees east, so west is negative (WGS84).", "-75.221000"),
        Column("Time zone", "time_zone", TEXT, "Only if it isn't the district's, such as America/Chicago.", ""),
        Column("Minutes to arrive", "arrive_minutes", INTEGER, "Minutes to park, sign in and unload.", "5"),
        Column("Minutes to leave", "leave_minutes", INTEGER, "Minutes to pack up and sign out.", "3"),
        Column("Office phone", "office_phone", TEXT, "Telephone of the school office.", "555-0100"),
        Column("Office contact", "office_contact", TEXT, "Whom to ask about spaces and bells.", "Ms. Orrin"),
        Column("Where to park", "parking", TEXT, "For whoever comes for the first time.", "Lot behind the gym"),
        Column("Which door", "door", TEXT, "For whoever comes for the first time.", "Door 4, ring the bell"),
        Column("Last day", "last_day", DATE, f"Only where it closes for good. {DATE_HELP}", ""),
    ),
    key=("code",),
)

BELL_SCHEDULES = Table(
    "bell-schedules",
    "Bell schedules",
    "One row for each period. The rows of one building, schedule name and first day are all that rings from that "
    "day on, until the next first day.",
    (
        BUILDING,
        Column("Schedule name", "schedule", TEXT, "Name of the bell schedule.", "Regular day", required=True),
        Column(
            "Rings from",
            "first_day",
            DATE,
            f"{DATE_HELP} Empty: since always. Without this column: from today on, where it rings already.",
            "",
        ),
        Column(
            "Schedule kind",
            "schedule_kind",
            CHOICE,
            "On what sort of day it rings; the same in all its rows.",
            "regular",
            choices=choice_words(BellSchedule.Kind.choices),
        ),
        Column(
            "Passing minutes",
            "passing_minutes",
            INTEGER,
            "Minutes between periods; the same in all its rows.",
            "4",
        ),
        Column("Period name", "period", TEXT, "Name of the period, once in a schedule.", "Period 1", required=True),
        Column(
            "Period kind",
            "period_kind",
            CHOICE,
            "What the period is for.",
            "instruction",
            choices=choice_words(BellPeriod.Kind.choices),
        ),
        Column("Start", "start", CLOCK, CLOCK_HELP, "08:30", required=True),
        Column("End", "end", CLOCK, CLOCK_HELP, "09:15", required=True),
        Column("Grades", "grades", GRADES, "For a lunch: whose, such as K-2 or 3,4; empty for all.", ""),
    ),
    key=("building", "schedule", "first_day"),
    role=RowRole.SET,
)

ROTATIONS = Table(
    "rotations",
    "Rotating days",
    "One row for each building that counts A/B weeks or cycle days, and one more for each rotation that only some "
    "of its grades follow. Others need none.",
    (
        BUILDING,
        Column("Rotation name", "name", TEXT, "Needed with grades: what people call it.", ""),
        Column(
            "Followed by grades",
            "grades",
            GRADES,
            "Who follows it, such as 6-8; empty for all whom no other rotation of the building names.",
            "",
        ),
        Column(
            "Counts from",
            "first_day",
            DATE,
            f"{DATE_HELP} The first day that is called so; empty: since always. What was before stays.",
            "",
        ),
        Column(
            "Rotation kind",
            "kind",
            CHOICE,
            "How the building names its days.",
            "cycle",
            required=True,
            choices=choice_words(DayRotation.Kind.choices),
        ),
        Column("Days in cycle", "length", INTEGER, "For a cycle: 2 to 10.", "6"),
        Column(
            "Labels", "labels", TEXT, "Names of the days in order, such as A,B,C,D; empty for Day 1, Day 2, …", ""
        ),
        Column(
            "After a closed day",
            "practice",
            CHOICE,
            "Next unused: the label that was lost follows. Fixed to date: it is lost.",
            "next unused",
            choices=choice_words(DayRotation.Practice.choices),
        ),
        Column("Known date", "anchor_date", DATE, f"A school day whose label you know. {DATE_HELP}", "2026-09-08"),
        Column("Label on known date", "anchor_label", TEXT, "Its label; empty for the first.", "Day 1"),
    ),
    key=("building", "name", "first_day"),
)

BELL_DAYS = Table(
    "bell-days",
    "Bells by day",
    "One row for each weekday or cycle day on which a building rings another schedule than its regular one.",
    (
        BUILDING,
        Column(
            "Day",
            "day",
            TEXT,
            "A weekday, a label of the rotation, both, or one of the month: Wed, Day 3, B, A Mon, first Wed.",
            "Wed",
            required=True,
        ),
        Column(
            "Schedule name",
            "schedule",
            TEXT,
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
        BUILDING,
        Column("Space name", "name", TEXT, "Name of the space, once in a building.", "Gym", required=True),
        Column(
            "Space kind",
            "kind",
            CHOICE,
            "What sort of space it is.",
            "gym",
            choices=choice_words(SpaceKind.choices),
        ),
        Column("Classes that fit", "classes_that_fit", INTEGER, "How many classes can use it at one time.", "2"),
        Column("First day", "first_day", DATE, f"Only if it isn't there before. {DATE_HELP}", ""),
        Column("Last day", "last_day", DATE, f"Only if it is gone afterwards. {DATE_HELP}", ""),
    ),
    key=("building", "name"),
)

SPACE_TIMES = Table(
    "space-times",
    "When spaces are free",
    "One row for each time when a space is free for you. The rows of one space are all its free times; a space "
    "without any row is free all day.",
    (BUILDING, SPACE, SLOT_DAYS, SLOT_PERIOD, SLOT_START, SLOT_END),
    key=("building", "space"),
    role=RowRole.SET,
)

CLASSES = Table(
    "classes",
    "Classes",
    "One row for each self-contained class, and for each general class that a service is pushed into.",
    (
        BUILDING,
        Column(
            "Class code",
            "code",
            CODE,
            "Short and unique in the building: letters, digits, - and _.",
            "RM4",
            required=True,
        ),
        Column("Name", "name", TEXT, "Name of the class.", "Room 4", required=True),
        Column(
            "Class kind",
            "kind",
            CHOICE,
            "General or self contained.",
            "self contained",
            choices=choice_words(SchoolClass.Kind.choices),
        ),
        Column("Class teacher", "class_teacher", TEXT, "Who teaches the class.", "Mr. Aldous"),
        Column("Grades", "grades", GRADES, "Such as K-2 or 6,7,8; empty for any.", "K-2"),
        Column(
            "Ratio",
            "ratio",
            TEXT,
            "Students:teachers:aides as the class is approved; needed if self contained.",
            "8:1:1",
        ),
        Column("Largest", "largest", INTEGER, "Most students at one time.", "8"),
    ),
    key=("building", "code"),
)

CLASS_DAYS = Table(
    "class-days",
    "Classes with hours or a lunch of their own",
    "One row for each time when a class is at school, or has its lunch. Rows of one class are all its times.",
    (
        BUILDING,
        Column("Class code", "school_class", CODE, "Code of a class of this building.", "KA", required=True),
        Column(
            "What",
            "kind",
            CHOICE,
            "There: at school then and at no other time. Lunch: instead of its grade's.",
            "there",
            required=True,
            choices=(("there", "there"), ("lunch", "lunch")),
        ),
        SLOT_DAYS,
        Column("Start", "start", CLOCK, CLOCK_HELP, "8:30", required=True),
        Column("End", "end", CLOCK, CLOCK_HELP, "11:30", required=True),
        Column("First day", "first_day", DATE, f"Empty: since as long as anybody knows. {DATE_HELP}", ""),
        Column("Last day", "last_day", DATE, f"Empty: until further notice. {DATE_HELP}", ""),
    ),
    key=("building", "school_class"),
    role=RowRole.SET,
)

CLASS_TIMES = Table(
    "class-times",
    "When classes meet",
    "One row for each time when a class has physical education of its own. Rows of one class are all its times.",
    (
        BUILDING,
        Column("Class code", "school_class", CODE, "Code of a class of this building.", "RM4", required=True),
        SLOT_DAYS,
        SLOT_PERIOD,
        SLOT_START,
        SLOT_END,
        Column("Space name", "space", TEXT, "Where it meets: name of a space of this building.", "Gym"),
    ),
    key=("building", "school_class"),
    role=RowRole.SET,
)
