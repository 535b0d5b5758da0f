"""Taking a proposal over: its students are handed over from the first day on, shown before, taken back whole.

Every hand-over is one of `caseload.plans.services`, so that nothing before the first day is touched.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import chain

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.selectors import today_of
from accounts.services import audit_write, coordinator_require
from caseload.plans.enrollment.selectors import students_to_hand_over
from caseload.plans.models import Student
from caseload.plans.services import caseload_hand_back, caseload_hand_over, caseload_hand_overs_undo
from schedule.assigning.asking import NEW
from schedule.assigning.bundled import hand_overs
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.assigning.selectors.standing import ProposalStanding
from schedule.long_steps.services import Report, nobody_waits

DAY = dt.timedelta(days=1)
CHANGED = "Somebody changed this proposal since. Look at it again."
MOST_TRIED = 20
"""Students whose hand-overs are tried for the page that shows them: about a second."""


@dataclass(frozen=True, slots=True)
class HandOver:
    """Students who go from one teacher to another on the first day. ``gone``: not with the giver then anymore."""

    giver: Person
    receiver: Person
    students: tuple[Student, ...]
    gone: tuple[Student, ...] = ()


def hand_overs_of(actor: Person, row: AssigningProposal) -> list[HandOver]:
    """Who would go from whom to whom by a proposal as it stands, by the givers' names."""
    standing = ProposalStanding(row)
    pairs = hand_overs(standing.question, standing.riders, standing.now.assignment, standing.riders_now)
    real = {(int(giver), int(to)): several for (giver, to), several in pairs.items() if NEW not in (giver, to)}
    people = Person.objects.filter(district=row.district).in_bulk({pk for pair in real for pk in pair})
    rows = Student.objects.changeable_by(actor).in_bulk({int(one) for one in chain.from_iterable(real.values())})
    known = {giver: _with(people[giver], row.run.first_day) for giver, _ in real}
    found = [
        _hand_over(people[giver], people[to], list(filter(None, map(rows.get, map(int, several)))), known[giver])
        for (giver, to), several in real.items()
    ]
    return sorted(found, key=_by_names)


def _with(teacher: Person, day: dt.date) -> set[int]:
    """The students whom a teacher could hand over on a day."""
    return set(students_to_hand_over(teacher, day).values_list("pk", flat=True))


def _hand_over(giver: Person, receiver: Person, students: list[Student], still: set[int]) -> HandOver:
    there = tuple(one for one in students if one.pk in still)
    return HandOver(giver, receiver, there, tuple(one for one in students if one.pk not in still))


def _by_names(one: HandOver) -> tuple[str, str]:
    return str(one.giver), str(one.receiver)


def proposal_given(*, actor: Person, row: AssigningProposal, now: dt.datetime | None = None) -> list[HandOver]:
    """Who would go from whom to whom; nothing is tried. Raises ``ApplicationError`` as taking over does at once."""
    coordinator_require(actor)
    _check_open(row, today_of(actor, now))
    given = [one for one in hand_overs_of(actor, row) if one.students]
    if not given:
        raise ApplicationError("By this proposal nobody changes teacher.", code="nobody_changes")
    return given


def proposal_take_over(
    *, actor: Person, row: AssigningProposal, now: dt.datetime | None = None, report: Report = nobody_waits
) -> list[HandOver]:
    """Hand everybody over whom the proposal gives to somebody else, from the first day on; all or nothing.

    After an absence they go back on the day after it. Raises ``ApplicationError``: 403, ``as_today``,
    ``taken_over``, ``post_not_filled``, ``first_day_over``, ``breaks_rules``, ``nobody_changes``, and what a
    hand-over refuses, with both teachers' names.
    """
    given = proposal_given(actor=actor, row=row, now=now)
    with transaction.atomic():
        held = AssigningProposal.objects.select_for_update().get(pk=row.pk)
        if held.is_taken or held.revision != row.revision:
            raise ApplicationError(CHANGED, code="changed_since")
        row.handed = [entry.pk for entry in _hand(actor, row, given, report)]
        row.taken_at, row.taken_by = timezone.now(), actor
        row.save(update_fields=["handed", "taken_at", "taken_by"])
        changes = {"students": [None, sum(len(one.students) for one in given)]}
        audit_write(actor=actor, district=row.district, action="proposal_take_over", row=row, changes=changes)
    return given


