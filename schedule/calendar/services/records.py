"""Writes of days, times, the calendar and the teacher's rules; those of bells are in `bells`.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE, permission_require, record_change, record_remove
from accounts.services.undo import last_change_undo
from accounts.validation import Rule
from schedule.calendar.models import (
    BellRule,
    CalendarEntry,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from schedule.calendar.selectors.rotations import UNDO, last_rotation_change
from schedule.calendar.services import rules
from travel.places.models import Building

SHARED = "district.change"
OWN = "week.change"


def bell_rule_save(*, actor: Person, row: BellRule, values: Mapping[str, Any]) -> BellRule:
    """Say which bells ring on a weekday or cycle day."""
    return _shared(actor, row, values, "bell_rule_save", rules.bell_rule_fits)


def bell_rule_delete(*, actor: Person, row: BellRule) -> None:
    """Let the day ring the regular bells again, from the next plan on; planned weeks stay as they are."""
    record_remove(actor=actor, row=row, action="bell_rule_delete", permission=SHARED)


def rotation_save(*, actor: Person, row: DayRotation, values: Mapping[str, Any]) -> DayRotation:
    """Save how a building, or some of its grades, name their days; plain weekdays keep no labels."""
    given = dict(values)
    if given.get("kind", row.kind) == DayRotation.Kind.WEEKDAY:
        given |= {"length": None, "labels": "", "anchor_date": None, "anchor_label": ""}
    return _shared(actor, row, given, "rotation_save", rules.rotation_counts)


def rotation_change(*, actor: Person, row: DayRotation, values: Mapping[str, Any]) -> DayRotation:
    """Change a rotation from a day on: another row of it, which leaves what its days were called before.

    Where the first day stays, the row itself is put right. Without a first day among the values it does.
    """
    if row.pk and values.get("first_day", row.first_day) != row.first_day:
        row = DayRotation(building=row.building, name=row.name, grades=row.grades, practice=row.practice)
    return rotation_save(actor=actor, row=row, values=values)


def rotation_take_back(*, actor: Person, building: Building, seen: int | None = None) -> None:
    """Undo what was done last to the rotations of a building. `seen`: the id of the change that the person saw.

    Raises as `accounts.services.undo.last_change_undo`, and 404 for a building out of sight.
    """
    if not Building.objects.changeable_by(actor).filter(pk=building.pk).exists():
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    last_change_undo(
        actor=actor,
        model=DayRotation,
        last=last_rotation_change(building),
        seen=seen,
        action=UNDO,
        permission=SHARED,
        rules=[rules.rotation_counts],
    )


def rotation_delete(*, actor: Person, row: DayRotation) -> None:
    """Delete a rotation, or what it is from a day on: the days are called as they were before, or as the building's
    own rotation has them; a building without one has plain weekdays.

    Planned weeks stay as they are. Raises `ApplicationError` while something of the building names one of its days.
    """
    if row.pk and (what := rules.rotation_named_by(row)):
        permission_require(actor, SHARED)
        text = f"Its days are still named by {what}. Give that other days first."
        raise ApplicationError(text, code="still_used")
    record_remove(actor=actor, row=row, action="rotation_delete", permission=SHARED)


def class_meeting_save(*, actor: Person, row: ClassMeeting, values: Mapping[str, Any]) -> ClassMeeting:
    """Save a class's own physical education time."""
    return _shared(actor, row, values, "class_meeting_save", rules.class_meeting_fits_the_bells)


def class_meeting_delete(*, actor: Person, row: ClassMeeting) -> None:
    """Delete a physical education time of a class: no pushed-in service is planned in it anymore.

    Planned weeks stay as they are.
    """
    record_remove(actor=actor, row=row, action="class_meeting_delete", permission=SHARED)


def class_day_save(*, actor: Person, row: ClassDayTime, values: Mapping[str, Any]) -> ClassDayTime:
    """Save when a class is at school, or has its lunch; weeks that are planned from then on go by it."""
    return _shared(actor, row, values, "class_day_save", rules.class_day_fits)


def class_day_delete(*, actor: Person, row: ClassDayTime) -> None:
    """Delete a time of a class's own day: it has the hours and the lunch of its grade again.

    Planned weeks stay as they are.
    """
    record_remove(actor=actor, row=row, action="class_day_delete", permission=SHARED)


def space_free_time_save(*, actor: Person, row: SpaceFreeTime, values: Mapping[str, Any]) -> SpaceFreeTime:
    """Save a time when a space is free for the teacher."""
    return _shared(actor, row, values, "space_free_time_save", rules.free_time_fits_the_bells)


def space_free_time_delete(*, actor: Person, row: SpaceFreeTime) -> None:
    """Delete a free time; a space without any is free all day. Planned weeks stay as they are."""
    record_remove(actor=actor, row=row, action="space_free_time_delete", permission=SHARED)


