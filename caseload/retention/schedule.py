"""Which rule holds on a day, and up to which date records go by it. Pure.

No period stands here: each is the district's own decision, and without one nothing goes.
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

STUDENTS, PLANS, GOALS, CARE, CONTACTS = "students", "plans", "goals", "care", "contacts"
ACCESSES, SIGN_INS, FEEDS = "accesses", "sign_ins", "feeds"
MILEAGE, MESSAGES, AUDIT, JOBS, IMPORTS = "mileage", "messages", "audit", "jobs", "imports"

OF_STUDENTS = (STUDENTS, PLANS, GOALS, CARE, CONTACTS)
"""Kinds that are erased student by student; the first takes the others with it."""
OF_THE_DISTRICT = (ACCESSES, SIGN_INS, FEEDS, MILEAGE, MESSAGES, AUDIT, JOBS, IMPORTS)
KINDS = {
    STUDENTS: "Students’ records, with everything about the student",  # noqa: RUF001 -- as pages write it
    PLANS: "Plans and services with the log of what was delivered",
    GOALS: "Goals, the data taken on them, and progress reports",
    CARE: "Supports, cautions and what was tried",
    CONTACTS: "Contacts of students",
    ACCESSES: "Records of who saw what",
    SIGN_INS: "Records of sign-ins",
    FEEDS: "Records of calendars and packets that were fetched",
    MILEAGE: "Mileage: vouchers and trips",
    MESSAGES: "Messages that were sent",
    AUDIT: "Records of changes",
    JOBS: "Background work that is over",
    IMPORTS: "Imports, and what taking them back needs",
}
KIND_CHOICES = list(KINDS.items())

LEFT, EXITED, YEAR, WRITTEN = "left", "exited", "year", "written"
EVENTS = {
    LEFT: "the student left the district",
    EXITED: "the student’s services ended",  # noqa: RUF001 -- as pages write it
    YEAR: "the school year ended",
    WRITTEN: "the record was made",
}
YEAR_ENDS = (6, 30)
"""Where a district has entered no school year: June 30 (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class KeepingRule:
    """Records of a kind go so many years after an event; `years` None: they are kept without end.

    It holds from its first day until another of its kind does.
    """

    key: int
    kind: str
    years: int | None
    counts_from: str
    first_day: dt.date
    keeps_permanent: bool = True


def events_of(kind: str) -> tuple[str, ...]:
    """From which events the years of a kind may be counted."""
    return (LEFT, EXITED) if kind in OF_STUDENTS else (YEAR, WRITTEN)


def in_force(rules: Iterable[KeepingRule], day: dt.date) -> dict[str, KeepingRule]:
    """The rule of each kind that holds on a day."""
    begun = sorted((one for one in rules if one.first_day <= day), key=lambda one: one.first_day)
    return {one.kind: one for one in begun}


def years_before(day: dt.date, years: int) -> dt.date:
    """The same day so many years earlier; February 28 where that year has no February 29."""
    year = max(day.year - years, 1)
    if (day.month, day.day) == (2, 29) and not _is_leap(year):
        return dt.date(year, 2, 28)
    return day.replace(year=year)


def _is_leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def last_gone(rule: KeepingRule, as_of: dt.date, year_ends: Collection[dt.date]) -> dt.date | None:
    """What happened on this date or before it goes by the rule as of a day; None: nothing does.

    `year_ends` are the last days of the district's school years.
    """
    if rule.years is None:
        return None
    latest = years_before(as_of, rule.years)
    if rule.counts_from != YEAR:
        return latest
    known = [end for end in year_ends if end <= latest]
    if known:
        return max(known)
    end = dt.date(latest.year, *YEAR_ENDS)
    return end if end <= latest else years_before(end, 1)
