"""What the stations of a day take: for the load list."""

import datetime as dt
import uuid
from collections import Counter

from accounts.models import Person
from schedule.stations.models import StationEquipment, StationRotation


def station_needs(teacher: Person, date: dt.date) -> dict[str, dict[int, int]]:
    """By a session's uid how many of each kind of equipment its stations take together. Two queries."""
    rows = StationRotation.objects.standing().filter(teacher=teacher, date=date).order_by("number")
    used: dict[uuid.UUID, StationRotation] = {row.session_uid: row for row in rows}
    stations = {uid: {one["key"] for one in row.content["stations"]} for uid, row in used.items()}
    needs = StationEquipment.objects.filter(
        station__in=set().union(*stations.values()), equipment__removed_at__isnull=True
    )
    found: dict[str, Counter[int]] = {str(uid): Counter() for uid in stations}
    for need in needs if stations else ():
        for uid, there in stations.items():
            if need.station_id in there:
                found[str(uid)][need.equipment_id] += need.count
    return {uid: dict(counts) for uid, counts in found.items()}
