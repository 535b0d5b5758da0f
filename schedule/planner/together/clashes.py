"""Where weeks that were planned apart meet: a thing that more sessions have at a minute than can."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.problem import Session
from schedule.planner.result import Itinerary
from schedule.planner.together.shared import Held, Party, Spot, start_of

type Spans = dict[tuple[str, str], list[tuple[int, int]]]
type Whose = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SharedClash:
    """More of these members have a thing at a minute of a day than can."""

    key: str
    day: str
    minute: int
    members: tuple[str, ...]


def things_held(
    party: Party, plans: Mapping[str, Itinerary], without: Collection[tuple[str, Spot]] = ()
) -> Iterator[tuple[Held, Whose]]:
    """Each thing that the weeks have: key, day, from, until, with who has it; two who are one have it once.

    ``without`` these members' sessions.
    """
    held: dict[tuple[str, str, Spot], dict[Held, None]] = {}
    for member in party.members:
        for one in plans[member.id].sessions if member.id in plans else ():
            spot = _spot(one)
            if (member.id, spot) not in without:
                held[member.id, one.unit, spot] = dict.fromkeys(member.held(one.unit, start_of(one)))
    yield from _held_once(party, held)
    for (member_id, *_), things in held.items():
        yield from ((thing, (member_id,)) for thing in things)


def _spot(one: Session) -> Spot:
    return one.day, one.at, one.place, one.space, one.minutes or 0


def _held_once(
    party: Party, held: Mapping[tuple[str, str, Spot], dict[Held, None]]
) -> Iterator[tuple[Held, Whose]]:
    """What two members have as one, taken from what each has."""
    for joint in party.joint:
        for (member, unit, spot), mine in held.items():
            theirs = held.get((joint.other, joint.other_unit, spot), {})
            if (member, unit) == (joint.one, joint.unit):
                for thing in [thing for thing in mine if thing in theirs]:
                    del mine[thing], theirs[thing]
                    yield thing, (joint.one, joint.other)


def shared_clashes(party: Party, plans: Mapping[str, Itinerary]) -> list[SharedClash]:
    """The first minute of each time at which too many have a thing, by day and minute."""
    held: dict[tuple[str, str], list[tuple[int, int, Whose]]] = defaultdict(list)
    for (key, day, begins, ends), whose in things_held(party, plans):
        held[key, day].append((begins, ends, whose))
    outside = _outside(party)
    found = [
        SharedClash(key, day, minute, who)
        for (key, day), spans in held.items()
        for minute, who in _over(spans, outside.get((key, day), []), party.most(key))
    ]
    return sorted(found, key=lambda one: (one.day, one.minute, one.key))


def _over(
    spans: list[tuple[int, int, Whose]], outside: list[tuple[int, int]], most: int
) -> Iterator[tuple[int, Whose]]:
    """Minutes at which a session, or somebody outside, begins to be one too many, and who has the thing then."""
    for minute in sorted({begins for begins, *_ in spans} | {begins for begins, _ in outside}):
        then = [whose for begins, ends, whose in spans if begins <= minute < ends]
        if then and len(then) + _at(minute, outside) > most:
            yield minute, tuple(sorted({member for whose in then for member in whose}))


def _at(minute: int, spans: Iterable[tuple[int, int]]) -> int:
    """How many of the spans hold at a minute."""
    return sum(begins <= minute < ends for begins, ends in spans)


def _outside(party: Party) -> Spans:
    found: Spans = defaultdict(list)
    for one in party.taken:
        found[one.space, one.day].append((one.start, one.end))
    return found


def full_times(
    party: Party, plans: Mapping[str, Itinerary], but: str, without: Collection[tuple[str, Spot]] = ()
) -> Spans:
    """When each thing is full with what the other members' weeks hold, and what is taken from outside.

    ``without`` these members' sessions.
    """
    held: Spans = defaultdict(list)
    others = {member: plan for member, plan in plans.items() if member != but}
    for (key, day, begins, ends), _ in things_held(party, others, without):
        held[key, day].append((begins, ends))
    for where, spans in _outside(party).items():
        held[where] = [*held[where], *spans]
    return {(key, day): full for (key, day), spans in held.items() if (full := _full(spans, party.most(key)))}


def _full(spans: Iterable[tuple[int, int]], most: int) -> list[tuple[int, int]]:
    """The times at which as many of the spans hold as can at most."""
    known = list(spans)
    moments = sorted({moment for span in known for moment in span})
    return [(since, until) for since, until in pairwise(moments) if _at(since, known) >= most]
