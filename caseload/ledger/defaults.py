"""What ships as a district's table of reasons: common practice, not law. The district edits it.

There is no federal rule that a missed session is owed: OSEP Letter to Clarke (March 8, 2007) asks case by case,
whether provider or child was absent; OSEP Letter to Balkman (1995) says that a service which was there at its
normal time for a child who is ill generally need not be repeated.
"""

from dataclasses import dataclass

from caseload.ledger.terms import Effect

COMMON_PRACTICE = "These defaults are common practice, not law. Your district decides."
LEAST_MINUTES = 10
"""The shortest session as shipped. Common practice, no source."""
USUAL_TIMES_WORTH, MOST_USUAL_TIMES_WORTH = 60, 240
"""Minutes of driving a week that leaving usual times must save, as shipped and at most: firmly for routine.

Our choice, no source.
"""

NO_JUDGMENT = "These figures aren't a legal judgment: the plan's team decides."


@dataclass(frozen=True, slots=True)
class DefaultReason:
    """A reason for missed minutes and what it does to them."""

    code: str
    words: str
    effect: Effect


DEFAULT_REASONS = (
    DefaultReason("student_absent", "Student absent", Effect.NOT_OWED),
    DefaultReason("teacher_absent", "Teacher absent", Effect.OWED),
    DefaultReason("substitute", "Substitute without service", Effect.OWED),
    DefaultReason("school_closed", "School closed", Effect.NOT_OWED),
    DefaultReason("short_day", "Delay or early dismissal", Effect.OWED),
    DefaultReason("assembly", "Assembly or trip", Effect.OWED),
    DefaultReason("testing", "Testing", Effect.OWED),
    DefaultReason("no_space", "No space", Effect.OWED),
    DefaultReason("no_aide", "No aide", Effect.OWED),
    DefaultReason("declined", "Student declined", Effect.TEAM),
    DefaultReason("behaviour", "Behavior", Effect.TEAM),
    DefaultReason("medical", "Medical", Effect.TEAM),
    DefaultReason("transport", "Transport", Effect.OWED),
    DefaultReason("meeting", "Meeting", Effect.OWED),
    DefaultReason("other", "Other", Effect.TEAM),
)
