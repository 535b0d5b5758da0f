"""What rows of bells, days and times must keep to across rows; each rule answers with problems by field."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.db.models import QuerySet

from accounts.dates import date_words, span_words
from accounts.selectors import today_in
from caseload.plans.enrollments import buildings_between
from caseload.plans.grades import GRADES, read_grades
from caseload.plans.models import ServiceLine, StudentHold, enrollments_of, stays_of
from schedule.calendar.bells import Period, PeriodKind, find_bell_problems
from schedule.calendar.calendars import CalendarError
from schedule.calendar.day_words import NamedDays, may_fall_together, parts_of, read_part, said_twice
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    ClassDayTime,
    ClassMeeting,
    DayRotation,
    MarkingPeriod,
    SchoolYear,
    SpaceFreeTime,
)
from schedule.calendar.selectors.bells import sets_at
from schedule.calendar.selectors.rotations import labels_at, labels_of, line_of, rotation_of
from travel.places.models import Building

type TimedRow = StudentHold | ClassMeeting | SpaceFreeTime


def minutes_of(time: Any) -> int:
    """Minutes after local midnight of a `datetime.time`."""
    return int(time.hour) * 60 + int(time.minute)


def rotation_counts(row: DayRotation, values: Mapping[str, Any]) -> dict[str, str]:
    """The labels fit the length, the known day carries one of them, and no other rotation is in the way.

    See schedule.calendar.rotations.Rotation and `_beside_others`.
    """
    del values
    labels = labels_of(row)
    if problems := _beside_others(row, labels):
        return problems
    if row.kind == DayRotation.Kind.CYCLE and len(labels) != row.length:
        return {
            "labels": f"{len(labels)} labels for a cycle of {row.length} days. "
            "Write one for each day, or none at all for Day 1, Day 2, …"
        }
    try:
        rotation_of(row)
    except CalendarError as error:
        return {"anchor_label" if labels else "labels": str(error)}
    return {}


def _beside_others(row: DayRotation, labels: Sequence[str]) -> dict[str, str]:
    """Who follows it follows no other of the building, and a label says of which rotation a day is."""
    if row.grades and not row.name.strip():
        return {"name": "Give it a name, such as Middle grades."}
    for other in _other_rotations(row):
        called = other.name or f"the rotation of {row.building}"
        both = read_grades(row.grades) & read_grades(other.grades) if row.grades and other.grades else ()
        if both:
            grades = ", ".join(sorted(both, key=GRADES.index))
            return {"grades": f"Of these, {grades} follow {called} already."}
        if twice := said_twice(labels, labels_of(other)):
            short = (row.name or other.name)[:2].upper()
            return {
                "labels": f"“{twice}” is a day of {called} already, and nobody could tell which is meant. Write "
                f"labels that differ, such as {short}1, {short}2."
            }
    return {}


def _other_rotations(row: DayRotation) -> list[DayRotation]:
    """The building's other rotations; what the same one is from another day on is none."""
    rows = DayRotation.objects.filter(building=row.building).exclude(pk=row.pk)
    return [one for one in rows if line_of(one) != line_of(row)]


def _labels_alone(row: DayRotation) -> list[str]:
    """The labels that no other row of the building has."""
    rows = DayRotation.objects.filter(building=row.building).exclude(pk=row.pk)
    kept = {label for one in rows for label in labels_of(one)}
    return [label for label in labels_of(row) if label not in kept]


def rotation_named_by(row: DayRotation) -> str:
    """What at the building names a day of this rotation, so that it can't go; empty if nothing does."""
    labels, at = _labels_alone(row), row.building
    times: list[tuple[str, str]] = [
        *((one.days, f"the physical education of {one.school_class.name}") for one in _meetings_at(at)),
        *((one.days, f"a free time of {one.space}") for one in _free_times_at(at)),
        *((one.days, f"the own day of {one.school_class.name}") for one in _own_days_at(at)),
        *((one.day, f"a day with {one.schedule}") for one in at.bell_rules.select_related("schedule")),
    ]
    return next((what for days, what in times if _names_any(days, labels)), "")


def _names_any(days: str, labels: Sequence[str]) -> bool:
    read = (read_part(part, labels) for part in parts_of(days))
    return any(one is not None and bool(one.label) for one in read)


def _meetings_at(building: Building) -> QuerySet[ClassMeeting]:
    return ClassMeeting.objects.filter(school_class__building=building).select_related("school_class")


