"""How likely each drive of a week arrives on time, and which one is the tightest. Pure."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from travel.drives.learning import Prediction


@dataclass(frozen=True, slots=True)
class PlannedDrive:
    """A drive as it is planned: minutes after local midnight when the car leaves, and when it must be parked at the
    latest (minutes to sign in and unload taken off)."""

    date: dt.date
    origin_id: int
    destination_id: int
    leave: int
    due: int

    @property
    def allowed(self) -> int:
        """Minutes at the wheel that the plan leaves."""
        return self.due - self.leave


@dataclass(frozen=True, slots=True)
class Arrival:
    """A planned drive with its prediction and the chance, from 0 to 1, of arriving on time."""

    drive: PlannedDrive
    prediction: Prediction
    chance: float

    @property
    def slack(self) -> float:
        """Minutes left over if the drive takes its middle time; negative if even that is too long."""
        return self.drive.allowed - self.prediction.middle


def arrival_of(drive: PlannedDrive, prediction: Prediction) -> Arrival:
    """A drive's chance."""
    return Arrival(drive, prediction, prediction.chance_within(drive.allowed))


def tightest(arrivals: Iterable[Arrival]) -> Arrival | None:
    """The drive with the smallest chance of arriving on time, the first of equals; None if nothing is driven."""
    return min(arrivals, key=lambda one: (one.chance, one.slack, one.drive.date, one.drive.leave), default=None)
