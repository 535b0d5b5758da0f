"""Writes of bell schedules with their periods. What they ring has first days, and the past keeps what it had.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight,
``month_closed`` where a month that is closed would change).
"""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE, audit_write, permission_require, record_change, record_remove
from accounts.services.undo import CHANGED_SINCE, NOTHING_TO_UNDO
from schedule.calendar.models import BellPeriod, BellSchedule
from schedule.calendar.selectors.bells import (
    BEGINNING,
    REMOVED,
    SAVED,
    TAKEN_BACK,
    BellSet,
    key_of,
    last_set_change,
    set_on,
    sets_of,
    usual_first_day,
)
from schedule.calendar.services import rules
from schedule.calendar.services.closed import bells_closed_require
from schedule.calendar.services.period_names import bells_may_go, periods_follow
from schedule.calendar.services.records import SHARED

PERIOD_FIELDS = ("name", "kind", "start", "end", "grades")
OF_PERIODS = ("periods", "first_day")

type State = list[str]


def bell_schedule_save(*, actor: Person, row: BellSchedule, values: Mapping[str, Any]) -> BellSchedule:
    """Save a bell schedule, with its periods from a first day on.

    `values["periods"]` lists all of them, each a mapping of `BellPeriod` fields; without it the periods stay as
    they are. They ring from `values["first_day"]` on (None: since always; left out:
    `selectors.bells.usual_first_day`) until the next set's first day; what rang before stays. A renamed period is
    renamed wherever the building's rows name it (schedule.calendar.services.period_names). Problems of a period
    are under ``periods.N.field`` or ``periods.N`` (N from 0).
    """
    own = {name: value for name, value in values.items() if name not in OF_PERIODS}
    periods: list[BellPeriod] | None = None
    problems: dict[str, str] = {}
    if "periods" in values:
        periods, problems = _periods_read(
            name=str(values.get("name", row.name)),
            passing_minutes=values.get("passing_minutes", row.passing_minutes) or 0,
            periods=values["periods"],
        )
    elif "first_day" in values:
        problems = {"first_day": "Say with it which periods ring from that day on: all of them."}
    with transaction.atomic():
        record_change(
            actor=actor, row=row, values=own, action="bell_schedule_save", permission=SHARED, problems=problems
        )
        if periods is not None:
            usual = usual_first_day(_fresh(row), today_of(actor))
            _set_save(actor, row, values.get("first_day", usual), periods)
    return row


def _periods_read(
    *, name: str, passing_minutes: int, periods: Sequence[Mapping[str, Any]]
) -> tuple[list[BellPeriod], dict[str, str]]:
    """Unsaved periods, and every problem of each by itself and among the others."""
    found: dict[str, str] = {}
    rows: list[BellPeriod] = []
    for place, values in enumerate(periods):
        period = BellPeriod(**{field: values[field] for field in PERIOD_FIELDS if field in values})
        try:
            period.clean_fields(exclude={"schedule"})
        except ValidationError as error:
            for field, texts in error.message_dict.items():
                found[f"periods.{place}.{field}"] = " ".join(texts)
        rows.append(period)
    if not found:
        by_place, whole = rules.bell_periods_problems(name, passing_minutes, rows)
        found.update({f"periods.{place}": " ".join(texts) for place, texts in by_place.items()})
        if whole:
            found["periods"] = " ".join(whole)
    return rows, found


def _fresh(row: BellSchedule) -> BellSchedule:
    """The schedule as it is saved, without what was read of its periods before."""
    return BellSchedule.objects.select_related("building__district").get(pk=row.pk)


def _set_of(row: BellSchedule, first: dt.date | None) -> BellSet | None:
    return next((one for one in sets_of(_fresh(row)) if one.first == first), None)


def _set_save(actor: Person, row: BellSchedule, first: dt.date | None, periods: Sequence[BellPeriod]) -> None:
    saved = _fresh(row)
    kept, rung = _set_of(row, first), set_on(saved, first)
    before, after = _states(rung.periods if rung else ()), _states(periods)
    if before == after:
        return
    _set_write(actor, row, first, periods)
    was = "" if kept is None else key_of(first)
    action = SAVED if sets_of(saved) else "bell_schedule_save"
    changes: dict[str, list[Any]] = {"periods": [before, after], "set": [was, key_of(first)]}
    audit_write(actor=actor, district=row.district, action=action, row=row, changes=changes)


