"""The judge of a rotation: reads who is where and says which rules are broken, for whom and in which round.

It shares no code with the search and works nothing out for it. Every rotation passes it before it is shown or
saved, also one that was changed by hand; what is broken there is said, and the teacher decides.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from schedule.stations.rotation.asked import (
    OLD_DATA,
    Arrangement,
    AskedAdult,
    AskedStation,
    AskedStudent,
    Post,
    RotationAsked,
    RotationFigures,
    RotationRule,
)


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """A rule that a rotation breaks: for which students, at which station, in which round (None: all hour)."""

    rule: RotationRule | None
    students: tuple[int, ...] = ()
    station: int | None = None
    turn: int | None = None

    @property
    def both_wait(self) -> bool:
        """Whether it is that two to be kept apart both wait in a round."""
        return self.rule is RotationRule.APART and self.station is None

    @property
    def is_counted(self) -> bool:
        """Whether the search makes it small and never forbids it, so that there always is a rotation."""
        return self.rule in {RotationRule.GOALS, RotationRule.WAITS} or self.both_wait


def rotation_judge(asked: RotationAsked, made: Arrangement) -> tuple[BrokenRule, ...]:
    """What is broken, rule by rule. Goals that are missed are among it. Never raises for a bad rotation."""
    if set(made.at) != set(asked.cells) or set(made.posts) != {one.key for one in asked.adults}:
        return (BrokenRule(None),)
    broken = [one for rule, judge in JUDGES.items() if rule in asked.rules for one in judge(asked, made)]
    return tuple(broken) + tuple(_agreed(asked, made))


def _agreed(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    """An adult whom the team agreed for one student is that student's only; one who leads a station is there."""
    for adult in asked.adults:
        post = made.posts[adult.key]
        if adult.own_student is not None and post != Post(student=adult.own_student, one_to_one=True):
            yield BrokenRule(RotationRule.ONE_TO_ONE, (adult.own_student,))
        elif adult.leads is not None and post != Post(station=adult.leads):
            yield BrokenRule(RotationRule.STAFF, (), adult.leads)


def _ahead(asked: RotationAsked) -> range:
    return range(asked.done, asked.rounds)


def _students_at(asked: RotationAsked, made: Arrangement, station: int, turn: int) -> list[AskedStudent]:
    return [one for one in asked.students if made.at.get((one.key, turn)) == station]


def _is_at(made: Arrangement, adult: AskedAdult, station: int, turn: int) -> bool:
    """Whether the adult counts for a station in a round: stands there, or goes along with a student there."""
    post = made.posts[adult.key]
    if post.one_to_one:
        return False
    if post.student is not None:
        return made.at.get((post.student, turn)) == station
    return post.station == station


def _adults_at(asked: RotationAsked, made: Arrangement, station: int, turn: int) -> int:
    return len([adult for adult in asked.adults if _is_at(made, adult, station, turn)])


def _has_own(made: Arrangement, student: int) -> bool:
    return any(post.one_to_one and post.student == student for post in made.posts.values())


def _visits(made: Arrangement, student: int, station: int) -> int:
    return len([1 for (who, _), where in made.at.items() if who == student and where == station])


