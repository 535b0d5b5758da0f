"""One wish of a rotation: a rule as it holds for one student, two, or a station. Wishes are what clash."""

from dataclasses import dataclass

from schedule.stations.rotation.asked import RotationRule


@dataclass(frozen=True, slots=True, order=True)
class Wish:
    """A rule with whom it is about: students' keys, and the station where it is about one."""

    rule: RotationRule
    students: tuple[int, ...] = ()
    station: int = -1
