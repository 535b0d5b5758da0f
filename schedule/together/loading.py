"""Several teachers' weeks as one question: each loaded as by itself, without the weeks in force of the others."""

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import SchoolClass, ServiceLine
from schedule.calendar.words import listed
from schedule.joint.agreed import GivenTogether
from schedule.joint.selectors import given_together_of
from schedule.planner.problem import Problem
from schedule.planner.together.joint import common_starts
from schedule.planner.together.shared import JointUnit, Member, Party, TakenOutside, space_key
from schedule.weeks.aims import Aim
from schedule.weeks.models import PlanRun
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.load import load_week
from schedule.weeks.services.base import run_base
from schedule.weeks.versions.content import WeekContent
from schedule.weeks.versions.history import content_in_force

TO_SUNDAY = dt.timedelta(days=6)


@dataclass(frozen=True, slots=True)
class LoadedTeacher:
    """One teacher's week with the way back to its rows."""

    teacher: Person
    loaded: WeekInput
    in_force: WeekContent | None

    @property
    def id(self) -> str:
        """What the planner calls the teacher."""
        return str(self.teacher.pk)


@dataclass(frozen=True, slots=True)
class LoadedParty:
    """All of them, and the question for the planner. ``apart``: joint sessions that have no time in common."""

    teachers: tuple[LoadedTeacher, ...]
    party: Party
    apart: tuple[str, ...] = ()


def together_load(teachers: Sequence[Person], monday: dt.date, aim: Aim) -> LoadedParty:
    """Read the week of each; raises ``ApplicationError`` that names the teacher whose week can't be planned."""
    group = frozenset(one.pk for one in teachers)
    found = tuple(_load(one, monday, aim, group) for one in teachers)
    things = {one.id: _things(one.loaded) for one in found}
    shared = _shared(things)
    members = tuple(
        Member(
            one.id,
            str(one.teacher),
            one.loaded.problem,
            {unit: keys & shared for unit, keys in things[one.id].items() if keys & shared},
            frozenset(unit for unit, info in one.loaded.units.infos.items() if info.setting == _PUSH_IN),
        )
        for one in found
    )
    party = Party(members, _room(found), tuple(_taken(found)), _names(found))
    return _with_joint(LoadedParty(found, party), monday)


def _with_joint(loaded: LoadedParty, monday: dt.date) -> LoadedParty:
    """With the sessions that two give together, as far as they have times in common."""
    party = loaded.party
    joint = [(one, _possible(party, one)) for one in _joint(loaded.teachers, monday)]
    apart = tuple(_apart_words(party, one) for one, times in joint if not times)
    units = tuple(replace(one, times=min(one.times, times)) for one, times in joint if times)
    return replace(loaded, party=replace(party, joint=units), apart=apart)


_PUSH_IN = ServiceLine.Setting.PUSH_IN.value


def _load(teacher: Person, monday: dt.date, aim: Aim, group: frozenset[int]) -> LoadedTeacher:
    in_force = content_in_force(teacher, monday)
    run = PlanRun(
        district=teacher.district, teacher=teacher, first_date=monday, last_date=monday + TO_SUNDAY, aim=aim.value
    )
    base = replace(run_base(run, monday, {}, in_force), together=group)
    try:
        return LoadedTeacher(teacher, load_week(teacher, monday, base), in_force)
    except ApplicationError as error:
        raise ApplicationError(f"{teacher}: {error.message}", code=error.code) from error


# ---- what two of them give together ------------------------------------------------------------------------------


def _joint(found: Sequence[LoadedTeacher], monday: dt.date) -> Iterator[JointUnit]:
    """Services of two of them of which sessions are given together all week, each pair once."""
    units = {service: (one, unit) for one in found for service, unit in _units(one)}
    agreed = given_together_of(_students(found), monday, monday + TO_SUNDAY)
    for service in sorted(units):
        for one in agreed.get(service, ()):
            if one.service < one.partner and one.partner in units and _all_week(one, monday):
                yield from _joint_unit(one, units[service], units[one.partner])


def _students(found: Sequence[LoadedTeacher]) -> set[int]:
    """Those of consultations, too, in which they aren't."""
    return {week.line.plan.student_id for one in found for week in one.loaded.lines.values()}


