"""The judge of what several teachers share: reads their itineraries minute by minute.

It shares no code with the search: it looks at the written sessions only. Each week is judged by ``check`` as well.
"""

from collections import defaultdict
from collections.abc import Mapping

from schedule.planner.check import Violation, check
from schedule.planner.problem import Session
from schedule.planner.result import Itinerary
from schedule.planner.times import MINUTES_PER_DAY, clock
from schedule.planner.together.shared import Member, Party

SHARED = "shared things"
JOINT = "joint sessions"


type Minutes = dict[tuple[str, str], list[set[str]]]


def judge_together(party: Party, plans: Mapping[str, Itinerary]) -> tuple[Violation, ...]:
    """Every rule that the plans break, by themselves and with one another; nothing where all hold."""
    alone = [one for member in party.members for one in check(member.problem, plans[member.id]).violations]
    use: Minutes = defaultdict(lambda: [set() for _ in range(MINUTES_PER_DAY)])
    for member in party.members:
        _write_down(use, member, plans, party)
    outside: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0] * MINUTES_PER_DAY)
    for one in party.taken:
        for minute in range(one.start, one.end):
            outside[one.space, one.day][minute] += 1
    found = [_first_over(party, where, use[where], outside[where]) for where in sorted(use)]
    return (*alone, *(one for one in found if one is not None), *_not_one(party, plans))


def _not_one(party: Party, plans: Mapping[str, Itinerary]) -> list[Violation]:
    """Joint units of which too few sessions are one."""
    found = []
    for joint in party.joint:
        theirs = _sessions(plans[joint.other], joint.other_unit)
        count = sum(any(_is_one(one, other) for other in theirs) for one in _sessions(plans[joint.one], joint.unit))
        if count < joint.times:
            names = " and ".join(one.name for one in party.members if one.id in {joint.one, joint.other})
            found.append(Violation(JOINT, "", f"{names} hold {count} of {joint.times} sessions as one."))
    return found


def _sessions(plan: Itinerary, unit: str) -> list[Session]:
    return [one for one in plan.sessions if one.unit == unit]


def _is_one(one: Session, other: Session) -> bool:
    same_time = one.day == other.day and one.at == other.at and one.minutes == other.minutes
    return same_time and one.place == other.place and one.space == other.space


def _held_by(member: Member, session: Session, plans: Mapping[str, Itinerary], party: Party) -> str:
    """Whose session it is counted as: of two who hold it as one, the first one's."""
    for joint in party.joint:
        if (member.id, session.unit) == (joint.other, joint.other_unit):
            firsts = _sessions(plans[joint.one], joint.unit)
            if any(_is_one(session, one) for one in firsts):
                return joint.one
    return member.id


def _write_down(use: Minutes, member: Member, plans: Mapping[str, Itinerary], party: Party) -> None:
    """Minute by minute, who is with what."""
    for session in plans[member.id].sessions:
        who = _held_by(member, session, plans, party)
        keys = set(member.things.get(session.unit, ()))
        if session.space is not None and session.unit not in member.roomless:
            keys.add(f"space {session.place} / {session.space}")
        for key in keys:
            for minute in range(session.at, session.at + (session.minutes or 0)):
                use[key, session.day][minute].add(who)


def _first_over(
    party: Party, where: tuple[str, str], minutes: list[set[str]], outside: list[int]
) -> Violation | None:
    """A sentence for the first minute at which too many are with one thing."""
    key, day = where
    for minute, who in enumerate(minutes):
        if who and len(who) + outside[minute] > party.room.get(key, 1):
            names = " and ".join(sorted(one.name for one in party.members if one.id in who))
            return Violation(SHARED, day, f"{party.names.get(key, key)} is with {names} at {clock(minute)}.")
    return None
