"""Taps on the drives of a day: start, arrive, and a mistaken tap taken back.

Every tap names a drive (`DriveView.key`) of the actor's own day, or of the day of a `teacher` whom the actor
covers, and is safe to send twice: what is so stays. The drive is the actor's, whoever's day it was. The day is read
before the transaction, since drive times may be asked of a server; inside, rows are looked at again.

What a phone sends later says `at`, when it was tapped (aware): the tap is of that moment and its day.

Each raises `ApplicationError` (403 for whoever drives no day, 404 for another's day, code ``no_such_drive`` for a
drive that isn't in the day anymore, code ``other_day`` on another day) or `ValidationError` by field.
"""

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.idempotency.services import moment_get
from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import NOT_THERE, permission_require
from schedule.day.data import DriveView
from schedule.day.selectors.calendar import drives_day
from schedule.day.selectors.legs import DayDrives
from schedule.day.selectors.sheet import day_drives
from schedule.weeks.selectors.pages import district_today
from travel.drives.models import DriveLog
from travel.drives.services import drive_arrive, drive_log_delete, drive_log_save, drive_start
from travel.places.models import Building

TAP = "day.tap"
OTHER_DAY = "Drives are tapped on their day. Enter this one in the list of drives."
NOT_IN_DAY = "This drive isn't in the day anymore: the week or the calendar changed. Look at the day again."
NOT_STARTED = "This drive hasn't begun. Tap the start first, or enter both times in the list of drives."
NOT_THE_LAST = "Another drive has begun since. Enter when this one ended in the list of drives."


def leg_start(
    *,
    actor: Person,
    date: dt.date,
    leg: str,
    odometer: Decimal | None = None,
    at: dt.datetime | None = None,
    now: dt.datetime | None = None,
    teacher: Person | None = None,
) -> DriveLog:
    """The actor leaves; a drive that has begun stays as it is."""
    tapped = moment_get(at, now)
    drives, found = _leg(actor, teacher or actor, date, leg, tapped if at else None)
    with transaction.atomic():
        _one_at_a_time(actor)
        begun = _begun(actor, date, drives, found)
        if begun is not None:
            return begun
        ends = _ends(actor, found)
        return drive_start(
            actor=actor,
            origin=ends[found.origin_id],
            destination=ends[found.destination_id],
            at=tapped,
            odometer=odometer,
            planned_drive=found.key,
        )


def leg_arrive(
    *,
    actor: Person,
    date: dt.date,
    leg: str,
    odometer: Decimal | None = None,
    at: dt.datetime | None = None,
    now: dt.datetime | None = None,
    teacher: Person | None = None,
) -> DriveLog:
    """The actor has arrived; a drive that has ended stays as it is."""
    tapped = moment_get(at, now)
    _, found = _leg(actor, teacher or actor, date, leg, tapped if at else None)
    with transaction.atomic():
        _one_at_a_time(actor)
        row = _log(found)
        if row is None or row.started_at is None:
            raise ApplicationError(NOT_STARTED, code="not_started")
        if row.arrived_at is not None:
            return row
        if not found.may_arrive:
            raise ApplicationError(NOT_THE_LAST, code="not_the_last")
        return drive_arrive(actor=actor, row=row, at=tapped, odometer=odometer)


def leg_undo(
    *,
    actor: Person,
    date: dt.date,
    leg: str,
    tap: str,
    at: dt.datetime | None = None,
    now: dt.datetime | None = None,
    teacher: Person | None = None,
) -> DriveLog | None:
    """Take back a mistaken tap, `tap` being ``start`` or ``arrive``; None where the drive is gone.

    A start of a drive that has ended isn't taken back: its end was tapped after it.
    """
    _, found = _leg(actor, teacher or actor, date, leg, moment_get(at, now) if at else None)
    with transaction.atomic():
        _one_at_a_time(actor)
        row = _log(found)
        if row is None or row.started_at is None:
            return row
        if ("start" if row.arrived_at is None else "arrive") != tap:
            return row
        if tap == "arrive":
            return drive_log_save(actor=actor, row=row, values={"arrived_at": None, "odometer_after": None})
        drive_log_delete(actor=actor, row=row)
        return None


def _leg(
    actor: Person, teacher: Person, date: dt.date, leg: str, at: dt.datetime | None
) -> tuple[DayDrives, DriveView]:
    """A drive of a day that the actor drives: today's, or that of the moment when it was tapped."""
    permission_require(actor, TAP)
    if not drives_day(actor, teacher, date):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    if date != district_today(actor, at):
        raise ApplicationError(OTHER_DAY, code="other_day")
    drives = day_drives(actor, teacher, date)
    found = drives.leg(leg)
    if found is None:
        raise ApplicationError(NOT_IN_DAY, code="no_such_drive")
    return drives, found


def _one_at_a_time(actor: Person) -> None:
    """Two taps at once go one after the other."""
    Person.objects.select_for_update().values_list("pk").get(pk=actor.pk)


def _ends(actor: Person, found: DriveView) -> Mapping[int, Building]:
    """Both buildings of a drive."""
    pks = [found.origin_id, found.destination_id]

    def read() -> Mapping[int, Building]:
        return Building.objects.changeable_by(actor).select_related("district").in_bulk(pks)

    return shared(("ends seen", actor.pk, today_of(actor), *pks), read, at_once=True)


def _begun(actor: Person, date: dt.date, drives: DayDrives, found: DriveView) -> DriveLog | None:
    """The drive's log: the one that the day knows, or one that came since it was read, by the same tap."""
    if found.driven is not None and (row := _log(found)) is not None:
        return row
    ends = {"origin": found.origin_id, "destination": found.destination_id}
    rows = DriveLog.objects.filter(teacher=actor, date=date, planned_drive=found.key, **ends)
    return rows.exclude(pk__in=drives.drive_ids).order_by("-pk").first()


def _log(leg: DriveView) -> DriveLog | None:
    """The row as it stands now."""
    if leg.driven is None:
        return None
    rows = DriveLog.objects.select_related("teacher", "origin__district", "destination__district")
    return rows.filter(pk=leg.driven.drive_id).first()