def school_year_save(*, actor: Person, row: SchoolYear, values: Mapping[str, Any]) -> SchoolYear:
    """Save a school year; years of a district don't overlap."""
    return _shared(actor, row, values, "school_year_save", rules.school_year_stands_alone)


def marking_period_save(*, actor: Person, row: MarkingPeriod, values: Mapping[str, Any]) -> MarkingPeriod:
    """Save a marking period; those of a year don't overlap."""
    return _shared(actor, row, values, "marking_period_save", rules.marking_period_stands_alone)


def marking_period_delete(*, actor: Person, row: MarkingPeriod) -> None:
    """Delete a marking period: ledgers of services owed by marking period follow the ones that are left."""
    record_remove(actor=actor, row=row, action="marking_period_delete", permission=SHARED)


def calendar_entry_save(*, actor: Person, row: CalendarEntry, values: Mapping[str, Any]) -> CalendarEntry:
    """Save a special day; one without a last date lasts one day."""
    given = dict(values)
    if given.get("last_date", row.last_date) is None:
        given["last_date"] = given.get("first_date", row.first_date)
    return _shared(actor, row, given, "calendar_entry_save")


def calendar_entry_delete(*, actor: Person, row: CalendarEntry) -> None:
    """Delete a special day: where no other entry covers its dates they are regular school days again."""
    record_remove(actor=actor, row=row, action="calendar_entry_delete", permission=SHARED)


def word_rule_save(*, actor: Person, row: WordRule, values: Mapping[str, Any]) -> WordRule:
    """Save words of a published calendar and what they stand for."""
    return _shared(actor, row, values, "word_rule_save")


def word_rule_delete(*, actor: Person, row: WordRule) -> None:
    """Delete words by which published calendars are read; the days that they brought stay."""
    record_remove(actor=actor, row=row, action="word_rule_delete", permission=SHARED)


def teacher_rules_save(*, actor: Person, row: TeacherRules, values: Mapping[str, Any]) -> TeacherRules:
    """Save a teacher's rules; a teacher changes the own ones, a coordinator anyone's."""
    return _own(actor, row, values, "teacher_rules_save")


def contract_day_save(*, actor: Person, row: ContractDay, values: Mapping[str, Any]) -> ContractDay:
    """Save the contract hours of a weekday."""
    return _own(actor, row, values, "contract_day_save")


def contract_day_delete(*, actor: Person, row: ContractDay) -> None:
    """Delete a weekday's contract hours: nothing new is planned on it; planned weeks stay as they are."""
    record_remove(actor=actor, row=row, action="contract_day_delete", permission=OWN)


def contract_hours_save(
    *, actor: Person, teacher: Person, hours: Mapping[int, tuple[dt.time, dt.time] | None]
) -> None:
    """Save start and end by weekday (0 is Monday), `None` for no work: all of them or none.

    Raises `ValidationError` with each weekday's problems under its number.
    """
    days = {day.weekday: day for day in ContractDay.objects.filter(teacher=teacher)}
    problems: dict[str, list[str]] = {}
    with transaction.atomic():
        for weekday, span in hours.items():
            row = days.get(weekday) or ContractDay(teacher=teacher, district=teacher.district, weekday=weekday)
            try:
                _weekday_save(actor, row, span)
            except ValidationError as error:
                problems[str(weekday)] = error.messages
        if problems:
            raise ValidationError(dict(problems))


def _weekday_save(actor: Person, row: ContractDay, span: tuple[dt.time, dt.time] | None) -> None:
    if span is not None:
        contract_day_save(actor=actor, row=row, values={"start": span[0], "end": span[1]})
    elif row.pk:
        contract_day_delete(actor=actor, row=row)


def meeting_save(*, actor: Person, row: Meeting, values: Mapping[str, Any]) -> Meeting:
    """Save something that blocks the teacher."""
    return _own(actor, row, values, "meeting_save")


def meeting_delete(*, actor: Person, row: Meeting) -> None:
    """Delete a meeting: its time no longer blocks planning; planned weeks keep it."""
    record_remove(actor=actor, row=row, action="meeting_delete", permission=OWN)


def _shared[M: models.Model](
    actor: Person, row: M, values: Mapping[str, Any], action: str, rule: Rule[M] | None = None
) -> M:
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action=action,
        permission=SHARED,
        rules=[rule] if rule is not None else [],
    )


def _own[M: models.Model](actor: Person, row: M, values: Mapping[str, Any], action: str) -> M:
    """A row about one teacher: the actor's where none is given."""
    if getattr(row, "teacher_id", None) is None and "teacher" not in values:
        setattr(row, "teacher", actor)  # noqa: B010 -- M stands for several models that have a teacher
    return record_change(actor=actor, row=row, values=values, action=action, permission=OWN)
