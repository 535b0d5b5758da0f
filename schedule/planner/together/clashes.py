"""Where weeks that were planned apart meet: a thing that more sessions have at a minute than can."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from schedule.planner.problem import Session, Start
from schedule.planner.result import Itinerary
from schedule.planner.together.shared import Member, Party

type Spans = dict[tuple[str, str], list[tuple[int, int]]]


@dataclass(frozen=True, slots=True)
class SharedClash:
    """More of these members have a thing at a minute of a day than can."""

    key: str
    day: str
    minute: int
    members: tuple[str, ...]


def things_held(member: Member, plan: Itinerary) -> Iterator[tuple[str, str, int, int]]:
    """Each thing that a week has: key, day, from, until."""
    for one in plan.sessions:
        yield from member.held(one.unit, _start(one))


def _start(one: Session) -> Start:
    return Start(one.day, one.at, one.place, one.space, None, one.minutes)


def shared_clashes(party: Party, plans: Mapping[str, Itinerary]) -> list[SharedClash]:
    """The first minute of each time at which too many have a thing, by day and minute."""
    held: dict[tuple[str, str], list[tuple[int, int, str]]] = defaultdict(list)
    for member in party.members:
        for key, day, begins, ends in things_held(member, plans[member.id]):
            held[key, day].append((begins, ends, member.id))
    outside = _outside(party)
    found = [
        SharedClash(key, day, minute, who)
        for (key, day), spans in held.items()
        for minute, who in _over(spans, outside.get((key, day), []), party.most(key))
    ]
    return sorted(found, key=lambda one: (one.day, one.minute, one.key))


def _over(
    spans: list[tuple[int, int, str]], outside: list[tuple[int, int]], most: int
) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Minutes at which a session, or somebody outside, begins to be one too many, and who has the thing then."""
    for minute in sorted({begins for begins, *_ in spans} | {begins for begins, _ in outside}):
        who = tuple(sorted({member for begins, ends, member in spans if begins <= minute < ends}))
        if who and len(who) + sum(begins <= minute < ends for begins, ends in outside) > most:
            yield minute, who


def _outside(party: Party) -> Spans:
    found: Spans = defaultdict(list)
    for one in party.taken:
        found[one.space, one.day].append((one.start, one.end))
    return found


def full_times(party: Party, plans: Mapping[str, Itinerary], but: str) -> Spans:
    """When each thing is full with what the other members' weeks hold, and what is taken from outside."""
    held: Spans = defaultdict(list)
    for member in party.members:
        if member.id != but and member.id in plans:
            for key, day, begins, ends in things_held(member, plans[member.id]):
                held[key, day].append((begins, ends))
    for where, spans in _outside(party).items():
        held[where] = [*held[where], *spans]
    return {(key, day): full for (key, day), spans in held.items() if (full := _full(spans, party.most(key)))}


def _full(spans: Iterable[tuple[int, int]], most: int) -> list[tuple[int, int]]:
    """The times at which as many of the spans hold as can at most."""
    known = list(spans)
    moments = sorted({moment for span in known for moment in span})
    return [
        (since, until)
        for since, until in pairwise(moments)
        if sum(begins <= since < ends for begins, ends in known) >= most
    ]
