"""Who was covered proposes no trips for those days; whoever drove in their place can claim."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Substitution
from schedule.calendar.models import CalendarEntry
from schedule.trips import services
from schedule.trips.data import MonthView
from schedule.trips.selectors.month import month_view
from schedule.trips.selectors.vouchers import voucher_view
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date
from tests.schedule.trips.test_mileage_vouchers import NORTH, NOW, SEPTEMBER, SOUTH, TODAY, driven, ends, view
from travel.drives.models import DriveLog
from travel.mileage.chart import MilesSource
from travel.mileage.models import Trip, Voucher
from travel.mileage.selectors import mileage_teachers

__all__ = ["driven"]
MONDAY, WEDNESDAY = date(0), date(2)


@pytest.fixture
def covered(driven: Cast) -> Cast:
    """The substitute stands in on Monday and Tuesday; on Wednesday the teacher is back."""
    Substitution.objects.create(
        teacher=driven.teacher, substitute=driven.substitute, first_date=MONDAY, last_date=date(1)
    )
    return driven


def substitutes(cast: Cast) -> MonthView:
    return month_view(cast.substitute, cast.substitute, SEPTEMBER)


def confirm(cast: Cast) -> None:
    keys = [one.key for one in substitutes(cast).trips]
    services.trip_confirm(actor=cast.substitute, teacher=cast.substitute, keys=keys, today=TODAY)


def test_each_has_the_trips_of_the_days_on_which_they_drove(covered: Cast) -> None:
    own, others = view(covered), substitutes(covered)
    assert ends(own.trips) == [(WEDNESDAY, NORTH, SOUTH)]
    assert ends(others.trips) == [(MONDAY, NORTH, SOUTH)]
    assert {day.date: day.covered for day in own.days} == {
        MONDAY: f"covered by {covered.substitute}", WEDNESDAY: "",
    }  # fmt: skip
    assert {day.date: day.covered for day in others.days} == {MONDAY: f"in place of {covered.teacher}"}
    assert not Trip.objects.exists()


def test_no_substitute_has_anything_of_other_weeks(driven: Cast) -> None:
    """Nobody stands in for anybody: a substitute's month is empty, and the teacher's whole."""
    assert substitutes(driven).days == ()
    assert len(view(driven).trips) == 2


def test_the_miles_are_the_districts_not_the_covered_teachers_own(covered: Cast) -> None:
    """What the teacher entered for herself (12.4) is no chart for somebody else: theirs is the estimate."""
    [trip] = substitutes(covered).trips
    assert trip.direct_source == MilesSource.ESTIMATE
    assert trip.direct_miles is not None
    assert trip.direct_miles < Decimal("12.4")


def test_a_substitute_claims_like_a_teacher(covered: Cast) -> None:
    confirm(covered)
    row = services.voucher_submit(
        actor=covered.substitute, teacher=covered.substitute, month=SEPTEMBER, today=TODAY, now=NOW
    )
    shown = voucher_view(row)
    assert (shown.teacher, len(shown.entries)) == (str(covered.substitute), 1)
    services.voucher_approve(actor=covered.coordinator, voucher=row, now=NOW)
    assert Voucher.objects.get().status == "approved"
    assert covered.substitute in mileage_teachers(covered.coordinator)
    for person in (covered.teacher, covered.mate, covered.stranger):
        assert not Voucher.objects.visible_to(person).exists()
        with pytest.raises(ApplicationError):
            services.trip_drop(actor=person, teacher=covered.substitute, key=shown.entries[0].key, today=TODAY)


def test_a_drive_that_the_covered_teacher_logged_is_a_trip_all_the_same(covered: Cast) -> None:
    """She came in for an hour on Monday and read her odometer."""
    DriveLog.objects.create(
        district=covered.district, teacher=covered.teacher, date=MONDAY, origin=covered.north,
        destination=covered.south, odometer_before=Decimal("100.0"), odometer_after=Decimal("112.0"),
    )  # fmt: skip
    assert ends(view(covered).trips) == [(MONDAY, NORTH, SOUTH), (WEDNESDAY, NORTH, SOUTH)]


def test_a_school_that_closed_is_not_driven_to_by_the_substitute_either(covered: Cast) -> None:
    CalendarEntry.objects.create(district=covered.district, first_date=MONDAY, last_date=MONDAY, kind="closed")
    assert substitutes(covered).trips == ()


def test_pages_and_api_of_a_substitute(covered: Cast) -> None:
    client = Client()
    client.force_login(covered.substitute)
    page = client.get(f"{reverse('mileage')}?month=2026-09").content.decode()
    assert f"In place of {covered.teacher}" in page
    assert reverse("road_map") not in page
    [trip] = Api(covered.substitute).get("mileage-months/2026-09/")["days"][0]["trips"]
    Api(covered.substitute).post("mileage-months/2026-09/confirm/", expect=200, keys=[trip["key"]])
    assert client.post(reverse("voucher_submit", args=["2026-09"])).status_code == 302
    home = client.get(reverse("teacher_home", args=[covered.substitute.pk]))
    assert home.status_code == 200
    assert client.get(reverse("teacher_home", args=[covered.teacher.pk])).status_code == 404


def test_a_teacher_who_left_keeps_month_and_vouchers_for_the_coordinator(driven: Cast) -> None:
    """Deactivated, and still there to be looked at; a substitute who never stood in isn't in the way."""
    services.trip_confirm(
        actor=driven.teacher, teacher=driven.teacher, keys=[view(driven).trips[0].key], today=TODAY
    )
    driven.teacher.is_active = False
    driven.teacher.save()
    found = mileage_teachers(driven.coordinator)
    assert driven.teacher in found
    assert driven.substitute not in found
    assert not mileage_teachers(driven.teacher).exists()
