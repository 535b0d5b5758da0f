"""Tables of those who serve: what they are employed for, and what two of them give together."""

from caseload.plans.models import ServiceLine
from schedule.imports.tables.columns import (
    CHOICE,
    DATE,
    DATE_HELP,
    INTEGER,
    NAMES,
    PERSON,
    PLACE,
    STUDENT,
    TEXT,
    Column,
    Table,
    choice_words,
)

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
