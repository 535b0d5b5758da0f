"""What a session's stations begin with, before anybody has said anything about today."""

from collections.abc import Iterable
from dataclasses import replace

from accounts.models import Person
from schedule.stations.choices import TEACHER, RotationChoices, choices_read
from schedule.stations.hooks import stations_part
from schedule.stations.models import Station, StationRotation
from schedule.stations.selectors.asking import ClassHour, rotation_before, rotation_now

USUAL_MINUTES = 4
LEAST_MINUTES = 3
USUAL_ROUNDS = 4
MOST_AT_FIRST = 6


def choices_of(row: StationRotation) -> RotationChoices:
    """What was chosen for a version."""
    return choices_read(row.content["choices"])


def choices_to_begin(viewer: Person, hour: ClassHour, stations: Iterable[Station]) -> RotationChoices:
    """This session's version, else the class's last day, else a few stations once, goals' first."""
    listed = list(stations)
    in_use = [one.pk for one in listed]
    now = rotation_now(viewer, hour.uid)
    last = now or rotation_before(viewer, hour)
    if last is None:
        return _in_its_part(viewer, hour, _at_first(hour, listed))
    choices = choices_of(last)
    kept = replace(choices, stations=tuple(key for key in choices.stations if key in in_use))
    if now is not None:
        return kept
    adults = tuple(one for one in choices.adults if one.key >= TEACHER)
    return _in_its_part(viewer, hour, replace(kept, done=0, adults=adults, students=(), asked=()))


def _in_its_part(viewer: Person, hour: ClassHour, choices: RotationChoices) -> RotationChoices:
    """The same when the routine comes to its stations, as many rounds as have their minutes there."""
    part = stations_part(viewer, hour.teacher, hour.date, hour.uid)
    if part is None:
        return choices
    begins, length = max(0, part[0] - (hour.start.hour * 60 + hour.start.minute)), part[1]
    if choices.rounds * choices.minutes <= length:
        return replace(choices, begins=begins)
    rounds = max(1, min(choices.rounds, length // LEAST_MINUTES))
    return replace(choices, begins=begins, rounds=rounds, minutes=max(1, length // rounds))


def _at_first(hour: ClassHour, stations: list[Station]) -> RotationChoices:
    """Those that serve a goal of who is there before the others, as many as are easily set up."""
    there = {one.student_id for one in hour.students}
    serving = [one for one in stations if any(row.goal.student_id in there for row in one.goals.all())]
    first = (serving + [one for one in stations if one not in serving])[:MOST_AT_FIRST]
    rounds = max(1, min(USUAL_ROUNDS, len(first), hour.minutes // USUAL_MINUTES))
    return RotationChoices(tuple(one.pk for one in stations if one in first), rounds, USUAL_MINUTES)
