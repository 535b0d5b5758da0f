"""By which reason of the district's table a session is missed that doesn't take place.

Codes that ship with every district (`caseload.ledger.defaults`).
"""

from schedule.weeks.day_truth import Why

MISSED_AS = {
    Why.CLOSED: "school_closed",
    Why.NO_STUDENTS: "school_closed",
    Why.GRADE_OUT: "school_closed",
    Why.DISMISSED: "short_day",
    Why.DELAYED: "short_day",
    Why.AWAY: "teacher_absent",
    Why.LATE: "teacher_absent",
    Why.SPACE_TAKEN: "no_space",
    Why.CLASS_AWAY: "assembly",
    Why.STUDENT_ABSENT: "student_absent",
    Why.AIDE_MISSING: "no_aide",
}
"""What isn't here is off for good, or in the log already: nothing waits."""
