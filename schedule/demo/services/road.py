"""Drives and trips behind the demo: what was driven, and the vouchers of the months that are over."""

import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from accounts.models import Person
from schedule.demo.happened import chance
from schedule.trips.selectors.month import month_questions, month_trips
from schedule.trips.selectors.vouchers import month_end, month_vouchers
from schedule.trips.services.steps import voucher_approve, voucher_pay
from schedule.trips.services.trips import trip_confirm
from schedule.trips.services.vouchers import voucher_submit
from schedule.weeks.models import DayItem, WeekPlan
from travel.drives.models import DriveLog
from travel.drives.services import drive_log_save

AS_USUAL = "As the week had it."
NOON = dt.time(12)


def past_drives_log(teacher: Person, first: dt.date, last: dt.date) -> int:
    """Each drive of the weeks in force from a first to a last date, as long as it took; how many.

    None took longer than planned: what is learned from them makes no later week impossible.
    """
    rows = DayItem.objects.filter(
        week__teacher=teacher,
        week__status=WeekPlan.Status.PUBLISHED,
        kind=DayItem.Kind.DRIVE,
        date__range=(first, last),
        origin__isnull=False,
    )
    drives = list(rows.select_related("origin__district", "building__district").order_by("date", "start"))
    for one in drives:
        begun = dt.datetime.combine(one.date, one.start, tzinfo=ZoneInfo(one.origin.zone))  # type: ignore[union-attr]  # filtered above
        started = begun + dt.timedelta(minutes=3)
        took = max(2, one.drive_minutes - chance(f"{one.date} {one.start}", 3))
        values = {
            "origin": one.origin,
            "destination": one.building,
            "started_at": started,
            "arrived_at": started + dt.timedelta(minutes=took),
        }
        drive_log_save(actor=teacher, row=DriveLog(), values=values)
    return len(drives)


def past_trips_confirm(teacher: Person, month: dt.date, today: dt.date) -> int:
    """The month's trips up to a date were driven as planned; how many."""
    keys = [one.key for one in month_trips(teacher, month).undecided if one.date <= today]
    return len(trip_confirm(actor=teacher, teacher=teacher, keys=keys, today=today))


def past_vouchers_submit(teacher: Person, coordinator: Person, months: Iterable[dt.date]) -> None:
    """Submit the voucher of each month; all but the last are approved and paid."""
    over = list(months)
    for month in over:
        found = month_trips(teacher, month)
        asked = month_questions(teacher, month, found, month_vouchers(teacher, month))
        day = month_end(month) + dt.timedelta(days=2)
        now = dt.datetime.combine(day, NOON, tzinfo=dt.UTC)
        voucher = voucher_submit(
            actor=teacher,
            teacher=teacher,
            month=month,
            today=day,
            now=now,
            answers={one.key: AS_USUAL for one in asked},
        )
        if month != over[-1]:
            voucher_approve(actor=coordinator, voucher=voucher, now=now + dt.timedelta(days=3))
            voucher_pay(actor=coordinator, voucher=voucher, now=now + dt.timedelta(days=9))
