"""Bells that a special day of the calendar is about."""

import pytest
from django.test import Client

from schedule.calendar.models import BellSchedule, CalendarEntry
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from travel.places.models import Building

pytestmark = pytest.mark.django_db


@pytest.fixture
def special_day(cast: Cast) -> CalendarEntry:
    """A day on which another bell schedule rings, which is what the day is about."""
    bells = BellSchedule.objects.create(building=cast.north, name="Field day", kind="other")
    return CalendarEntry.objects.create(
        district=cast.district,
        building=cast.north,
        first_date=MONDAY,
        last_date=MONDAY,
        kind=CalendarEntry.Kind.OTHER_BELL,
        bell_schedule=bells,
    )


def test_bells_that_a_day_is_about_stay(cast: Cast, special_day: CalendarEntry) -> None:
    """Page and API say what needs them."""
    bells = special_day.bell_schedule
    assert bells is not None
    client = Client()
    client.force_login(cast.teacher)
    assert "calendar entries" in client.get(f"/bells/{bells.pk}/delete/").content.decode()
    answer = client.post(f"/bells/{bells.pk}/delete/", follow=True)
    assert "still used by calendar entries" in answer.content.decode()
    error = Api(cast.teacher).delete(f"bell-schedules/{bells.pk}/", expect=409)
    assert error["code"] == "still_used"
    assert BellSchedule.objects.filter(pk=bells.pk).exists()


def test_a_day_of_another_kind_lets_its_bells_go(cast: Cast, special_day: CalendarEntry) -> None:
    """It falls back to the building's own."""
    CalendarEntry.objects.update(kind=CalendarEntry.Kind.EARLY_DISMISSAL)
    Api(cast.teacher).delete(f"bell-schedules/{special_day.bell_schedule_id}/")
    special_day.refresh_from_db()
    assert special_day.bell_schedule is None


def test_a_building_takes_its_days_and_bells_along(cast: Cast) -> None:
    """Nothing of it is left that could need them."""
    building = Building.objects.create(district=cast.district, code="OLD", name="Old Mill School")
    bells = BellSchedule.objects.create(building=building, name="Field day", kind="other")
    CalendarEntry.objects.create(
        district=cast.district,
        building=building,
        first_date=MONDAY,
        last_date=MONDAY,
        kind=CalendarEntry.Kind.OTHER_BELL,
        bell_schedule=bells,
    )
    Api(cast.teacher).delete(f"buildings/{building.pk}/")
    assert not CalendarEntry.objects.exists()