def _missed(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student in asked.students:
        for station in student.wants:
            if not _visits(made, student.key, station):
                yield BrokenRule(RotationRule.GOALS, (student.key,), station)


def _crowded(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for station, turn in _stations_by_turn(asked):
        here = _students_at(asked, made, station.key, turn)
        if len(here) > station.at_a_time:
            yield BrokenRule(RotationRule.AT_A_TIME, tuple(one.key for one in here), station.key, turn)


def _stations_by_turn(asked: RotationAsked) -> Iterator[tuple[AskedStation, int]]:
    for turn in _ahead(asked):
        for station in asked.stations:
            yield station, turn


def _understaffed(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for station, turn in _stations_by_turn(asked):
        here = _students_at(asked, made, station.key, turn)
        if here and _adults_at(asked, made, station.key, turn) < station.staff:
            yield BrokenRule(RotationRule.STAFF, tuple(one.key for one in here), station.key, turn)


def _placed(asked: RotationAsked, made: Arrangement) -> Iterator[tuple[AskedStudent, int, int]]:
    """Students at stations in rounds that aren't over."""
    for student in asked.students:
        for turn in _ahead(asked):
            station = made.at.get((student.key, turn))
            if station is not None:
                yield student, turn, station


def _alone(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student, turn, station in _placed(asked, made):
        if student.one_to_one and not _has_own(made, student.key):
            yield BrokenRule(RotationRule.ONE_TO_ONE, (student.key,), station, turn)


def _nobody_near(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student, turn, station in _placed(asked, made):
        if not student.adult_near or _has_own(made, student.key):
            continue
        if not _adults_at(asked, made, station, turn):
            yield BrokenRule(RotationRule.ADULT_NEAR, (student.key,), station, turn)


def _not_apart(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for pair in sorted(map(sorted, asked.apart)):
        for turn in _ahead(asked):
            cells = [(key, turn) for key in pair]
            if all(cell in made.at for cell in cells) and made.at[cells[0]] == made.at[cells[1]]:
                yield BrokenRule(RotationRule.APART, tuple(pair), made.at[cells[0]], turn)


def _not_together(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for pair in sorted(map(sorted, asked.together)):
        for turn in _ahead(asked):
            cells = [(key, turn) for key in pair]
            if all(cell in made.at for cell in cells) and made.at[cells[0]] != made.at[cells[1]]:
                yield BrokenRule(RotationRule.TOGETHER, tuple(pair), None, turn)


def _cautioned(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student, turn, station in _placed(asked, made):
        if station in student.barred:
            yield BrokenRule(RotationRule.CAUTIONS, (student.key,), station, turn)


def _waiting_long(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student in asked.students:
        if _waited(made, student.key) > asked.waits_at_most:
            yield BrokenRule(RotationRule.WAITS, (student.key,))


def _waited(made: Arrangement, student: int) -> int:
    return len([1 for (who, _), where in made.at.items() if who == student and where is None])


def _again(asked: RotationAsked, made: Arrangement) -> Iterator[BrokenRule]:
    for student in asked.students:
        for station in asked.stations:
            if _visits(made, student.key, station.key) > 1:
                yield BrokenRule(RotationRule.ONCE, (student.key,), station.key)


JUDGES: dict[RotationRule, Callable[[RotationAsked, Arrangement], Iterator[BrokenRule]]] = {
    RotationRule.GOALS: _missed,
    RotationRule.AT_A_TIME: _crowded,
    RotationRule.STAFF: _understaffed,
    RotationRule.ONE_TO_ONE: _alone,
    RotationRule.ADULT_NEAR: _nobody_near,
    RotationRule.APART: _not_apart,
    RotationRule.TOGETHER: _not_together,
    RotationRule.CAUTIONS: _cautioned,
    RotationRule.WAITS: _waiting_long,
    RotationRule.ONCE: _again,
}


# ---- figures ---------------------------------------------------------------------------------------------


def figures_of(asked: RotationAsked, made: Arrangement) -> RotationFigures:
    """What an arrangement gives, read from it line by line."""
    missed = _missed(asked, made) if asked.has(RotationRule.GOALS) else ()
    pairs = tuple((one.students[0], one.station) for one in missed if one.station is not None)
    waited = [_waited(made, one.key) for one in asked.students]
    return RotationFigures(
        beside=_beside(asked, made),
        over=_over(asked, waited),
        missed=pairs,
        weight=sum(asked.student(who).wants[where] for who, where in pairs),
        waits=sum(waited),
        again=sum(count - 1 for count in _counts(made).values()),
        walks=sum(_walked(asked, made, one.key) for one in asked.students),
        late=sum(_late(asked, who, where) * turn for (who, turn), where in made.at.items()),
    )


def _beside(asked: RotationAsked, made: Arrangement) -> int:
    return asked.has(RotationRule.APART) and len([one for one in _not_apart(asked, made) if one.both_wait])


def _over(asked: RotationAsked, waited: Iterable[int]) -> int:
    limit = asked.waits_at_most if asked.has(RotationRule.WAITS) else asked.rounds
    return sum(max(0, rounds - limit) for rounds in waited)


def _late(asked: RotationAsked, who: int, where: int | None) -> bool:
    """Whether a turn there is for a goal with old data."""
    return where is not None and asked.student(who).wants.get(where, 0) >= OLD_DATA


def _counts(made: Arrangement) -> Counter[tuple[int, int]]:
    return Counter((who, where) for (who, _), where in made.at.items() if where is not None)


def _walked(asked: RotationAsked, made: Arrangement, student: int) -> int:
    turns = sorted(turn for who, turn in made.at if who == student)
    following = [(one, other) for one, other in pairwise(turns) if other == one + 1]
    return sum(asked.walk(made.at[student, one], made.at[student, other]) for one, other in following)
