"""Tables of goals and of data taken on them."""

from caseload.progress.measures import DISTANCE_UNITS
from caseload.progress.models import StudentGoal
from schedule.imports.tables.columns import (
    CHOICE,
    DATE,
    DATE_HELP,
    DECIMAL,
    INTEGER,
    STUDENT,
    TEXT,
    Column,
    Table,
    choice_words,
)

NUMBER = Column(
    "Goal number", "position", INTEGER, "The goal's place in the student's list: 1, 2, 3.", "1", required=True
)
OTHERWISE = "Empty: as the goal's text says."
_MEASURES, _WANTED = choice_words(StudentGoal.Measure.choices), choice_words(StudentGoal.Wanted.choices)
_UNITS = tuple((one, one) for one in DISTANCE_UNITS)
_LEVELS = "Of a rubric or of prompts, the lowest first, one a line within the cell."
_BASELINE = "What the student did when it was written, in the goal's unit."
_SEEN = "In the goal's unit: trials done, percent, seconds, level."
_TRIED = "Of trials: how many there were. Empty: as many as the goal says."
_FIRST, _LAST = (
    f"The first day on which it holds. {DATE_HELP}",
    f"The day by which it is to be reached. {DATE_HELP}",
)

GOALS = Table(
    "goals",
    "Goals",
    "One row for each goal or short-term objective. What the text says is read from it; fill in the columns after "
    "Baseline only where it is meant otherwise. A goal that can't be read is kept as it is typed, and waits on the "
    "student's page for somebody to say how it is measured.",
    (
        STUDENT,
        NUMBER,
        Column("First day", "start", DATE, _FIRST, "2026-09-08", required=True),
        Column(
            "Reached by",
            "end",
            DATE,
            f"The day by which it is to be reached. {DATE_HELP}",
            "2027-05-28",
            required=True,
        ),
        Column("Goal", "text", TEXT, "As the plan writes it.", "Will catch a ball in 4 of 5 trials", required=True),
        Column("Under goal number", "parent", INTEGER, "Of a short-term objective: the number of its goal.", ""),
        Column("Baseline", "baseline", DECIMAL, _BASELINE, "1"),
        Column("Measure", "measure", CHOICE, OTHERWISE, "", choices=_MEASURES),
        Column("Criterion", "criterion", DECIMAL, f"The figure that it asks for. {OTHERWISE}", ""),
        Column("Wanted", "wanted", CHOICE, OTHERWISE, "", choices=_WANTED),
        Column("Of trials", "trials", INTEGER, OTHERWISE, ""),
        Column("Sessions", "sessions", INTEGER, f"In how many sessions. {OTHERWISE}", ""),
        Column("Of sessions", "sessions_of", INTEGER, "Empty: in a row, or as the text says.", ""),
        Column(
            "Distance in",
            "distance_unit",
            CHOICE,
            OTHERWISE,
            "",
            choices=_UNITS,
        ),
        Column("Levels", "levels", TEXT, _LEVELS, ""),
        Column("Condition", "condition", TEXT, OTHERWISE, ""),
        Column("Ended on", "ended_on", DATE, f"If it ended before its day. {DATE_HELP}", ""),
        Column("Why it ended", "ended_why", TEXT, "As the team says it.", ""),
    ),
    key=("student", "position", "start"),
)

GOAL_DATA = Table(
    "goal-data",
    "Data taken on goals",
    "One row for each set of trials, time, count or level that was seen. Rows are only added: one that was brought "
    "before is not brought twice, and a wrong one is taken back on the goal's page.",
    (
        STUDENT,
        NUMBER,
        Column("Day", "day", DATE, f"When it was seen. {DATE_HELP}", "2026-10-06", required=True),
        Column(
            "Seen",
            "value",
            DECIMAL,
            "In the goal's unit: trials done, percent, seconds, level.",
            "3",
            required=True,
        ),
        Column("Of trials", "tried", INTEGER, _TRIED, "5"),
        Column("Taken by", "taken_by_name", TEXT, "Who took it, such as an aide, if not you.", "Bea Lund"),
        Column("Note", "note", TEXT, "Anything to remember.", ""),
    ),
    key=("student", "position", "day"),
)
