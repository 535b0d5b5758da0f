"""What holds whenever a version comes into force: one publishes at a time, and nothing is had twice.

A student and a class are in one place at a time, and a space holds no more classes than fit. Every way to put a
week in force asks it here: publishing a week or a term, bringing one back, booking a make-up, taking a term back.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.editing import edit_input
from schedule.weeks.planning.others.clashes import ClashKind, OthersClash, clashes_with_others, ways_out
from schedule.weeks.services.drafts import draft_checked
from schedule.weeks.versions.content import SessionContent, UnplacedContent, WeekContent

MOST_TOLD = 5

CODES = {
    ClashKind.STUDENT: ("student_in_two_places", "A student can't be in two places."),
    ClashKind.CLASS: ("class_in_two_places", "A class can't be in two places."),
    ClashKind.SPACE: ("space_taken", "A space can't be used by more classes than fit."),
}
"""By kind, the code of a refusal and how it begins; the first kind that is met names it."""

LEFT_OUT = {
    ClashKind.STUDENT: "the same student",
    ClashKind.CLASS: "the same class",
    ClashKind.SPACE: "the space",
}


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


def others_require_clear(actor: Person, teacher: Person, sessions: Iterable[SessionContent]) -> None:
    """Refuse sessions that can't be held beside other teachers' published weeks.

    Call it inside ``publishing``. Raises ``ApplicationError`` (codes ``student_in_two_places``,
    ``class_in_two_places``, ``space_taken``) that names whom the actor may see, the time, the school, the other
    teacher, and the ways out.
    """
    found = clashes_with_others(actor, teacher, list(sessions))
    if not found:
        return
    code, opening = next(CODES[kind] for kind in ClashKind if any(one.kind is kind for one in found))
    told = " ".join(one.words for one in found[:MOST_TOLD])
    more = f" There are {len(found) - MOST_TOLD} more." if len(found) > MOST_TOLD else ""
    raise ApplicationError(f"{opening} {told}{more} Nothing was published. {ways_out(found)}", code=code)


def without_clashes(actor: Person, week: WeekPlan, content: WeekContent) -> WeekContent:
    """A draft's content without the sessions that other teachers' published weeks rule out; they are owed still."""
    found = clashes_with_others(actor, week.teacher, content.sessions)
    if not found:
        return content
    clashes = {one.uid: one for one in found}
    out = [one for one in content.sessions if one.uid in clashes]
    reasons = [told for one in out for told in _left_out(one, clashes[one.uid])]
    told = replace(content, unplaced=(*content.unplaced, *reasons))
    left = [one for one in content.sessions if one.uid not in clashes]
    days = {one.date.isoformat() for one in out}
    return draft_checked(week, edit_input(week, content), told, left, sorted(days))


def _left_out(session: SessionContent, clash: OthersClash) -> list[UnplacedContent]:
    """Why a session isn't placed, for each of its lines; no student is named."""
    why = f"Left out when the week was published: {clash.teacher} has {LEFT_OUT[clash.kind]} at its time."
    minutes = session.end - session.start
    return [UnplacedContent(line, 1, minutes, (why,), clash.teacher) for line in session.lines]


def not_in_force_before(sessions: Iterable[SessionContent], before: WeekContent | None) -> list[SessionContent]:
    """The sessions that the week in force doesn't hold for the same lines at the same time and place."""
    known = {_moment(one) for one in (before.sessions if before else ())}
    return [one for one in sessions if _moment(one) not in known]


def _moment(one: SessionContent) -> tuple[object, ...]:
    return one.lines, one.date, one.start, one.end, one.space, one.school_class
