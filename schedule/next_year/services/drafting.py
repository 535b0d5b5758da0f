"""Writes of a draft: beginning it, and what is said in it. Nothing outside the draft changes.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for anybody but a coordinator, 404 for what is
out of sight, ``already_started`` once the year is started, ``under_way`` while it is.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction

from accounts.dates import span_words
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import permission_require, record_change, record_remove
from accounts.validation import Rule
from schedule.calendar.models import SchoolYear
from schedule.long_steps.selectors import OF_YEAR, step_under_way
from schedule.next_year.models import (
    NextYear,
    NextYearBuilding,
    NextYearClass,
    NextYearDay,
    NextYearPeriod,
    NextYearRow,
    NextYearStudent,
)
from schedule.next_year.rolling import A_YEAR, days_later
from schedule.next_year.selectors.drafts import days_to_ask, year_to_copy
from travel.places.models import Building

PERMISSION = "next_year.plan"
WHICH_BELLS = "Choose the bell schedule that rings on this day."
STARTED = "This year is started. Take it back first, then it can be changed here."
UNDER_WAY = "This year is being started right now. Wait for that, or stop it, then it can be changed here."


def next_year_begin(
    *, actor: Person, name: str, first_day: dt.date, last_day: dt.date, now: dt.datetime | None = None
) -> NextYear:
    """Make a draft from the year that runs: its marking periods a year later, its special days to be answered.

    Raises ``no_year_to_copy`` where the district has no school year.
    """
    permission_require(actor, PERMISSION)
    today = today_of(actor, now)
    made_from = year_to_copy(actor, today)
    if made_from is None:
        raise ApplicationError(
            "There is no school year to copy. Add this year under Calendar first.", code="no_year_to_copy"
        )
    with transaction.atomic():
        values = {"name": name, "first_day": first_day, "last_day": last_day}
        row = NextYear(district=actor.district, made_from=made_from, made_by=actor)
        problems = _after_this(made_from, first_day, today)
        record_change(
            actor=actor, row=row, values=values, action="next_year_begin", permission=PERMISSION, problems=problems
        )
        _copy(row, made_from)
    return row


def _after_this(made_from: SchoolYear, first_day: dt.date, today: dt.date) -> dict[str, str]:
    if first_day <= made_from.last_day:
        dates = span_words(made_from.first_day, made_from.last_day)
        return {"first_day": f"{made_from} runs from {dates}. Choose a day after it."}
    if first_day <= today:
        return {"first_day": "Choose a day that is still to come."}
    return {}


def _copy(row: NextYear, made_from: SchoolYear) -> None:
    """Marking periods and special days of the year before, each on the same weekday a year later."""
    NextYearPeriod.objects.bulk_create(
        NextYearPeriod(
            next_year=row,
            name=one.name,
            first_day=max(days_later(one.first_day), row.first_day),
            last_day=min(days_later(one.last_day), row.last_day),
        )
        for one in made_from.marking_periods.all()
        if days_later(one.first_day) < row.last_day and days_later(one.last_day) > row.first_day
    )
    NextYearDay.objects.bulk_create(
        NextYearDay(
            next_year=row,
            title=one.title,
            kind=one.kind,
            building=one.building,
            bell_schedule=one.bell_schedule,
            closes_at=one.closes_at,
            first_date=one.first_date + A_YEAR,
            last_date=one.last_date + A_YEAR,
            was_first=one.first_date,
            was_last=one.last_date,
            answer=NextYearDay.Answer.ASKED,
        )
        for one in days_to_ask(made_from)
    )


def next_year_save(*, actor: Person, row: NextYear, values: Mapping[str, Any]) -> NextYear:
    """Another name, first or last day. Marking periods and special days keep theirs."""
    _open_require(row)
    first = values.get("first_day", row.first_day)
    made_from = row.made_from
    problems = {} if made_from is None else _after_this(made_from, first, today_of(actor))
    return record_change(
        actor=actor, row=row, values=values, action="next_year_save", permission=PERMISSION, problems=problems
    )


def next_year_delete(*, actor: Person, row: NextYear) -> None:
    """Drop a draft with all that is said in it. One that is started is taken back first."""
    _open_require(row)
    record_remove(actor=actor, row=row, action="next_year_delete", permission=PERMISSION)


def next_period_save(*, actor: Person, row: NextYearPeriod, values: Mapping[str, Any]) -> NextYearPeriod:
    """Save a marking period; those of a year don't overlap and stay inside it."""
    return _said(actor, row, values, "next_period_save", [_period_fits])


def next_period_delete(*, actor: Person, row: NextYearPeriod) -> None:
    """Remove a marking period from the draft."""
    _remove(actor, row, "next_period_delete")


