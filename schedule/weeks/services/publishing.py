"""What holds whenever a version comes into force: one publishes at a time, and no student is in two places."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

from django.db import transaction

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from caseload.plans.models import ServiceLine
from caseload.plans.names import student_names
from schedule.calendar.starts import spoken
from schedule.weeks.planning.elsewhere import Elsewhere, students_elsewhere
from schedule.weeks.versions.content import SessionContent, WeekContent

TWO_PLACES = "student_in_two_places"
MOST_TOLD = 5
SOMEBODY = "a student of yours"


@contextmanager
def publishing(district: District) -> Iterator[None]:
    """A transaction in which nobody else of the district can put a week in force.

    What is read inside it is what is in force until it ends: of two who publish at one moment the second reads the
    first one's week. On SQLite the transaction itself keeps others out; elsewhere the district's row does, locked
    first and so that rows which point to it can still be written.
    """
    with transaction.atomic():
        District.objects.select_for_update(no_key=True).get(pk=district.pk)
        yield


def students_require_free(actor: Person, teacher: Person, sessions: Iterable[SessionContent]) -> None:
    """Refuse sessions of students whom another teacher's published week holds then.

    Call it inside ``publishing``. Raises ``ApplicationError`` (code ``student_in_two_places``) that names the
    students whom the actor may see, the time, the school and the other teacher.
    """
    told = _clashes(actor, teacher, list(sessions))
    if not told:
        return
    more = f" There are {len(told) - MOST_TOLD} more." if len(told) > MOST_TOLD else ""
    raise ApplicationError(
        f"A student can't be in two places. {' '.join(told[:MOST_TOLD])}{more} Nothing was published: move the "
        "session to another time, or agree with the other teacher who moves.",
        code=TWO_PLACES,
    )


def not_in_force_before(sessions: Iterable[SessionContent], before: WeekContent | None) -> list[SessionContent]:
    """The sessions that the week in force doesn't hold for the same lines at the same time."""
    known = {_moment(one) for one in (before.sessions if before else ())}
    return [one for one in sessions if _moment(one) not in known]


def _moment(one: SessionContent) -> tuple[object, ...]:
    return one.lines, one.date, one.start, one.end


def _clashes(actor: Person, teacher: Person, sessions: Sequence[SessionContent]) -> list[str]:
    """A sentence for each student who would be in two places, in order of time."""
    if not sessions:
        return []
    students = _students_of(line for one in sessions for line in one.lines)
    dates = [one.date for one in sessions]
    elsewhere = students_elsewhere(teacher, set(students.values()), min(dates), max(dates))
    if not elsewhere:
        return []
    names = student_names(actor).full
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
