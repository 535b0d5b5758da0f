"""Tables of people: students, plans, and the teacher."""

from caseload.plans.models import ServiceLine, StudentHold
from schedule.calendar.models import ContractDay, Meeting, TeacherRules
from schedule.imports.tables.columns import (
    BUILDING,
    CHOICE,
    CLOCK,
    CLOCK_HELP,
    CODE,
    DATE,
    DATE_HELP,
    DECIMAL,
    INTEGER,
    NAMES,
    PERSON,
    PLACE,
    SLOT_DAYS,
    SLOT_END,
    SLOT_PERIOD,
    SLOT_START,
    STUDENT,
    TEACHER,
    TEXT,
    YES_NO,
    Column,
    RowRole,
    Table,
    choice_words,
)

WEEKDAYS = tuple((str(label), str(value)) for value, label in ContractDay.Weekday.choices)
MONTH_PLACES = tuple((str(label), str(value)) for value, label in Meeting.MonthPlace.choices)

STUDENTS = Table(
    "students",
    "Students",
    "One row for each student of the caseload.",
    (
        Column(
            "Student code",
            "code",
            CODE,
            "A code of your own, unique in the district; not the name.",
            "S01",
            required=True,
        ),
        Column("First name", "first_name", TEXT, "First name.", "Ola", required=True),
        Column("Last name", "last_name", TEXT, "Last name.", "Tarn", required=True),
        Column("Grade", "grade", TEXT, "One of PK, K, 1 to 12, or 12+ for transition.", "3", required=True),
        BUILDING,
        Column("Home class code", "home_class", CODE, "Code of a class of this building.", "RM4"),
        Column(
            "Caseload teacher",
            "caseload_teacher",
            PERSON,
            "Sign-in name; empty: you, or the district's only teacher.",
            "",
        ),
        Column("First day", "first_day", DATE, f"At this school, if the student comes mid-year. {DATE_HELP}", ""),
        Column("Last day", "last_day", DATE, f"If the student leaves. {DATE_HELP}", ""),
        Column(
            "From",
            "from_day",
            DATE,
            "From which day another building, class, grade or teacher of a known student holds; days before it "
            f"keep theirs. Needed for another building; otherwise empty means today. {DATE_HELP}",
            "",
        ),
        Column("Supports", "supports", TEXT, "Aides, equipment, communication.", "Walker; picture cards"),
        Column("Cautions", "cautions", TEXT, "What to ask about before an activity.", ""),
    ),
    key=("code",),
)

