"""Every table that a district can bring: its columns, what they mean, and what identifies a row.

This is the one place that says so: templates, reading, export, the pages and docs/importing.md follow it.
"""

from collections.abc import Callable

from schedule.imports.tables.calendar import CALENDAR_WORDS, MARKING_PERIODS, SCHOOL_YEARS, SPECIAL_DAYS
from schedule.imports.tables.care import AIDE_HOURS, CAUTION_TAGS, CAUTIONS, CONTACTS, SUPPORTS
from schedule.imports.tables.columns import Table
from schedule.imports.tables.goals import GOAL_DATA, GOALS
from schedule.imports.tables.lessons import ACTIVITIES, EQUIPMENT, ROUTINES, STATIONS
from schedule.imports.tables.mileage import TRIPS, VOUCHERS
from schedule.imports.tables.people import (
    CONTRACT_DAYS,
    MEETINGS,
    OWN_DRIVE_TIMES,
    PLANS,
    STUDENT_HOLDS,
    STUDENTS,
    TEACHER_RULES,
)
from schedule.imports.tables.schools import (
    BELL_DAYS,
    BELL_SCHEDULES,
    BUILDINGS,
    CLASS_DAYS,
    CLASS_TIMES,
    CLASSES,
    ROTATIONS,
    SPACE_TIMES,
    SPACES,
)
from schedule.imports.tables.serving import COMMON_MEETINGS, COVERS, JOINT_SESSIONS, POSTS
from schedule.imports.tables.staff import PEOPLE

# In the order in which they refer to each other: buildings first.
TABLES = (
    BUILDINGS,
    PEOPLE,
    BELL_SCHEDULES,
    ROTATIONS,
    BELL_DAYS,
    SCHOOL_YEARS,
    MARKING_PERIODS,
    SPECIAL_DAYS,
    CALENDAR_WORDS,
    SPACES,
    SPACE_TIMES,
    CLASSES,
    CLASS_DAYS,
    CLASS_TIMES,
    STUDENTS,
    PLANS,
    JOINT_SESSIONS,
    STUDENT_HOLDS,
    CAUTION_TAGS,
    SUPPORTS,
    CAUTIONS,
    CONTACTS,
    AIDE_HOURS,
    GOALS,
    GOAL_DATA,
    TEACHER_RULES,
    CONTRACT_DAYS,
    POSTS,
    MEETINGS,
    COMMON_MEETINGS,
    COVERS,
    OWN_DRIVE_TIMES,
    TRIPS,
    VOUCHERS,
    ACTIVITIES,
    EQUIPMENT,
    ROUTINES,
    STATIONS,
)


def find_table(kind: str) -> Table | None:
    """The table of a kind, or None."""
    return next((table for table in TABLES if table.kind == kind), None)


def tables_for(may: Callable[[str], bool]) -> tuple[Table, ...]:
    """The tables whose rows somebody may bring and take out; `may` answers for a permission."""
    return tuple(table for table in TABLES if may(table.permission))
