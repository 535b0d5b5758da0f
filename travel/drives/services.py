"""Writes about drives: what was driven, a teacher's own minutes, how the rush counts, what a district chose.

Each raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
"""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import audit_write, permission_require, record_change, record_remove
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.places.models import Building
from travel.roads.models import TravelChoices
from travel.roads.prepare import Prepared

SHARED = "district.change"
OWN = "week.change"
LOG = "drive.log"
TILES = ("tile_url", "tile_attribution")


def drive_start(
    *,
    actor: Person,
    origin: Building,
    destination: Building,
    at: dt.datetime,
    odometer: Decimal | None = None,
    planned_drive: str = "",
) -> DriveLog:
    """The teacher leaves a parking lot at `at` (aware); the odometer (miles) need not be read.

    `planned_drive` is what the day calls the drive that was tapped. A tap that a telephone sends twice makes one
    drive.
    """
    tapped = {"origin": origin, "destination": destination, "started_at": at, "planned_drive": planned_drive}
    known = DriveLog.objects.filter(teacher=actor, **tapped).first()
    if known is not None:
        return known
    return drive_log_save(actor=actor, row=DriveLog(), values={**tapped, "odometer_before": odometer})


def drive_arrive(*, actor: Person, row: DriveLog, at: dt.datetime, odometer: Decimal | None = None) -> DriveLog:
    """The teacher is in the other parking lot at `at` (aware); the odometer (miles) need not be read.

    Raises `ApplicationError` (code ``already_arrived``) if the drive ended at another time before.
    """
    if row.arrived_at is not None and row.arrived_at != at:
        raise ApplicationError(
            "This drive has ended already. If the time is wrong, correct it in the list of drives.",
            code="already_arrived",
        )
    values: dict[str, Any] = {"arrived_at": at}
    if odometer is not None:
        values["odometer_after"] = odometer
    return drive_log_save(actor=actor, row=row, values=values)


def drive_log_save(*, actor: Person, row: DriveLog, values: Mapping[str, Any]) -> DriveLog:
    """Save a drive by hand, or correct one; `teacher` is the actor where none is given.

    The date follows from the time that the drive started, local to the building left, where there is one.
    """
    if getattr(row, "teacher_id", None) is None and "teacher" not in values:
        row.teacher = actor
    wanted = dict(values)
    started = wanted.get("started_at", row.started_at)
    origin = wanted.get("origin") or (row.origin if getattr(row, "origin_id", None) is not None else None)
    if started is not None and origin is not None:
        wanted["date"] = started.astimezone(ZoneInfo(origin.zone)).date()
    return record_change(actor=actor, row=row, values=wanted, action="drive_log_save", permission=LOG)


def drive_log_delete(*, actor: Person, row: DriveLog) -> None:
    """Delete a logged drive: nothing is learned from it anymore; trips of submitted vouchers stay."""
    record_remove(actor=actor, row=row, action="drive_log_delete", permission=LOG)


def drive_factor_save(*, actor: Person, row: DriveFactor, values: Mapping[str, Any]) -> DriveFactor:
    """Save how much longer drives take in a window of the clock."""
    return record_change(actor=actor, row=row, values=values, action="drive_factor_save", permission=SHARED)


def drive_factor_delete(*, actor: Person, row: DriveFactor) -> None:
    """Delete a factor: drives in its window take as long as at other times."""
    record_remove(actor=actor, row=row, action="drive_factor_delete", permission=SHARED)


def travel_choices_save(*, actor: Person, row: TravelChoices, values: Mapping[str, Any]) -> TravelChoices:
    """Save a district's choices; which roads are prepared is `roads_choose`'s part.

    Where map tiles come from decides whom every browser of the district asks: only a coordinator changes it.
    """
    if any(values.get(name, getattr(row, name)) != getattr(row, name) for name in TILES):
        permission_require(actor, "district.settings")
    return record_change(actor=actor, row=row, values=values, action="travel_choices_save", permission=SHARED)


def roads_choose(*, district: District, prepared: Prepared) -> TravelChoices:
    """A district's drives are found on this extract from now on; for the operator, who isn't a person of it."""
    with transaction.atomic():
        row = TravelChoices.objects.filter(district=district).first() or TravelChoices(district=district)
        before = row.roads_in_use
        row.roads_key, row.roads_name = prepared.key, prepared.extract_name[:120]
        row.use_roads = True
        row.full_clean()
        row.save()
        changes = {"roads_key": [before, row.roads_key]}
        audit_write(actor=None, district=district, action="roads_choose", row=row, changes=changes)
    return row


def roads_turn(*, district: District, use: bool) -> TravelChoices:
    """Use what is prepared for a district or leave it; for the operator. Raises `ApplicationError` where nothing is
    (code ``no_roads``)."""
    row = TravelChoices.objects.filter(district=district).first()
    if row is None or not row.roads_key:
        raise ApplicationError(f"No roads are prepared for {district}.", code="no_roads")
    with transaction.atomic():
        before, row.use_roads = row.use_roads, use
        row.save(update_fields=["use_roads"])
        audit_write(
            actor=None, district=district, action="roads_turn", row=row, changes={"use_roads": [before, use]}
        )
    return row


def own_drive_time_save(*, actor: Person, row: OwnDriveTime, values: Mapping[str, Any]) -> OwnDriveTime:
    """Save a teacher's own minutes between two buildings; `teacher` is the actor where none is given."""
    if getattr(row, "teacher_id", None) is None and "teacher" not in values:
        row.teacher = actor
    return record_change(
        actor=actor,
        row=row,
        values=values,
        action="own_drive_time_save",
        permission=OWN,
        rules=[_way_back_is_not_said_twice],
    )


def own_drive_time_delete(*, actor: Person, row: OwnDriveTime) -> None:
    """Delete a teacher's own minutes: learned, road or estimated minutes count again."""
    record_remove(actor=actor, row=row, action="own_drive_time_delete", permission=OWN)


def _way_back_is_not_said_twice(row: OwnDriveTime, values: Mapping[str, Any]) -> dict[str, str]:
    """Both ways in one row and the way back in another would leave open which counts."""
    del values
    back = OwnDriveTime.objects.filter(teacher=row.teacher, origin=row.destination, destination=row.origin).first()
    if back is None or not (row.both_ways or back.both_ways):
        return {}
    return {
        "both_ways": f"The way back has its own minutes ({back.minutes}). "
        "Turn off “both ways” for both, or delete that one."
    }
