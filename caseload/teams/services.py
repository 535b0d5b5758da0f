"""Writes about teams: made, changed, ended and taken back by the coordinator. Nobody's rows change by them."""

import datetime as dt
from collections.abc import Collection, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import permission_require, record_change, record_remove
from accounts.services.undo import last_change_undo
from accounts.validation import Problems
from caseload.teams.models import Team
from caseload.teams.selectors import TEAM_UNDO, last_team_change, students_shared

PERMISSION = "people.change"
TWO_NEEDED = "Choose two or more teachers."
NO_TEACHER = "{who} doesn't work as a teacher in these days. Choose teachers, or add the role first."
HAS_BEGUN = "What was seen and logged by this team stays recorded, so it can't go. Give it a last day instead."


def team_save(*, actor: Person, row: Team, values: Mapping[str, Any]) -> Team:
    """Save a team of two or more teachers, with its days.

    Raises `ValidationError` by field, `ApplicationError` 403 for anybody but a coordinator.
    """
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="team_save",
        permission=PERMISSION,
        problems=_problems(row, values),
    )


def team_remove(*, actor: Person, row: Team) -> None:
    """Remove a team that hasn't begun before today; any other is ended by a last day.

    Raises `ApplicationError`: 403 for anybody but a coordinator, 409 for a team that has begun.
    """
    permission_require(actor, PERMISSION)
    if row.first_day < today_of(actor):
        raise ApplicationError(HAS_BEGUN, code="team_has_begun")
    record_remove(actor=actor, row=row, action="team_remove", permission=PERMISSION)


def team_undo(*, actor: Person, row: Team, seen: int | None = None) -> None:
    """Give a team back what it was before its last change.

    `seen`: the id of the change that the person saw. Raises as `accounts.services.undo.last_change_undo`, and
    `ValidationError` where the members of before can't be a team anymore.
    """
    with transaction.atomic():
        last_change_undo(
            actor=actor,
            model=Team,
            last=last_team_change(row),
            seen=seen,
            action=TEAM_UNDO,
            permission=PERMISSION,
        )
        back = Team.objects.get(pk=row.pk)
        problems = _problems(back, {})
        if problems:
            raise ValidationError(dict(problems))


def _members(row: Team, values: Mapping[str, Any]) -> list[Person]:
    """Who is in the team once it is saved, by name."""
    kept = row.members.all() if row.pk else ()
    return sorted(values.get("members", kept), key=lambda one: (one.last_name, one.first_name, one.pk))


def _problems(row: Team, values: Mapping[str, Any]) -> Problems:
    """Two teachers or more, each a teacher on some of the days."""
    members = _members(row, values)
    if len(members) < 2:
        return {"members": TWO_NEEDED}
    first, last = values.get("first_day", row.first_day), values.get("last_day", row.last_day)
    if first is None or last is None:
        return {}
    others = [str(one) for one in members if not _teaches(one, first, last)]
    return {"members": NO_TEACHER.format(who=" and ".join(others))} if others else {}


def _teaches(person: Person, first: dt.date, last: dt.date) -> bool:
    """Whether somebody has the role of a teacher on one of the days."""
    return any(
        one.role == Person.Role.TEACHER
        and (one.first_day is None or one.first_day <= last)
        and (one.last_day is None or one.last_day >= first)
        for one in person.role_rows
    )


# ---- shown before ----------------------------------------------------------------------------------------


def team_effects(*, actor: Person, row: Team, values: Mapping[str, Any]) -> list[str]:
    """What saving would let each member see and do, and what ends, in sentences; saves nothing.

    Raises `ValidationError` for what can't be a team, `ApplicationError` 403 for anybody but a coordinator.
    """
    permission_require(actor, PERMISSION)
    problems = _problems(row, values)
    if problems:
        raise ValidationError(dict(problems))
    members = _members(row, values)
    first, last = values.get("first_day", row.first_day), values.get("last_day", row.last_day)
    logs = values.get("shares", row.shares) == Team.Shares.LOG
    left = [one for one in (row.members.all() if row.pk else ()) if one not in members]
    return [
        f"It holds from {span_words(first, last)}.",
        *_seen(members, students_shared(members, max(first, today_of(actor)))),
        "Seen are names, plans and services, supports and cautions, goals, minutes and published weeks.",
        _logged(logs),
        "Nobody changes another’s students, plans, goals or weeks.",  # noqa: RUF001 -- as pages write it
        *(f"{one} isn’t in the team anymore, and sees nothing by it." for one in left),  # noqa: RUF001 -- as above
        "Each page that shows a student of somebody else in the team is recorded under Who saw what.",
    ]


def _seen(members: Collection[Person], counts: Mapping[int, int]) -> list[str]:
    """Who sees how many students of whom."""
    return [
        f"{one} sees "
        + ", ".join(f"{_many(counts[other.pk])} of {other}" for other in members if other != one)
        + "."
        for one in members
    ]


def _many(count: int) -> str:
    return "1 student" if count == 1 else f"{count} students"


def _logged(logs: bool) -> str:
    if logs:
        return (
            "Each sees the others’ day sheets of these days, logs their sessions and takes data; it says who did."  # noqa: RUF001 -- as above
        )
    return "Nobody logs another’s sessions."  # noqa: RUF001 -- as above
