"""When and where the students of some service lines can be met on each date of a week, and what bars it."""

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence

from caseload.plans.models import Enrollment, SchoolClass, ServiceLine
from schedule.calendar.laid_out import DayFacts
from schedule.calendar.starts import Candidates, Need, Venue, find_starts
from schedule.calendar.starts_as_said import Meets, said_of_starts, starts_as_said
from schedule.weeks.planning.line_week import LineWeek, grades_of
from schedule.weeks.planning.sources import Sources, ask_office
from travel.places.models import Space
from travel.places.models.space import SpaceKind

Setting = ServiceLine.Setting

FOR_CLASSES = (SpaceKind.GYM, SpaceKind.HALF_GYM, SpaceKind.MULTIPURPOSE, SpaceKind.CLASSROOM)
FOR_FEW = (SpaceKind.HALF_GYM, SpaceKind.MULTIPURPOSE, SpaceKind.GYM, SpaceKind.CLASSROOM)
"""Kinds of spaces in the order that they are tried; a field or a pool only where the plan names it."""


def is_direct(line: ServiceLine) -> bool:
    return line.service_type == ServiceLine.Type.DIRECT


def candidates_of(members: Sequence[LineWeek], school_class: int | None, sources: Sources) -> Iterator[Candidates]:
    """On each date of the week, when the unit can be served and what bars it."""
    grades = grades_of(members)
    for date in sources.dates:
        leads = next((one for one in members if one.active_on(date)), None)
        if leads is None:
            continue
        active = [one for one in members if one.joins_on(date, leads)]
        building = leads.places[date].building
        facts = sources.facts(building.pk, date).for_grades(grades)
        held = leads.held_elsewhere
        venue = sources.venue(held, leads.line.way_minutes, date, grades) if held is not None else None
        need = need_of(active, leads.places[date], facts, sources, venue)
        if need is not None:
            found = find_starts(building.code, facts, need, sources.contract[date], venue)
            meets = meets_of(active, date, school_class, sources)
            yield starts_as_said(found, date, meets, said_of_starts(sources.said, date), sources.least)


def meets_of(active: Sequence[LineWeek], date: dt.date, school_class: int | None, sources: Sources) -> Meets:
    """Who would meet where, as what happened to a day is held against sessions."""
    place, held = active[0].places[date], active[0].held_elsewhere
    building = held.building if held is not None else place.building
    return Meets(
        building=building.pk,
        teacher=sources.teacher,
        minutes=active[0].owed.minutes,
        spaces={space.name: space.pk for space in sources.spaces.get(building.pk, ())},
        school_class=school_class,
        students=frozenset((one.line.plan.student_id, one.places[date].grade) for one in active),
        who=label_of(active),
        ask=ask_office(building),
        students_from=place.building_id if held is not None else None,
    )


def label_of(members: Sequence[LineWeek]) -> str:
    home = members[0].home_class
    if len(members) > 1 and home is not None:
        return home.name
    who = members[0].line.plan.student.marked_code
    return who if is_direct(members[0].line) else f"{who} (consultation)"


def need_of(
    active: Sequence[LineWeek], place: Enrollment, facts: DayFacts, sources: Sources, venue: Venue | None = None
) -> Need | None:
    """What one session asks of a date and a place; ``None`` where no space or class at all is allowed there."""
    line, minutes = active[0].line, active[0].owed.minutes
    if not is_direct(line):
        return Need(minutes, (), at_lunch_too=True)
    students = tuple(sources.student_day(one.line.plan.student, one.places[facts.date], facts) for one in active)
    if line.setting == Setting.PUSH_IN and line.pushed_into is not None:
        here = line.pushed_into.building_id == place.building_id
        students = sources.held_with(line.pushed_into, students, facts.date, pushed_in=True)
        return Need(minutes, students, inside=sources.class_spans(line.pushed_into.pk, facts)) if here else None
    held = active[0].held_elsewhere
    spaces = _spaces(active, place.building_id, sources) if held is None else (held,)
    if spaces is None:
        return None
    home = place.home_class if line.setting == Setting.OWN_CLASS else None
    students = sources.held_with(home, students, facts.date)
    there, ask = (facts, ask_office(place.building)) if venue is None else (venue.facts, venue.ask)
    return Need(minutes, students, sources.space_days(spaces, there, home, ask))


def named_spaces(active: Iterable[LineWeek]) -> list[set[int]]:
    """The spaces that each line allows, where it names any."""
    allowed = [{space.pk for space in one.spaces_named} for one in active]
    return [spaces for spaces in allowed if spaces]


def _spaces(active: Sequence[LineWeek], building: int, sources: Sources) -> tuple[Space, ...] | None:
    """Spaces to try, best first; empty where the building names none, ``None`` where the lines allow none."""
    every = sources.spaces.get(building, ())
    named = named_spaces(active)
    if named:
        shared = set.intersection(*named)
        return tuple(space for space in every if space.pk in shared) or None
    order = FOR_CLASSES if active[0].line.setting == Setting.OWN_CLASS else FOR_FEW
    liked = [space for space in every if space.kind in order]
    liked.sort(key=lambda space: (order.index(SpaceKind(space.kind)), space.name))
    return tuple(liked) or (None if every else ())


def remarks_of(members: Sequence[LineWeek], sources: Sources) -> tuple[str, ...]:
    """Why there is no moment at all for this service in the week."""
    line, building = members[0].line, members[0].building
    found: list[str] = []
    if line.setting == Setting.PUSH_IN and line.pushed_into is not None:
        found += _class_remarks(line.pushed_into, members[0], sources)
    elif is_direct(line) and members[0].held_elsewhere is None and _spaces(members, building.pk, sources) is None:
        found.append(f"No space of {building.name} is allowed for it: name spaces in the service line.")
    held = members[0].held_elsewhere
    there = sources.closed_remarks(held.building, needs_bells=False) if held is not None else ()
    return tuple(dict.fromkeys([*found, *sources.closed_remarks(building), *there]))


def _class_remarks(school_class: SchoolClass, member: LineWeek, sources: Sources) -> list[str]:
    if school_class.building_id != member.building.pk:
        told = (
            f"{school_class.name} isn't in {member.building.name}, where the student is in this week. Change the "
            "service from the day of the move."
        )
        return [told]
    minutes = member.owed.minutes
    slots = sources.meetings.get(school_class.pk, ())
    if not slots:
        return [f"{school_class.name} has no physical education period of its own: enter when the class meets."]
    return [f"A period of {school_class.name} must hold {minutes} minutes on a day that you work."]
