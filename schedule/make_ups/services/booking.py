"""Booking make-ups, and taking them back.

A make-up comes into a week by a new version of it: published where the week is in force, a draft where it isn't.
"""

import datetime as dt

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import minutes_of
from schedule.make_ups.minutes import (
    piece_lengths,
    too_few_words,
)
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.make_ups.selectors.slots import (
    MakeUpNeed,
    avoided_days,
    line_to_make_up,
    make_up_need,
    make_up_session,
)
from schedule.make_ups.services.drafts import draft_new
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.editing import edit_input, rearranged
from schedule.weeks.planning.load import district_of_teacher, monday_of
from schedule.weeks.planning.make_up_services import MakeUp
from schedule.weeks.selectors.scope import week_require
from schedule.weeks.selectors.weeks import week_get
from schedule.weeks.services.content import content_write
from schedule.weeks.services.drafts import draft_copy, revision_claim, row_again
from schedule.weeks.services.publishing import publishing
from schedule.weeks.services.weeks import week_put_in_force
from schedule.weeks.versions.content import WeekContent, content_read

Status = WeekPlan.Status

TAKEN = (
    "This time isn't open anymore: the week was changed, or something else was booked. Look at the slots again "
    "and choose another one."
)


def make_up_book(
    *,
    actor: Person,
    line: ServiceLine,
    date: dt.date,
    start: dt.time,
    minutes: int,
    today: dt.date,
) -> WeekPlan:
    """Put a make-up into the week; returns its new version (a draft where the week isn't in force yet).

    The same booking sent twice is stored once. Raises `ApplicationError`: 404 for a line out of sight,
    ``nothing_open`` where fewer minutes are open, ``too_few``, ``bad_length``, ``slot_taken``, ``too_soon``.
    """
    line = line_to_make_up(actor, line.pk)
    at = minutes_of(start)
    with publishing(district_of_teacher(line.provider)):
        week = MakeUpWeek(line.provider, monday_of(date), [MakeUp(line.pk, minutes)])
        if _is_booked(week.content, line, date, at) and week.row is not None:
            return week.row
        _require_open(make_up_need(actor, line, today), date, minutes, today)
        places = week.places(MakeUp(line.pk, minutes), date, avoided_days(week, line))
        place = next((one for one in places if (one.slot.date, one.slot.start) == (date, at)), None)
        if place is None:
            raise ApplicationError(TAKEN, code="slot_taken")
        week.add(place.session)
        row = _version(actor, week)
        if week.in_force:
            week_put_in_force(actor, row, week.content)
        _audit(actor, row, "make_up_book", line, [None, f"{date} {start}, {minutes} minutes"])
    return row


def _is_booked(content: WeekContent, line: ServiceLine, date: dt.date, at: int) -> bool:
    return any(
        one.makes_up and line.pk in one.lines and (one.date, one.start) == (date, at) for one in content.sessions
    )


def _require_open(need: MakeUpNeed, date: dt.date, minutes: int, today: dt.date) -> None:
    if date <= today:
        raise ApplicationError("A make-up is booked for tomorrow at the earliest.", code="too_soon")
    if minutes > need.minutes:
        raise ApplicationError(
            f"{need.minutes} minutes of this service are open, not {minutes}. Look at the student's ledger.",
            code="nothing_open",
        )
    if need.too_few:
        raise ApplicationError(too_few_words(need.minutes), code="too_few")
    if minutes not in piece_lengths(need.minutes, need.usual):
        lengths = " or ".join(str(one) for one in piece_lengths(need.minutes, need.usual))
        raise ApplicationError(f"Choose {lengths} minutes.", code="bad_length")


def _version(actor: Person, week: MakeUpWeek) -> WeekPlan:
    """A draft that holds the week's content now; of two people who book at once the second is refused."""
    if week.row is not None:
        old = row_again(week.row)
        revision_claim(old, week.row.revision, Status(week.row.status))
        if old.status == Status.DRAFT:
            content_write(old, week.content)
            return old
        draft = draft_copy(actor, old, week.content, remember=False)
    else:
        draft = draft_new(actor, week.teacher, week.monday, week.content, None)
    return draft


def make_up_cancel(*, actor: Person, week: WeekPlan, uid: str) -> WeekPlan:
    """Take a booked make-up out of its week again: its minutes are open as before.

    Raises `ApplicationError`: 404 for what isn't a make-up of a week of the actor's; ``logged`` once the log says
    what happened.
    """
    week_require(actor, week_get(actor, week.pk))
    session = make_up_session(actor, week, uid)
    line = session.attendees.select_related("service_line").first()
    if line is not None and line.service_line.entries.filter(session_uid=uid).exists():
        raise ApplicationError(
            "This make-up is logged. Correct the log instead of taking the booking back.", code="logged"
        )
    with publishing(week.district):
        old = row_again(week)
        if old.status not in {Status.PUBLISHED, Status.DRAFT}:
            raise ApplicationError("This version was replaced. Look at the week in force.", code="not_editable")
        in_force = old.status == Status.PUBLISHED
        content = content_read(old)
        left = [one for one in content.sessions if one.uid != str(uid)]
        without = rearranged(edit_input(old, content), content, left, frozenset({session.date.isoformat()}))
        revision_claim(old, week.revision, Status(old.status))
        if in_force:
            row = draft_copy(actor, old, without, remember=False)
            week_put_in_force(actor, row, without)
        else:
            row = old
            content_write(row, without)
        before = f"{session.date} {session.start}"
        _audit(actor, row, "make_up_cancel", line.service_line if line else None, [before, None])
    return row


def _audit(actor: Person, row: WeekPlan, action: str, line: ServiceLine | None, change: list[str | None]) -> None:
    field_name = f"service_line {line.pk}" if line is not None else "session"
    audit_write(actor=actor, district=row.district, action=action, row=row, changes={field_name: change})
