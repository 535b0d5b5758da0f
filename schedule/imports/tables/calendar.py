"""Tables of the calendar: school years, marking periods, special days, and the words of published calendars."""

from schedule.calendar.models import CalendarEntry, WordRule
from schedule.imports.tables.columns import (
    CHOICE,
    CLOCK,
    CLOCK_HELP,
    DATE,
    DATE_HELP,
    INTEGER,
    PLACE,
    TEXT,
    YES_NO,
    Column,
    Table,
    choice_words,
)

SCHOOL_YEARS = Table(
    "school-years",
    "School years",
    "One row for each school year, and for each season outside it.",
    (
        Column("School year", "name", TEXT, "Such as 2026-27.", "2026-27", required=True),
        Column(
            "First day", "first_day", DATE, f"First day with students. {DATE_HELP}", "2026-09-03", required=True
        ),
        Column("Last day", "last_day", DATE, f"Last day with students. {DATE_HELP}", "2027-06-18", required=True),
        Column(
            "Extended school year",
            "extended",
            YES_NO,
            "Yes for a season in which only services are owed that a plan names for it.",
            "no",
        ),
    ),
    key=("name",),
)

MARKING_PERIODS = Table(
    "marking-periods",
    "Marking periods",
    "One row for each marking period of a school year.",
    (
        Column("School year", "school_year", TEXT, "Name of a school year.", "2026-27", required=True),
        Column("Name", "name", TEXT, "What it is called.", "Quarter 1", required=True),
        Column("First day", "first_day", DATE, DATE_HELP, "2026-09-03", required=True),
        Column("Last day", "last_day", DATE, DATE_HELP, "2026-11-06", required=True),
    ),
    key=("school_year", "name"),
)

SPECIAL_DAYS = Table(
    "special-days",
    "Special days",
    "One row for each day or stretch of days that isn't a regular school day. What happens on days for which weeks "
    "are planned is said under “Something happened” instead.",
    (
        Column("First day", "first_date", DATE, DATE_HELP, "2026-11-26", required=True),
        Column("Last day", "last_date", DATE, f"Empty: one day. {DATE_HELP}", "2026-11-27"),
        Column("Building code", "building", PLACE, "Building code or full name; empty: the whole district.", ""),
        Column(
            "What",
            "kind",
            CHOICE,
            "Whether students come, and when.",
            "closed",
            required=True,
            choices=choice_words(CalendarEntry.Kind.choices),
        ),
        Column("Title", "title", TEXT, "What it is; no student's name, for phones show it.", "Fall break"),
        Column(
            "Schedule name",
            "bell_schedule",
            TEXT,
            "Bell schedule of the building; empty: its own of this kind.",
            "",
        ),
        Column("Opens at", "opens_at", CLOCK, f"Of a delayed opening. {CLOCK_HELP}", ""),
        Column("Closes at", "closes_at", CLOCK, f"Of an early dismissal. {CLOCK_HELP}", ""),
    ),
    key=("first_date", "building"),
)

CALENDAR_WORDS = Table(
    "calendar-words",
    "Words of published calendars",
    "One row for each word, or words, by which a title in a published calendar is recognized. Those that aren't in "
    "the file stay.",
    (
        Column(
            "Words", "words", TEXT, "What a title contains; capitals don't matter.", "recess day", required=True
        ),
        Column(
            "Stand for",
            "kind",
            CHOICE,
            "What such a day is.",
            "no students",
            required=True,
            choices=choice_words(WordRule.Kind.choices),
        ),
        Column("Order", "position", INTEGER, "Lower numbers are tried first; empty: 100.", "50"),
    ),
    key=("words",),
)
