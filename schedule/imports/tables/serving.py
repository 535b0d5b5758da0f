"""Tables of those who serve: what they are employed for, and what two of them give together."""

from caseload.plans.models import ServiceLine
from schedule.imports.tables.columns import (
    CHOICE,
    CLOCK,
    CLOCK_HELP,
    DATE,
    DATE_HELP,
    INTEGER,
    NAMES,
    PERSON,
    PLACE,
    STUDENT,
    TEACHER,
    TEXT,
    Column,
    Table,
    choice_words,
)
from schedule.imports.tables.people import MONTH_PLACES, WEEKDAYS

_SETTINGS = choice_words(ServiceLine.Setting.choices)
_TOLD_APART = "Only where this teacher gives the student more than one service"

POSTS = Table(
    "posts",
    "Posts",
    "One row for each day from which a teacher is employed for something else. It counts in proposals for who "
    "serves whom; weeks, caseloads and contract hours stay as they are.",
    (
        Column("Teacher", "teacher", PERSON, "Sign-in name.", "", required=True),
        Column("From", "first_day", DATE, f"What held before stays for the days before. {DATE_HELP}", "2026-09-01",
               required=True),
        Column("Share of a full post", "share", INTEGER, "Percent, 1 to 100; empty: 100.", "60"),
        Column("Home base", "base", PLACE, "Building code or name; empty: as the teacher's rules say.", "BASE"),
        Column("Field or license", "field", TEXT, "Students go over only between teachers of one field.",
               "Adapted physical education"),
        Column("Never goes to", "not_at", NAMES, "Codes or names of buildings, with ; between them.", "SOUTH"),
    ),
    key=("teacher", "first_day"),
    permission="assigning.plan",
)  # fmt: skip

JOINT_SESSIONS = Table(
    "joint-sessions",
    "Joint sessions",
    "One row for each two services of a student that their teachers give together, from a day on. Planning goes by "
    "it: both weeks hold such a session at the same time.",
    (
        STUDENT,
        Column("Teacher", "teacher", PERSON, "Sign-in name of one of the two.", "ada", required=True),
        Column("Statement", "statement", TEXT, f"{_TOLD_APART}: as the plan writes it.", "2 x 30 min/week"),
        Column("Setting", "setting", CHOICE, f"{_TOLD_APART}.", "", choices=_SETTINGS),
        Column("Together with", "partner", PERSON, "Sign-in name of the other.", "bo", required=True),
        Column("Their statement", "their_statement", TEXT, f"{_TOLD_APART}: as the plan writes it.", ""),
        Column("Their setting", "their_setting", CHOICE, f"{_TOLD_APART}.", "", choices=_SETTINGS),
        Column("From", "first_day", DATE, f"The first day of it. {DATE_HELP}", "2026-09-08", required=True),
        Column("Until", "last_day", DATE, f"Empty: until further notice. {DATE_HELP}", ""),
        Column("Sessions a week", "times_a_week", INTEGER, "Given together; empty: each that both have.", "1"),
    ),
    key=(
        "student", "teacher", "statement", "setting", "partner", "their_statement", "their_setting", "first_day",
    ),
)  # fmt: skip

COMMON_MEETINGS = Table(
    "common-meetings",
    "Common meetings",
    "One row for each meeting of several teachers. A teacher brings the own ones and asks the others; a "
    "coordinator brings the district's. A row of the same title, days and start is that meeting; one that has only "
    "the title in common with a single meeting that no other row means is taken for it, and the preview says so. "
    "Common lunches aren't in this table.",
    (
        Column("Title", "title", TEXT, "What it is; no student's name, for it shows on printed weeks.",
               "Team meeting", required=True),
        Column("Weekday", "weekday", CHOICE, "Of a meeting that comes again; or fill Date.", "Wednesday",
               choices=WEEKDAYS),
        Column("Which of the month", "month_place", CHOICE,
               "For a meeting on one such weekday of each month; empty: every week.", "", choices=MONTH_PLACES),
        Column("Date", "date", DATE, f"For a meeting that happens once. {DATE_HELP}", ""),
        Column("From", "first_day", DATE, f"The first day of one that comes again; empty: always. {DATE_HELP}",
               "2026-09-08"),
        Column("Until", "last_day", DATE, f"Empty: until further notice. {DATE_HELP}", ""),
        Column("Start", "start", CLOCK, CLOCK_HELP, "14:30", required=True),
        Column("End", "end", CLOCK, CLOCK_HELP, "15:10", required=True),
        Column("Building code", "building", PLACE, "Code or name; empty: wherever each is (a call).", "BASE"),
        Column("Called by", "called_by", PERSON,
               "Sign-in name; empty: you, or nobody in particular where a coordinator brings it.", ""),
        Column("In it", "teachers", NAMES,
               "Sign-in names with ; between them, in whose weeks it stands.", "ada; bo"),
        Column("Asked", "asked", NAMES, "Sign-in names with ; between them: who hasn't answered yet.", "cy"),
    ),
    key=("title", "weekday", "month_place", "date", "first_day", "start"),
    permission="week.change",
)  # fmt: skip

COVERS = Table(
    "covers",
    "Covers",
    "One row for each time that somebody stands in for a teacher. What an absence on these days logged as missed "
    "is logged anew when it is saved. A row that has teacher and days in common with a single cover that no other "
    "row means is taken for it, and the preview says so.",
    (
        TEACHER,
        Column("Substitute", "substitute", PERSON, "Sign-in name; or fill Name.", "eve"),
        Column("Name", "called", TEXT,
               "Of somebody without a sign-in, on days that are over; for days to come arrange a link at the "
               "absence.", ""),
        Column("First day", "first_date", DATE, DATE_HELP, "2026-10-05", required=True),
        Column("Last day", "last_date", DATE, DATE_HELP, "2026-10-06", required=True),
        Column("Only these sessions", "sessions", NAMES,
               "Date and start of each planned session, with ; between them. Empty: the whole days.",
               "2026-10-05 8:30"),
    ),
    key=("teacher", "substitute", "called", "first_date", "sessions"),
    permission="cover.arrange",
)  # fmt: skip
