"""Sessions in which a student would be in two places at once, in sentences."""

from collections.abc import Iterable, Iterator, Sequence

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.starts import spoken
from schedule.weeks.planning.elsewhere import Elsewhere, students_elsewhere
from schedule.weeks.versions.content import SessionContent

SOMEBODY = "a student of yours"


def in_two_places(viewer: Person, teacher: Person, sessions: Sequence[SessionContent]) -> list[str]:
    """A sentence for each student whom another teacher's week in force holds then, in order of time.

    ``sessions`` are those of ``teacher``, of one week or several. Who may not be seen isn't named.
    """
    if not sessions:
        return []
    students = _students_of(line for one in sessions for line in one.lines)
    dates = [one.date for one in sessions]
    elsewhere = students_elsewhere(teacher, set(students.values()), min(dates), max(dates))
    if not elsewhere:
        return []
    names = student_names(viewer).full
    found: dict[str, None] = {}
    for one in sorted(sessions, key=lambda one: (one.date, one.start)):
        for student in [students[line] for line in one.lines if line in students]:
            name = names.get(student, SOMEBODY)
            found |= dict.fromkeys(_clash_words(one, name, elsewhere.get(student, ())))
    return list(found)


def _clash_words(one: SessionContent, name: str, elsewhere: Iterable[Elsewhere]) -> Iterator[str]:
    """A sentence for each time at which somebody is elsewhere during a session."""
    span = (one.start, one.end)
    for other in elsewhere:
        if other.meets(one.date, span):
            words = other.words(name)
            when = f"{one.date:%A}, {date_words(one.date)}"
            yield f"{words[:1].upper()}{words[1:]} on {when}; this week has them {spoken(span)}."


def _students_of(lines: Iterable[int]) -> dict[int, int]:
    """Who must be there, by line: nobody for a consultation."""
    rows = ServiceLine.objects.filter(pk__in=set(lines), service_type=ServiceLine.Type.DIRECT)
    return dict(rows.values_list("pk", "plan__student_id"))
