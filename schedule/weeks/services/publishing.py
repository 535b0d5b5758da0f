"""What holds whenever a version comes into force: one publishes at a time, and no student is in two places."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person
from schedule.weeks.planning.elsewhere import in_two_places
from schedule.weeks.versions.content import SessionContent, WeekContent

TWO_PLACES = "student_in_two_places"
MOST_TOLD = 5


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
    told = in_two_places(actor, teacher, list(sessions))
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
