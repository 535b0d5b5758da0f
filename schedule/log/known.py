"""As of which evening something is told as it was known. Pure."""

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class KnownOn:
    """What was known by the end of a day, at `moment` (UTC)."""

    day: dt.date
    moment: dt.datetime


def known_on(day: dt.date, zone: str) -> KnownOn:
    """The end of a day where the district is."""
    midnight = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), ZoneInfo(zone))
    return KnownOn(day, midnight.astimezone(dt.UTC))
