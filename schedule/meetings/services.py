"""Writes of common meetings.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

from collections.abc import Iterable, Mapping
from functools import partial
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import teachers_of, today_of
from accounts.services import NOT_LISTED, NOT_THERE, permission_require, record_change, record_remove, record_save
from accounts.services.undo import last_change_undo
from schedule.meetings.models import CommonMeeting
from schedule.meetings.selectors import (
    ANSWERED,
    UNDO,
    asked_again,
    last_meeting_change,
    may_leave,
    meetings_in_the_way,
)

PERMISSION = "week.change"
NOBODY_ASKS = "A coordinator puts people in and asks nobody. Name them under “In it”, or say who called it."


def common_meeting_save(*, actor: Person, row: CommonMeeting, values: Mapping[str, Any]) -> CommonMeeting:
    """Save one meeting for all its people (`values["people"]`, those there are if left out).

    A coordinator puts teachers into it. A teacher is in it from the start, and asks the others: it stands in the
    week of each from the answer on. What is changed later holds for all; a teacher who moves it asks those who said
    yes again. Weeks that are planned already stay.
    """
    with transaction.atomic():
        if row.pk:
            _hold(row)
        else:
            row.called_by = actor
        given = {name: value for name, value in values.items() if name != "people"}
        if given.get("kind", row.kind) == CommonMeeting.Kind.LUNCH and not given.get("title", row.title):
            given["title"] = CommonMeeting.Kind.LUNCH.label
        people = list(values.get("people", row.people if row.pk else ()))
        given |= _as_asked(actor, row, people, asked_again(actor, row, given))
        return _save(actor, row, given, people)


def common_meeting_bring(*, actor: Person, row: CommonMeeting, values: Mapping[str, Any]) -> CommonMeeting:
    """Save a meeting as a table has it, with `teachers` in it and `asked`, who haven't answered.

    A coordinator may bring one that somebody else called (`called_by`), with whom they asked. Everything else is as
    `common_meeting_save` has it: nobody answers for another.
    """
    given = {name: value for name, value in values.items() if name not in {"teachers", "asked", "called_by"}}
    teachers, asked, called_by = list(values["teachers"]), list(values["asked"]), values.get("called_by")
    if row.pk or not actor.is_coordinator:
        return common_meeting_save(actor=actor, row=row, values={**given, "people": [*teachers, *asked]})
    if asked and called_by is None:
        raise ValidationError({"asked": NOBODY_ASKS})
    row.called_by = called_by
    return _save(actor, row, {**given, "teachers": teachers, "asked": asked}, [*teachers, *asked])


def _save(actor: Person, row: CommonMeeting, values: Mapping[str, Any], people: list[Person]) -> CommonMeeting:
    """Save it with who is in it (`teachers`) and who is asked, unless one of them has another meeting then."""
    rule = partial(_nobody_is_elsewhere, actor=actor, teachers=list(values["teachers"]))
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="common_meeting_save",
        permission=PERMISSION,
        rules=[rule],
        problems=_people_problems(actor, people),
    )


def _hold(row: CommonMeeting) -> None:
    """Read a meeting anew that nobody else changes until the transaction ends, so that no answer is lost.

    Raises `ApplicationError` (404) where somebody has deleted it.
    """
    if CommonMeeting.objects.select_for_update(no_key=True, of=("self",)).filter(pk=row.pk).first() is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    row.refresh_from_db()


def _people_problems(actor: Person, people: Iterable[Person]) -> dict[str, str]:
    """Whether they are teachers of the district, and at least two with a teacher who calls it."""
    every = {*people} if actor.is_coordinator else {*people, actor}
    if {*people} - set(teachers_of(actor.district)):
        return {"people": NOT_LISTED}
    if len(every) < 2:
        return {"people": "A common meeting has at least two people. One person's own stands among the rules."}
    return {}


def _as_asked(
    actor: Person, row: CommonMeeting, people: Iterable[Person], again: Iterable[Person]
) -> dict[str, list[Person]]:
    """Who is in it, and who is asked: a coordinator asks nobody, and answers for nobody who was asked."""
    wanted = list(dict.fromkeys(people))
    if actor.is_coordinator:
        return _put_in(row, wanted)
    there = {*(row.teachers.all() if row.pk else ()), actor} - {*again}
    return {
        "teachers": list(dict.fromkeys([actor, *(one for one in wanted if one in there)])),
        "asked": [one for one in wanted if one not in there],
    }


def _put_in(row: CommonMeeting, wanted: list[Person]) -> dict[str, list[Person]]:
    """All at once, but for those whom a colleague asked and who haven't answered."""
    waiting = {*(row.asked.all() if row.pk else ())}
    return {
        "teachers": [one for one in wanted if one not in waiting],
        "asked": [one for one in wanted if one in waiting],
    }


def _nobody_is_elsewhere(
    row: CommonMeeting, values: Mapping[str, Any], *, actor: Person, teachers: list[Person]
) -> dict[str, str]:
    """Nobody who is in it has another meeting then; of colleagues a teacher learns no titles."""
    del values
    seen = teachers if actor.is_coordinator else [one for one in teachers if one == actor]
    return meetings_in_the_way(row, seen, today_of(actor))


def common_meeting_remove(*, actor: Person, row: CommonMeeting) -> None:
    """Take it out of everybody's days. Weeks in force stay as they are until they are planned again."""
    record_remove(actor=actor, row=row, action="common_meeting_remove", permission=PERMISSION)


def common_meeting_answer(*, actor: Person, row: CommonMeeting, comes: bool) -> CommonMeeting:
    """Say whether one comes to a meeting that a colleague called; who came along may leave again.

    Raises `ApplicationError` (404) for somebody who isn't asked, and `ValidationError` where the own days have
    another meeting then.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic():
        found = _answerable(actor, row, comes=comes)
        in_the_way = meetings_in_the_way(found, [actor], today_of(actor)) if comes else {}
        if in_the_way:
            raise ValidationError(in_the_way)
        others = list(found.teachers.exclude(pk=actor.pk))
        values = {
            "teachers": [*others, actor] if comes else others,
            "asked": list(found.asked.exclude(pk=actor.pk)),
        }
        return record_save(actor=actor, row=found, values=values, action=ANSWERED)


def _answerable(actor: Person, row: CommonMeeting, *, comes: bool) -> CommonMeeting:
    """The meeting, held until the transaction ends, if somebody is asked to it, or may leave it again.

    Raises `ApplicationError` (404) otherwise.
    """
    rows = CommonMeeting.objects.answerable_by(actor).select_for_update(no_key=True, of=("self",))
    found = rows.filter(pk=row.pk).first()
    if found is None or not (found.asked.contains(actor) or (not comes and may_leave(found, actor))):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return found


def common_meeting_take_back(*, actor: Person, seen: int | None = None) -> None:
    """Undo what was done last to common meetings. `seen`: the id of the change that the person saw.

    Raises as `accounts.services.undo.last_change_undo`.
    """
    last_change_undo(
        actor=actor,
        model=CommonMeeting,
        last=last_meeting_change(actor),
        seen=seen,
        action=UNDO,
        permission=PERMISSION,
    )