def _set_write(actor: Person, row: BellSchedule, first: dt.date | None, periods: Sequence[BellPeriod]) -> None:
    """Put the periods of the set from a first day on in the place of those there were; none: the set goes."""
    saved = _fresh(row)
    sets = sets_of(saved)
    rung = set_on(saved, first)
    BellPeriod.objects.filter(schedule=row, first_day=first).delete()
    for period in periods:
        period.pk, period.schedule, period.first_day = None, row, first
        period.save()
    if not sets:
        return
    later = [one.first for one in sets if one.first is not None and one.first > (first or dt.date.min)]
    bells_closed_require(row, first, min(later, default=None))
    instead = periods or (now.periods if (now := set_on(_fresh(row), first)) else ())
    periods_follow(
        actor=actor, row=row, before=rung.periods if rung else (), after=instead, first=first, today=today_of(actor)
    )


def _day_of(key: str) -> dt.date | None:
    return None if key == BEGINNING else dt.date.fromisoformat(key)


def _states(periods: Sequence[BellPeriod]) -> list[State]:
    states = [[one.name, one.kind, f"{one.start:%H:%M}", f"{one.end:%H:%M}", one.grades] for one in periods]
    return sorted(states, key=lambda state: (state[2], state[3], state[0]))


def _periods_of(states: Sequence[State]) -> list[BellPeriod]:
    clock = dt.time.fromisoformat
    return [
        BellPeriod(name=name, kind=kind, start=clock(start), end=clock(end), grades=grades)
        for name, kind, start, end, grades in states
    ]


def bell_set_remove(*, actor: Person, row: BellSchedule, first_day: dt.date | None) -> None:
    """Take a set away, as if it had never been given: what rang before rings on.

    Raises `ApplicationError`: ``not_found``, ``only_set``; `ValidationError` (``periods``) while something names a
    period that would be gone.
    """
    _changeable_require(actor, row)
    kept = _set_of(row, first_day)
    if kept is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if len(sets_of(_fresh(row))) == 1:
        text = "These are the only periods of these bells. Delete the bell schedule instead."
        raise ApplicationError(text, code="only_set")
    with transaction.atomic():
        _set_write(actor, row, first_day, ())
        changes: dict[str, list[Any]] = {"periods": [_states(kept.periods), []], "set": [key_of(first_day), ""]}
        audit_write(actor=actor, district=row.district, action=REMOVED, row=row, changes=changes)


def bells_take_back(*, actor: Person, row: BellSchedule, seen: int | None = None) -> None:
    """Undo what was done last to the periods of a bell schedule. `seen`: the id of the change that the person saw.

    Raises `ApplicationError`: ``nothing_to_undo``, ``changed_since``, 403 for the role, 404 for what is out of
    sight.
    """
    _changeable_require(actor, row)
    last = last_set_change(row)
    if last is None or seen not in {None, last.entry.pk}:
        raise ApplicationError(NOTHING_TO_UNDO, code="nothing_to_undo")
    (before, after), (was, now) = last.entry.changes["periods"], last.entry.changes["set"]
    first = _day_of(now or was)
    with transaction.atomic():
        kept = _set_of(row, first)
        if _states(kept.periods if kept else ()) != after:
            raise ApplicationError(CHANGED_SINCE, code="changed_since")
        _set_write(actor, row, first, _periods_of(before))
        if not was:
            BellPeriod.objects.filter(schedule=row, first_day=first).delete()
        changes: dict[str, list[Any]] = {"periods": [after, before], "set": [now, was]}
        audit_write(actor=actor, district=row.district, action=TAKEN_BACK, row=row, changes=changes)


def _changeable_require(actor: Person, row: BellSchedule) -> None:
    permission_require(actor, SHARED)
    if not BellSchedule.objects.changeable_by(actor).filter(pk=row.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def bell_schedule_delete(*, actor: Person, row: BellSchedule) -> None:
    """Delete a bell schedule with its periods; calendar entries that named it fall back to their kind's.

    Raises `ApplicationError` while something names a period that no other bells of the building have, or a
    calendar entry is about these bells (`schedule.calendar.models.entries.bells_gone`).
    """
    if row.pk and (text := bells_may_go(actor, row, today_of(actor))):
        permission_require(actor, SHARED)
        raise ApplicationError(text, code="still_used")
    record_remove(actor=actor, row=row, action="bell_schedule_delete", permission=SHARED)