def _units(one: LoadedTeacher) -> Iterator[tuple[int, str]]:
    """The services of a week's lines with their units."""
    units = one.loaded.units.unit_of_line()
    return ((week.line.service_id, units[line]) for line, week in one.loaded.lines.items() if line in units)


def _all_week(one: GivenTogether, monday: dt.date) -> bool:
    return one.holds_on(monday) and one.holds_on(monday + TO_SUNDAY)


def _joint_unit(
    agreed: GivenTogether, one: tuple[LoadedTeacher, str], other: tuple[LoadedTeacher, str]
) -> Iterator[JointUnit]:
    times = agreed.most(_sessions(*one), _sessions(*other))
    if times and one[0] is not other[0]:
        yield JointUnit(one[0].id, one[1], other[0].id, other[1], times)


def _sessions(one: LoadedTeacher, unit: str) -> int:
    return next(service.sessions for service in one.loaded.problem.services if service.id == unit)


def _possible(party: Party, joint: JointUnit) -> int:
    """On how many days both have a time in common."""
    return len({start.day for start, _ in common_starts(party, joint)})


def _apart_words(party: Party, joint: JointUnit) -> str:
    names = [party.member(who).name for who in (joint.one, joint.other)]
    code = party.member(joint.one).problem.name_of_unit(joint.unit)
    return f"{code}: {listed(names)} have no time, length and place in common this week; each has it alone."


# ---- what they share ------------------------------------------------------------------------------------------


def _things(week: WeekInput) -> dict[str, frozenset[str]]:
    """Students and classes by unit; a class that is pushed into counts too, so that nobody takes it away then."""
    return {
        unit: frozenset(
            [
                *(f"student {pk}" for pk in info.students),
                *([f"class {info.school_class}"] if info.school_class is not None else []),
            ]
        )
        for unit, info in week.units.infos.items()
    }


def _shared(things: Mapping[str, Mapping[str, frozenset[str]]]) -> frozenset[str]:
    """What more than one teacher might have."""
    counts = Counter(key for units in things.values() for key in frozenset().union(*units.values()))
    return frozenset(key for key, count in counts.items() if count > 1)


def _spaces(found: Sequence[LoadedTeacher]) -> Iterator[tuple[str, int, int]]:
    """Key, id and room of each space of each teacher's buildings."""
    for one in found:
        rows = {space.pk: space for spaces in one.loaded.sources.spaces.values() for space in spaces}
        for (place, name), pk in one.loaded.spaces.items():
            yield space_key(place, name), pk, rows[pk].classes_that_fit


def _room(found: Sequence[LoadedTeacher]) -> dict[str, int]:
    return {key: fits for key, _, fits in _spaces(found)}


def _taken(found: Sequence[LoadedTeacher]) -> Iterator[TakenOutside]:
    """Who else is in a space that has room for more than one; of any other no start is left then."""
    keys = {pk: key for key, pk, fits in _spaces(found) if fits > 1}
    known: dict[tuple[int, dt.date], set[tuple[int, int]]] = defaultdict(set)
    for one in found:
        for (space, date), uses in one.loaded.sources.uses.items():
            if space in keys and (space, date) not in known:
                known[space, date] = {use.span for use in uses}
    for (space, date), spans in sorted(known.items()):
        for begins, ends in sorted(spans):
            yield TakenOutside(keys[space], date.isoformat(), begins, ends)


def _names(found: Sequence[LoadedTeacher]) -> dict[str, str]:
    """Keys in words; students by their marked codes."""
    names: dict[str, str] = {}
    classes: set[int] = set()
    for one in found:
        problem: Problem = one.loaded.problem
        for place, name in one.loaded.spaces:
            names[space_key(place, name)] = f"{name} at {problem.name_of_place(place)}"
        for info in one.loaded.units.infos.values():
            names |= {f"student {pk}": code for pk, code in info.students.items()}
            classes |= {info.school_class} if info.school_class is not None else set()
    rows = SchoolClass.objects.filter(pk__in=classes)
    return names | {f"class {pk}": name for pk, name in rows.values_list("pk", "name")}