def proposal_taking_foreseen(
    *, actor: Person, row: AssigningProposal, now: dt.datetime | None = None
) -> list[HandOver]:
    """What taking it over would hand to whom; nothing is saved. Raises as taking over does.

    Up to ``MOST_TRIED`` students are tried as well, so that what a hand-over refuses is said before. With more the
    page would wait for seconds: taking over says it then, and leaves everything as it was.
    """
    given = proposal_given(actor=actor, row=row, now=now)
    if sum(len(one.students) for one in given) > MOST_TRIED:
        return given
    with transaction.atomic():
        given = proposal_take_over(actor=actor, row=row, now=now)
        transaction.set_rollback(True)
    row.refresh_from_db()
    return given


def _hand(actor: Person, row: AssigningProposal, given: list[HandOver], report: Report) -> Iterator[AuditEntry]:
    """There on the first day, and back after an absence: what went over, not what the receiver had before."""
    there = []
    for done, one in enumerate(given):
        report(done)
        there.append(_there(actor, one, row.run.first_day))
    yield from there
    if row.run.question == AssigningRun.Question.AWAY and row.run.last_day is not None:
        for one, entry in zip(given, there, strict=True):
            back = _back(actor, one, row.run.last_day + DAY, entry)
            if back is not None:
                yield back


def _there(actor: Person, one: HandOver, day: dt.date) -> AuditEntry:
    people = {"giver": one.giver, "receiver": one.receiver}
    return _told(
        lambda: caseload_hand_over(actor=actor, **people, students=one.students, from_day=day), **people, day=day
    )


def _back(actor: Person, one: HandOver, day: dt.date, there: AuditEntry) -> AuditEntry | None:
    people = {"giver": one.receiver, "receiver": one.giver}
    students = one.students
    return _told(
        lambda: caseload_hand_back(actor=actor, **people, students=students, from_day=day, entry=there.pk),
        **people,
        day=day,
    )


def _told[T](act: Callable[[], T], *, giver: Person, receiver: Person, day: dt.date) -> T:
    """Do it, or say between whom it is refused."""
    try:
        return act()
    except ValidationError as error:
        message = f"{giver} to {receiver} from {date_words(day)}: {' '.join(error.messages)}"
        raise ApplicationError(message, code="hand_over_refused") from error
    except ApplicationError as error:
        raise ApplicationError(
            f"{giver} to {receiver}: {error.message}", code=error.code, status=error.status
        ) from error


def proposal_take_back(*, actor: Person, row: AssigningProposal) -> None:
    """Take all of its hand-overs back, or none. Raises ``ApplicationError``, such as ``changed_since``."""
    coordinator_require(actor)
    with transaction.atomic():
        AssigningProposal.objects.select_for_update().get(pk=row.pk)
        row.refresh_from_db(fields=["handed", "taken_at", "taken_by"])
        taken_require(row)
        caseload_hand_overs_undo(actor=actor, entries=reversed(row.handed))
        row.handed, row.taken_at, row.taken_by = [], None, None
        row.save(update_fields=["handed", "taken_at", "taken_by"])
        audit_write(actor=actor, district=row.district, action="proposal_take_back", row=row)


def taken_require(row: AssigningProposal) -> None:
    """Raise ``ApplicationError`` (``nothing_to_undo``) for one that isn't taken over."""
    if not row.is_taken:
        raise ApplicationError("This proposal isn't taken over.", code="nothing_to_undo")


def _check_open(row: AssigningProposal, today: dt.date) -> None:
    standing = ProposalStanding(row)
    refusals = (
        (row.is_today, "as_today", "This is who serves whom today already."),
        (row.is_taken, "taken_over", "This proposal is taken over already."),
        (
            standing.has_new_post,
            "post_not_filled",
            "Nobody holds the new post yet. Add the teacher under People, then ask again with that teacher.",
        ),
        (
            standing.is_of_a_move,
            "classes_to_move",
            "It holds once the classes have moved. Enter the move from its day on, then ask for all students anew.",
        ),
        (
            row.run.first_day <= today,
            "first_day_over",
            f"{date_words(row.run.first_day)} is over or has begun. Ask again with a first day that is ahead.",
        ),
        (
            bool(standing.now.broken),
            "breaks_rules",
            f"It breaks what can't be broken: {' '.join(standing.now.broken)} Move these students first.",
        ),
    )
    for refused, code, message in refusals:
        if refused:
            raise ApplicationError(message, code=code)