PLANS = Table(
    "plans",
    "Plans and service lines",
    "One row for each service line. Rows of one student with the same plan start are one plan. A service line "
    "that is saved and isn't in the file stays as it is.",
    (
        STUDENT,
        Column("Plan start", "plan_start", DATE, DATE_HELP, "2026-09-08", required=True),
        Column(
            "Plan end",
            "plan_end",
            DATE,
            f"Last day on which services are owed. {DATE_HELP}",
            "2027-06-18",
            required=True,
        ),
        Column("Annual review", "annual_review", DATE, DATE_HELP, "2027-05-03"),
        Column("Provisional", "provisional", YES_NO, "Yes while no plan has come yet.", "no"),
        Column(
            "Statement",
            "statement",
            TEXT,
            "How often and how long, as the plan writes it.",
            "2 x 30 min/week",
            required=True,
        ),
        Column(
            "Read as",
            "reading",
            TEXT,
            "Only where the statement can mean two things: the one that is meant, such as 2 x 30 min/week.",
            "",
        ),
        Column(
            "Service type",
            "service_type",
            CHOICE,
            "Direct service, or consultation with those who teach the student.",
            "direct",
            choices=choice_words(ServiceLine.Type.choices),
        ),
        Column(
            "Setting",
            "setting",
            CHOICE,
            "Where and with whom.",
            "small group",
            choices=choice_words(ServiceLine.Setting.choices),
        ),
        Column(
            "From",
            "from_day",
            DATE,
            "For a service that is there with other terms: the first day of the terms of this row; what was owed "
            f"before stays. Empty for a new service. {DATE_HELP}",
            "",
        ),
        Column(
            "Service",
            "service",
            INTEGER,
            "Number of the service, as exported: rows with the same one are versions of it. Empty for a new one.",
            "",
        ),
        Column(
            "Revision",
            "revision",
            INTEGER,
            "Of the service, as exported: a row that changes what somebody has changed since is refused. Empty: it "
            "isn't asked.",
            "",
        ),
        Column("Service start", "start", DATE, f"Empty: the plan's start. {DATE_HELP}", ""),
        Column("Service end", "end", DATE, f"Empty: the plan's end. {DATE_HELP}", ""),
        Column(
            "Extended school year",
            "extended_year",
            YES_NO,
            "Yes for a service that the plan names for the extended school year; empty: no.",
            "",
        ),
        Column(
            "Provider",
            "provider",
            PERSON,
            "Sign-in name of the teacher; empty: the student's caseload teacher.",
            "",
        ),
        Column(
            "Given at",
            "building",
            PLACE,
            "For a program elsewhere that the plan names: code or name of its building, where the student is "
            "enrolled. Empty: at the student's school.",
            "",
        ),
        Column(
            "Pushed-into class", "pushed_into", CODE, "For push in: code of a class of the student's building.", ""
        ),
        Column("Largest group", "largest_group", INTEGER, "Most students at one time; 1 for one to one.", "4"),
        Column(
            "Allowed spaces",
            "allowed_spaces",
            NAMES,
            "Names of spaces, with ; between them; empty for any that fits.",
            "Gym; Field",
        ),
        Column(
            "Held in",
            "held_in_building",
            PLACE,
            "For a service held in another building, such as a pool: that building's code or name. Empty: at the "
            "student's school.",
            "",
        ),
        Column("Held in space", "held_in", TEXT, "The space there.", ""),
        Column(
            "Minutes on the way",
            "way_minutes",
            INTEGER,
            "Minutes that the students need to get there, and as many back; empty: 0.",
            "",
        ),
        Column(
            "Days apart",
            "days_apart",
            INTEGER,
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
        STUDENT,
        Column(
            "Reason",
            "reason",
            CHOICE,
            "Core: core instruction that the team protected.",
            "speech",
            required=True,
            choices=choice_words(StudentHold.Reason.choices),
        ),
        SLOT_DAYS,
        SLOT_PERIOD,
        SLOT_START,
        SLOT_END,
        Column("First day", "first_day", DATE, f"If it doesn't hold all year. {DATE_HELP}", ""),
        Column("Last day", "last_day", DATE, f"If it doesn't hold all year. {DATE_HELP}", ""),
    ),
    key=("student",),
    role=RowRole.SET,
)

TEACHER_RULES = Table(
    "teacher-rules",
    "The teacher's rules",
    "One row for each teacher: lunch, preparation and limits of every week.",
    (
        TEACHER,
        Column("Day begins at", "start_place", PLACE, "Building code or name; empty: at the first class.", "BASE"),
        Column("Day ends at", "end_place", PLACE, "Building code or name; empty: at the last class.", ""),
        Column("Lunch minutes", "lunch_minutes", INTEGER, "Duty-free lunch, not while driving.", "30"),
        Column("Lunch not before", "lunch_earliest", CLOCK, CLOCK_HELP, "10:45"),
        Column("Lunch over by", "lunch_latest_end", CLOCK, CLOCK_HELP, "13:30"),
        Column("Preparation minutes", "preparation_minutes", INTEGER, "Minutes of preparation.", "45"),
        Column(
            "Preparation counted per",
            "preparation_per",
            CHOICE,
            "Over what they are counted: day, or two weeks.",
            "day",
            choices=choice_words(TeacherRules.PreparationPer.choices),
        ),
        Column(
            "Smallest preparation block",
            "preparation_smallest_block",
            INTEGER,
            "Shorter blocks don't count.",
            "15",
        ),
        Column(
            "Longest stretch",
            "longest_stretch",
            INTEGER,
            "Most minutes of teaching and driving without a break.",
            "180",
        ),
        Column("Minutes to set up", "setup_minutes", INTEGER, "Between sessions.", "5"),
        Column("Largest group", "largest_group", INTEGER, "Most students in a group of your own making.", "6"),
        Column("Grades apart", "grades_apart", INTEGER, "Most grades between students of one group.", "2"),
    ),
    key=("teacher",),
)

CONTRACT_DAYS = Table(
    "contract-days",
    "Contract hours",
    "One row for each weekday on which a teacher works.",
    (
        TEACHER,
        Column("Weekday", "weekday", CHOICE, "Monday to Sunday.", "Monday", required=True, choices=WEEKDAYS),
        Column("Start", "start", CLOCK, CLOCK_HELP, "07:45", required=True),
        Column("End", "end", CLOCK, CLOCK_HELP, "15:15", required=True),
    ),
    key=("teacher", "weekday"),
)

MEETINGS = Table(
    "meetings",
    "Meetings",
    "One row for each meeting that blocks the teacher. The rows of one teacher are all their meetings.",
    (
        TEACHER,
        Column(
            "Title",
            "title",
            TEXT,
            "What it is; no student's name, for it shows on printed weeks.",
            "Team meeting",
            required=True,
        ),
        Column(
            "Weekday", "weekday", CHOICE, "For a meeting of every week; or fill Date.", "Monday", choices=WEEKDAYS
        ),
        Column(
            "Which of the month",
            "month_place",
            CHOICE,
            "For a meeting on one such weekday of each month; empty: every week.",
            "",
            choices=MONTH_PLACES,
        ),
        Column("Date", "date", DATE, f"For a meeting that happens once. {DATE_HELP}", ""),
        Column("Start", "start", CLOCK, CLOCK_HELP, "14:30", required=True),
        Column("End", "end", CLOCK, CLOCK_HELP, "15:10", required=True),
        Column("Building code", "building", CODE, "Where; empty: wherever you are (a call).", "BASE"),
    ),
    key=("teacher",),
    role=RowRole.SET,
)

OWN_DRIVE_TIMES = Table(
    "own-drive-times",
    "Your own drive times",
    "One row for each pair of buildings whose drive you know better than an estimate.",
    (
        TEACHER,
        Column("From building", "origin", PLACE, "Building code or name.", "NORTH", required=True),
        Column("To building", "destination", PLACE, "Building code or name.", "SOUTH", required=True),
        Column(
            "Minutes",
            "minutes",
            INTEGER,
            "Driving minutes from parking lot to parking lot.",
            "14",
            required=True,
        ),
        Column("Miles", "miles", DECIMAL, "Driven distance, if you know it.", "8.4"),
        Column("Both ways", "both_ways", YES_NO, "Whether the way back takes as long; empty: yes.", "yes"),
    ),
    key=("teacher", "origin", "destination"),
)