def _own_days_at(building: Building) -> QuerySet[ClassDayTime]:
    return ClassDayTime.objects.filter(school_class__building=building).select_related("school_class")


def _free_times_at(building: Building) -> QuerySet[SpaceFreeTime]:
    return SpaceFreeTime.objects.filter(space__building=building).select_related("space")


def days_problem(days: str, building: Building) -> str:
    """What is wrong with a text such as ``Mon,Wed`` or ``A Mon`` in this building; empty if nothing."""
    labels = labels_at(building)
    unknown = [part for part in parts_of(days) if read_part(part, labels) is None]
    if not unknown:
        return ""
    usable = f", {', '.join(labels)}, {labels[0]} Mon" if labels else ""
    return (
        f"“{unknown[0]}” isn't a day at {building}. Use Mon, Tue, Wed, Thu, Fri, Mon-Thu{usable}, or a weekday "
        "of the month such as first Wed or last Fri, with commas."
    )


def period_names(building: Building) -> list[str]:
    """Names of the periods that a building's bells ring now or later, each once, in the order of the day."""
    rows = sorted(_periods_now(building), key=lambda one: (one.start, one.name))
    return list(dict.fromkeys(one.name for one in rows))


def _periods_now(building: Building) -> list[BellPeriod]:
    """The periods of the bells that aren't over."""
    today = today_in(building.district)
    return [period for one in sets_at(building) if not one.is_over(today) for period in one.periods]


def _timed_problems(row: TimedRow, building: Building) -> dict[str, str]:
    problems: dict[str, str] = {}
    if row.days and (text := days_problem(row.days, building)):
        problems["days"] = text
    names = period_names(building)
    if row.period and row.period.strip().casefold() not in {name.casefold() for name in names}:
        listed = ", ".join(names) or "none yet: enter its bells first"
        problems["period"] = f"“{row.period}” isn't a period at {building}. Its periods: {listed}."
    return problems


def hold_fits_the_bells(row: StudentHold, values: Mapping[str, Any]) -> dict[str, str]:
    """Days and period exist in a building where the student is on one of the hold's days."""
    del values
    found = [_timed_problems(row, building) for building in _buildings_of_hold(row)]
    return {} if {} in found else found[-1]


def _buildings_of_hold(row: StudentHold) -> list[Building]:
    """In the order of the days; the record's where the student is nowhere on them."""
    first, last = row.first_day or dt.date.min, row.last_day or dt.date.max
    places = {one.building_id: one.building for one in enrollments_of(row.student)}
    schools = [stay for stay in stays_of(row.student) if not stay.program]
    found = [*buildings_between(schools, first, last), *buildings_between(stays_of(row.student), first, last)]
    return [places[one] for one in dict.fromkeys(found)] or [row.student.building]


def class_meeting_fits_the_bells(row: ClassMeeting, values: Mapping[str, Any]) -> dict[str, str]:
    """Days and period exist in the class's building, and so does the space."""
    del values
    building = row.school_class.building
    problems = _timed_problems(row, building)
    if row.space is not None and row.space.building_id != building.pk:
        problems["space"] = f"This space is not at {building}."
    return problems


def class_day_fits(row: ClassDayTime, values: Mapping[str, Any]) -> dict[str, str]:
    """The days exist in the class's building."""
    del values
    text = days_problem(row.days, row.school_class.building)
    return {"days": text} if text else {}


def free_time_fits_the_bells(row: SpaceFreeTime, values: Mapping[str, Any]) -> dict[str, str]:
    """Days and period exist in the space's building."""
    del values
    return _timed_problems(row, row.space.building)


def bell_rule_fits(row: BellRule, values: Mapping[str, Any]) -> dict[str, str]:
    """The day exists in the building, and the bells are that building's."""
    del values
    problems: dict[str, str] = {}
    if text := days_problem(row.day, row.building) or _bells_already(row):
        problems["day"] = text
    if row.schedule.building_id != row.building_id:
        problems["schedule"] = f"These bells are not {row.building}'s."
    return problems


def _bells_already(row: BellRule) -> str:
    """The rule that names one of the same days already, so that no date has two bells; empty if none does."""
    labels = labels_at(row.building)
    mine = _named(row, labels)
    for other in BellRule.objects.filter(building=row.building).exclude(pk=row.pk).select_related("schedule"):
        if any(one == two or may_fall_together(one, two) for one in mine for two in _named(other, labels)):
            return f"“{other.day}” rings {other.schedule} already. Change or delete that first."
    return ""