def _period_fits(row: NextYearPeriod, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    year = row.next_year
    if row.first_day < year.first_day or row.last_day > year.last_day:
        return {"first_day": f"Keep it inside the year ({span_words(year.first_day, year.last_day)})."}
    others = year.periods.exclude(pk=row.pk).filter(first_day__lte=row.last_day, last_day__gte=row.first_day)
    other = others.first()
    if other is None:
        return {}
    return {"first_day": f"{other} runs from {span_words(other.first_day, other.last_day)} already."}


def next_day_save(*, actor: Person, row: NextYearDay, values: Mapping[str, Any]) -> NextYearDay:
    """Save a special day, or the answer to one of this year's; without a last date it lasts one day."""
    given = dict(values)
    if given.get("last_date", row.last_date) is None:
        given["last_date"] = given.get("first_date", row.first_date)
    return _said(actor, row, given, "next_day_save", [_day_fits])


def next_day_delete(*, actor: Person, row: NextYearDay) -> None:
    """Remove a special day from the draft."""
    _remove(actor, row, "next_day_delete")


def _day_fits(row: NextYearDay, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    year = row.next_year
    inside = row.first_date >= year.first_day and row.last_date <= year.last_day
    if row.answer != NextYearDay.Answer.KEPT:
        return {}
    if not inside:
        return {"first_date": f"Keep it inside the year ({span_words(year.first_day, year.last_day)})."}
    return {"bell_schedule": WHICH_BELLS} if row.lacks_bells else {}


def next_building_save(*, actor: Person, row: NextYearBuilding, values: Mapping[str, Any]) -> NextYearBuilding:
    """Save a building's highest grade, where those above it go, and whether its bells stay."""
    return _said(actor, row, values, "next_building_save", [_goes_to_a_school])


def _goes_to_a_school(row: NextYearBuilding, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    return _school_on_the_first_day(row.next_year, row.next_building, "next_building")


def _school_on_the_first_day(year: NextYear, building: Building | None, field: str) -> dict[str, str]:
    """Students can't be in an office, nor in a building that is closed for good by then."""
    if building is None:
        return {}
    if building.level == Building.Level.BASE:
        return {field: f"{building} is no school. Choose another building."}
    if building.last_day is not None and building.last_day < year.first_day:
        return {field: f"{building} is closed for good by then. Choose another building."}
    return {}


def next_class_save(*, actor: Person, row: NextYearClass, values: Mapping[str, Any]) -> NextYearClass:
    """Save whether a class goes on, for which grades and with whom; a new one is as it is now but for that."""
    given = dict(values)
    if not row.pk:
        room = values.get("school_class") or row.school_class
        given = {"grades": room.grades, "class_teacher": room.class_teacher, **given}
    return _said(actor, row, given, "next_class_save")


def next_student_save(*, actor: Person, row: NextYearStudent, values: Mapping[str, Any]) -> NextYearStudent:
    """Save what is said of a student; without anything the rule holds again."""
    return _said(actor, row, values, "next_student_save", [_class_in_building, _is_in_a_school])


def _class_in_building(row: NextYearStudent, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    room = row.home_class
    if room is not None and row.building is not None and room.building_id != row.building_id:
        return {"home_class": "This class is in another building. Change the building or the class."}
    return {}


def _is_in_a_school(row: NextYearStudent, values: Mapping[str, Any]) -> dict[str, str]:
    del values
    return _school_on_the_first_day(row.next_year, row.building, "building")


def _open_require(row: NextYear) -> None:
    if row.is_started:
        raise ApplicationError(STARTED, code="already_started")
    if step_under_way(OF_YEAR, row.pk) is not None:
        raise ApplicationError(UNDER_WAY, code="under_way")


def _said[M: NextYearRow](
    actor: Person, row: M, values: Mapping[str, Any], action: str, rules: list[Rule[M]] | None = None
) -> M:
    for year in (row.next_year, values.get("next_year", row.next_year)):
        _open_require(year)
    return record_change(
        actor=actor, row=row, values=values, action=action, permission=PERMISSION, rules=rules or []
    )


def _remove(actor: Person, row: NextYearRow, action: str) -> None:
    _open_require(row.next_year)
    record_remove(actor=actor, row=row, action=action, permission=PERMISSION)


def building_page_save(
    *,
    actor: Person,
    row: NextYear,
    building: Mapping[str, Any],
    classes: Mapping[int, Mapping[str, Any]],
    students: Mapping[int, Mapping[str, Any]],
) -> None:
    """Save what a building's page says, all or nothing: the building, its classes and its students by their ids.

    Raises `ValidationError` with each problem under ``building.FIELD``, ``class.ID`` or ``student.ID``.
    """
    permission_require(actor, PERMISSION)
    _open_require(row)
    problems: dict[str, list[str]] = {}
    with transaction.atomic():
        place = building["building"]
        one = row.buildings.filter(building=place).first() or NextYearBuilding(next_year=row, building=place)
        problems |= _kept(lambda: next_building_save(actor=actor, row=one, values=building), "building")
        of_class = {each.school_class_id: each for each in row.classes.all()}
        for pk, values in classes.items():
            kept = of_class.get(pk) or NextYearClass(next_year=row, school_class=values["school_class"])
            problems |= _kept(_saving(next_class_save, actor, kept, values), f"class.{pk}")
        of_student = {each.student_id: each for each in row.students.all()}
        for pk, values in students.items():
            said = of_student.get(pk) or NextYearStudent(next_year=row, student=values["student"])
            problems |= _kept(_saving(next_student_save, actor, said, values), f"student.{pk}")
        if problems:
            raise ValidationError(dict(problems))


def _saving(save: Any, actor: Person, row: models.Model, values: Mapping[str, Any]) -> Any:
    return lambda: save(actor=actor, row=row, values=values)


def _kept(save: Any, under: str) -> dict[str, list[str]]:
    try:
        save()
    except ValidationError as error:
        return {under: error.messages}
    return {}
