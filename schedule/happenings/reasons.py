"""By which reason of the district's table sessions are missed that something took, and what they fall out by."""

from schedule.calendar.happened import OF_SCHOOLS, HappeningKind
from schedule.weeks.day_truth import Why, why_of

REASON_OF = {
    HappeningKind.AWAY: "teacher_absent",
    HappeningKind.LATE: "teacher_absent",
    HappeningKind.CLOSED: "school_closed",
    HappeningKind.DELAYED_OPENING: "short_day",
    HappeningKind.EARLY_DISMISSAL: "short_day",
    HappeningKind.SPACE_TAKEN: "no_space",
    HappeningKind.CLASS_AWAY: "assembly",
    HappeningKind.STUDENT_ABSENT: "student_absent",
    HappeningKind.AIDE_MISSING: "no_aide",
}
"""Codes that ship with every district (`caseload.ledger.defaults`)."""
OF_EVERY_GRADE = {
    HappeningKind.CLOSED: Why.CLOSED,
    HappeningKind.DELAYED_OPENING: Why.DELAYED,
    HappeningKind.EARLY_DISMISSAL: Why.DISMISSED,
}


def why(kind: HappeningKind, *, some_grades: bool = False) -> Why:
    """What a session is off by that fell out by this kind."""
    return OF_EVERY_GRADE[kind] if kind in OF_SCHOOLS and not some_grades else why_of(kind)