def _named(row: BellRule, labels: Sequence[str]) -> list[NamedDays]:
    """What a rule names: each weekday of a span by itself."""
    found = [one for part in parts_of(row.day) if (one := read_part(part, labels)) is not None]
    return [replace(one, weekdays=days) for one in found for days in _each(one.weekdays)]


def _each(weekdays: frozenset[int]) -> list[frozenset[int]]:
    return [frozenset({one}) for one in weekdays] or [weekdays]


def line_fits_a_period(row: ServiceLine, values: Mapping[str, Any]) -> dict[str, str]:
    """Direct service minutes are no longer than the longest period of instruction where the service is given.

    Says nothing while a building of the service's days has no bells, and nothing of minutes without a count: those
    are divided.
    """
    del values
    if row.minutes is None or row.service_type != ServiceLine.Type.DIRECT:
        return {}
    longest = [_longest_period(building) for building in sorted(row.places())]
    if any(one is None or row.minutes <= one[0] for one in longest):
        return {}
    minutes, name, building = max(one for one in longest if one is not None)
    return {
        "statement": f"{row.minutes} minutes are longer than any period at {building}; the longest is "
        f"{name} with {minutes} minutes. Correct the minutes or the bells."
    }


def _longest_period(building_id: int) -> tuple[int, str, str] | None:
    """A building's longest period of instruction: minutes, its name, the building's name. None without bells."""
    building = Building.objects.select_related("district").get(pk=building_id)
    lengths = [
        (minutes_of(one.end) - minutes_of(one.start), one.name, str(building))
        for one in _periods_now(building)
        if one.kind == BellPeriod.Kind.INSTRUCTION
    ]
    return max(lengths, default=None)


def school_year_stands_alone(row: SchoolYear, values: Mapping[str, Any]) -> dict[str, str]:
    """Two school years of a district don't overlap, and marking periods stay inside."""
    del values
    others = SchoolYear.objects.filter(
        district=row.district, first_day__lte=row.last_day, last_day__gte=row.first_day
    ).exclude(pk=row.pk)
    problems: dict[str, str] = {}
    if (other := others.first()) is not None:
        problems["first_day"] = f"The year {other} runs from {span_words(other.first_day, other.last_day)} already."
    periods = row.marking_periods.all() if row.pk else MarkingPeriod.objects.none()
    if (late := periods.filter(last_day__gt=row.last_day).first()) is not None:
        problems["last_day"] = f"{late} runs to {date_words(late.last_day)}. Change that marking period first."
    if (early := periods.filter(first_day__lt=row.first_day).first()) is not None:
        problems.setdefault(
            "first_day", f"{early} begins on {date_words(early.first_day)}. Change that marking period first."
        )
    return problems


def marking_period_stands_alone(row: MarkingPeriod, values: Mapping[str, Any]) -> dict[str, str]:
    """Marking periods of a year don't overlap."""
    del values
    other = (
        MarkingPeriod.objects.filter(
            school_year=row.school_year, first_day__lte=row.last_day, last_day__gte=row.first_day
        )
        .exclude(pk=row.pk)
        .first()
    )
    return (
        {}
        if other is None
        else {"first_day": f"{other} runs from {span_words(other.first_day, other.last_day)} already."}
    )


def bell_periods_problems(
    name: str, passing_minutes: int, periods: Sequence[BellPeriod]
) -> tuple[dict[int, list[str]], list[str]]:
    """Faults by position among the periods, and those of the schedule as a whole (schedule.calendar.bells).

    An overlap is reported at the later of the two.
    """
    read = [
        Period(
            period.name,
            minutes_of(period.start),
            minutes_of(period.end),
            PeriodKind(period.kind),
            read_grades(period.grades) if period.grades else frozenset(),
        )
        for period in periods
    ]
    by_place: dict[int, list[str]] = {}
    whole: list[str] = []
    for text in find_bell_problems(name, read, passing_minutes):
        places = [place for place, period in enumerate(periods) if f'period "{period.name}"' in text]
        if places:
            by_place.setdefault(_blamed(places, text, periods), []).append(text)
        else:
            whole.append(text)
    return by_place, whole


def _blamed(places: Iterable[int], text: str, periods: Sequence[BellPeriod]) -> int:
    """The place whose period the sentence names first."""
    return min(places, key=lambda place: (text.index(f'period "{periods[place].name}"'), place))
