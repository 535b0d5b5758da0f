"""Booking make-ups, and taking them back.

A make-up comes into a week by a new version of it: published where the week is in force, a draft where it isn't.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import audit_write
from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import minutes_of
from schedule.make_ups.minutes import lengths_offered, piece_lengths, too_few_words
from schedule.make_ups.selectors.needs import line_to_make_up, make_up_session
from schedule.make_ups.selectors.places import MakeUpWeek
from schedule.make_ups.selectors.slots import MakeUpTarget, places_in, target_of
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
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read

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
    makes_up_for: dt.date | None = None,
    others: Sequence[int] = (),
) -> WeekPlan:
    """Put a make-up into the week; returns its new version (a draft where the week isn't in force yet).

    It is for the session missed on a day, or for the oldest open minutes; with the lines of `others` it is for all
    who missed that session. Other drafts of the week take it in too, so that publishing one keeps it. The same
    booking sent twice is stored once. Raises `ApplicationError`: 404 for a line out of sight, ``nothing_open``
    where fewer minutes are open, ``too_few``, ``bad_length``, ``slot_taken``, ``too_soon``.
    """
    line = line_to_make_up(actor, line.pk, today)
    at = minutes_of(start)
    lines = sorted({line.pk, *(line_to_make_up(actor, other, today).pk for other in others)})
    piece = MakeUp(tuple(lines), minutes)
    with publishing(district_of_teacher(line.provider)):
        week = MakeUpWeek(line.provider, monday_of(date), [piece])
        here = week.under(piece, date)
        if _is_booked(week.content, here, date, at) and week.row is not None:
            return week.row
        target = _target(actor, line, date, minutes, today, makes_up_for, others)
        places = places_in(week, target, piece, today)
        place = next((one for one in places if (one.slot.date, one.slot.start) == (date, at)), None)
        if place is None:
            raise ApplicationError(TAKEN, code="slot_taken")
        old = week.row
        week.add(replace(place.session, makes_up_for=target.one.missed))
        row = _version(actor, week)
        if week.in_force:
            week_put_in_force(actor, row, week.content)
            _into_drafts(old, row, week.added[-1], here)
        _audit(actor, row, "make_up_book", line, [None, f"{date} {start}, {minutes} minutes"])
    return row


def _is_booked(content: WeekContent, piece: MakeUp, date: dt.date, at: int) -> bool:
    return any(
        one.makes_up and set(piece.lines) == set(one.lines) and (one.date, one.start) == (date, at)
        for one in content.sessions
    )


def _target(
    actor: Person,
    line: ServiceLine,
    date: dt.date,
    minutes: int,
    today: dt.date,
    makes_up_for: dt.date | None,
    others: Sequence[int],
) -> MakeUpTarget:
    """What the make-up is for, where so many minutes of it can be booked."""
    if date <= today:
        raise ApplicationError("A make-up is booked for tomorrow at the earliest.", code="too_soon")
    need, target = target_of(actor, line, today, makes_up_for, others)
    if target is None and need.too_few:
        raise ApplicationError(too_few_words(need.minutes), code="too_few")
    if target is None or minutes > max(target.one.minutes, need.minutes):
        raise ApplicationError(
            f"{need.minutes} minutes of this service are open, not {minutes}. Look at the student's ledger.",
            code="nothing_open",
        )
    allowed = {*lengths_offered(target.one, target.lengths), *piece_lengths(need.minutes, target.lengths)}
    if minutes not in allowed:
        lengths = " or ".join(str(one) for one in sorted(allowed, reverse=True))
        raise ApplicationError(f"Choose {lengths} minutes.", code="bad_length")
    return target


def _into_drafts(old: WeekPlan | None, new: WeekPlan, session: SessionContent, piece: MakeUp) -> None:
    """Put a make-up that is in force into the drafts of its week; those of the version before follow the new one.

    Where it doesn't fit a draft, the draft says so and can't be published before that is mended: it isn't lost.
    """
    booked = next(one for one in content_read(new).sessions if one.uid == session.uid)
    for draft in WeekPlan.objects.filter(teacher=new.teacher, monday=new.monday, status=Status.DRAFT):
        content = content_read(draft)
        sessions = [*content.sessions, booked]
        day = frozenset({booked.date.isoformat()})
        content_write(draft, rearranged(edit_input(draft, content, [piece]), content, sessions, day))
        _follow(draft, old, new)


def _follow(draft: WeekPlan, old: WeekPlan | None, new: WeekPlan) -> None:
    """A draft that was changed beside its editor: its revision tells, and it comes from the version in force."""
    if old is not None and draft.based_on_id == old.pk:
        draft.based_on = new
    draft.revision += 1
    draft.save(update_fields=["based_on", "revision"])


def _out_of_drafts(old: WeekPlan, new: WeekPlan, uid: str) -> None:
    """Take a make-up whose booking was taken back out of the drafts of its week."""
    for draft in WeekPlan.objects.filter(teacher=new.teacher, monday=new.monday, status=Status.DRAFT):
        content = content_read(draft)
        gone = content.session(uid)
        if gone is not None:
            left = [one for one in content.sessions if one.uid != uid]
            day = frozenset({gone.date.isoformat()})
            content_write(draft, rearranged(edit_input(draft, content), content, left, day))
        _follow(draft, old, new)


def _version(actor: Person, week: MakeUpWeek) -> WeekPlan:
    """A draft that holds the week's content now; of two people who book at once the second is refused."""
    if week.row is not None:
        old = row_again(week.row)
        revision_claim(old, week.row.revision, Status(week.row.status))
        if old.status == Status.DRAFT:
            content_write(old, week.content)
            return old
        return draft_copy(actor, old, week.content, remember=False)
    return draft_new(actor, week.teacher, week.monday, week.content, None)


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
            _out_of_drafts(old, row, str(uid))
        else:
            row = old
            content_write(row, without)
        before = f"{session.date} {session.start}"
        _audit(actor, row, "make_up_cancel", line.service_line if line else None, [before, None])
    return row


def _audit(actor: Person, row: WeekPlan, action: str, line: ServiceLine | None, change: list[str | None]) -> None:
    field_name = f"service_line {line.pk}" if line is not None else "session"
    audit_write(actor=actor, district=row.district, action=action, row=row, changes={field_name: change})
