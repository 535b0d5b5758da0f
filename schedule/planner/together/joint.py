"""Sessions that two members hold as one: at the same time, for as long, in the same place.

Which sessions are one is read from the plans. A search is led to them by pins: both members'
sessions at one start that both have.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from schedule.planner.problem import Pin, Problem, Service, Session, Start, all_starts
from schedule.planner.requirements import require
from schedule.planner.result import Itinerary
from schedule.planner.together.clashes import full_times
from schedule.planner.together.shared import JointUnit, Member, Party, Spot, with_starts

type Pinned = frozenset[tuple[str, Start]]
"""A member's units with the start of each session that is one with another's."""


def spots_of(plan: Itinerary, unit: str) -> frozenset[Spot]:
    """When and where a plan holds a unit."""
    return frozenset(_spot(one) for one in plan.sessions if one.unit == unit)


def _spot(one: Session) -> Spot:
    return one.day, one.at, one.place, one.space, one.minutes or 0


def spots_joint(plans: Mapping[str, Itinerary], joint: JointUnit) -> frozenset[Spot]:
    """When and where both hold it."""
    return spots_of(plans[joint.one], joint.unit) & spots_of(plans[joint.other], joint.other_unit)


def first_missing(party: Party, plans: Mapping[str, Itinerary]) -> JointUnit | None:
    """The first joint unit of which too few sessions are one."""
    return next((one for one in party.joint if len(spots_joint(plans, one)) < one.times), None)


def common_starts(party: Party, joint: JointUnit) -> tuple[tuple[Start, Start], ...]:
    """The starts of both units at one time, for as long, in one place; of each the one's and the other's."""
    mine, theirs = party.member(joint.one), party.member(joint.other)
    others = {theirs.spot(joint.other_unit, start): start for start in _starts(theirs.problem, joint.other_unit)}
    pairs = ((start, others.get(mine.spot(joint.unit, start))) for start in _starts(mine.problem, joint.unit))
    return tuple((start, other) for start, other in pairs if other is not None)


def _starts(problem: Problem, unit: str) -> tuple[Start, ...]:
    return tuple(dict.fromkeys(all_starts(problem.unit(unit))))


def with_pins(problem: Problem, pinned: Pinned) -> Problem:
    """The problem with these sessions pinned. Raises ``ProblemError`` where one has lost its start."""
    known = {(one.unit, one.day, one.at) for one in problem.pins}
    ordered = sorted(pinned, key=lambda one: (one[0], one[1].day, one[1].at))
    new = (Pin(unit, s.day, s.at, s.place, s.space) for unit, s in ordered if (unit, s.day, s.at) not in known)
    return replace(problem, pins=(*problem.pins, *new))


def narrowed(party: Party) -> Party:
    """Without the starts that no plan of all can hold: of units whose every session is one with another's."""
    members = {one.id: one for one in party.members}
    for joint in party.joint:
        pairs = common_starts(replace(party, members=tuple(members.values())), joint)
        for who, unit, starts in (
            (joint.one, joint.unit, {mine for mine, _ in pairs}),
            (joint.other, joint.other_unit, {theirs for _, theirs in pairs}),
        ):
            members[who] = _only(party, members[who], unit, joint.times, starts)
    return replace(party, members=tuple(members[one.id] for one in party.members))


def _only(party: Party, member: Member, unit: str, times: int, starts: Collection[Start]) -> Member:
    several = sum(unit == one.unit_of(member.id) for one in party.joint) > 1
    if several or times < _service(member.problem, unit).sessions:
        return member
    return replace(member, problem=_held_only(member.problem, unit, starts))


def _service(problem: Problem, unit: str) -> Service:
    return next(one for one in problem.services if one.id == unit)


def _held_only(problem: Problem, unit: str, starts: Collection[Start]) -> Problem:
    """A service at these starts alone, and in no group."""
    return replace(
        with_starts(problem, lambda key, start: key != unit or start in starts),
        groups=tuple(one for one in problem.groups if unit not in one.members),
    )


# ---- around others -------------------------------------------------------------------------------------------


def around_others(party: Party, member: Member, plans: Mapping[str, Itinerary]) -> Problem:
    """A member's week around the others' plans, and beside them where sessions are one.

    ``plans`` may hold the member's own: the sessions that are one there stay so. Raises ``ProblemError`` where a
    pin loses its start, or too few starts stand beside the others.
    """
    others = {key: plan for key, plan in plans.items() if key != member.id}
    beside = {
        (unit, spot): frozenset({(who, spot)})
        for joint in party.joint
        for unit, who, theirs in joint.seen_by(member.id)
        if who in others
        for spot in spots_of(others[who], theirs)
    }
    full = full_times(party, others, member.id)

    def keeps(unit: str, start: Start) -> bool:
        known = beside.get((unit, member.spot(unit, start)))
        return member.fits(unit, start, full if known is None else full_times(party, others, member.id, known))

    problem = with_starts(member.problem, keeps)
    for joint in party.joint:
        for unit, who, theirs in joint.seen_by(member.id):
            if who in others:
                spots = spots_of(others[who], theirs)
                problem = _beside(problem, member, unit, joint.times, spots, plans.get(member.id))
    return problem


def _beside(
    problem: Problem, member: Member, unit: str, times: int, spots: Collection[Spot], own: Itinerary | None
) -> Problem:
    """With so many sessions of a unit where another's are: those of the own plan, else the first ones."""
    held = spots_of(own, unit) if own is not None else frozenset()
    can = [one for one in _starts(problem, unit) if member.spot(unit, one) in spots]
    can.sort(key=lambda one: (member.spot(unit, one) in held, one.day, -one.at))
    by_day = {one.day: one for one in can}
    chosen = sorted(by_day.values(), key=lambda one: (member.spot(unit, one) not in held, one.day))[:times]
    require(len(chosen) == times, unit, "Too few of its starts stand beside the other's.", "Plan the other again.")
    return with_pins(problem, frozenset((unit, one) for one in chosen))


def pinned_with(
    pins: Mapping[str, Pinned], joint: JointUnit, pair: tuple[Start, Start]
) -> Iterator[tuple[str, Pinned]]:
    """The pins of both members with one more session that is one."""
    yield joint.one, pins.get(joint.one, frozenset()) | {(joint.unit, pair[0])}
    yield joint.other, pins.get(joint.other, frozenset()) | {(joint.other_unit, pair[1])}


def ways_to_be_one(
    party: Party, joint: JointUnit, pins: Mapping[str, Pinned], covering: tuple[str, int] | None = None
) -> Iterable[tuple[Start, Start]]:
    """Common starts that aren't pinned yet; ``covering`` a minute of a day, if given."""
    known = pins.get(joint.one, frozenset())
    mine = party.member(joint.one)
    for pair in common_starts(party, joint):
        day, at, _, _, minutes = mine.spot(joint.unit, pair[0])
        there = covering is None or (day == covering[0] and at <= covering[1] < at + minutes)
        if there and (joint.unit, pair[0]) not in known:
            yield pair
