"""By which reason of the district's table sessions are missed that something took, and what they fall out by."""

from schedule.calendar.happened import OF_SCHOOLS, HappeningKind
from schedule.log.missed_as import MISSED_AS
from schedule.weeks.day_truth import Why, why_of

OF_EVERY_GRADE = {
    HappeningKind.CLOSED: Why.CLOSED,
    HappeningKind.DELAYED_OPENING: Why.DELAYED,
    HappeningKind.EARLY_DISMISSAL: Why.DISMISSED,
}


def why(kind: HappeningKind, *, some_grades: bool = False) -> Why:
    """What a session is off by that fell out by this kind."""
    return OF_EVERY_GRADE[kind] if kind in OF_SCHOOLS and not some_grades else why_of(kind)


REASON_OF = {kind: MISSED_AS[why(kind)] for kind in HappeningKind}
"""Codes that ship with every district."""
