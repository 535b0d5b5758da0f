"""A small district with six weeks ahead whose gym can be lost; run on the server's database.

Its command: `shell -c "from tests.browser.term_change import make_district; make_district()"`. Invented names only.
"""

import datetime as dt

from accounts.models import Person
from caseload.plans.models import Plan, ServiceLine, StudentHold
from schedule.calendar.models import SchoolYear, SpaceFreeTime
from schedule.imports.services.demo import PASSWORD
from tests.conftest import date_there, make_cast
from tests.schedule.builders import at, make_ground, make_line
from travel.places.models import Space

WEEKS = 6
GYM_UNTIL = 2
"""Weeks of these that still have the gym."""


def next_monday() -> dt.date:
    """The first Monday after today, in the district's dates."""
    today = date_there()
    return today + dt.timedelta(days=7 - today.weekday())


def last_day_of_gym() -> dt.date:
    """The Sunday before the gym is gone."""
    return next_monday() + dt.timedelta(days=7 * GYM_UNTIL - 1)


def make_district() -> None:
    """S01 twice a week in the north, F1 in the south; the north's small room is free on Thursdays and Fridays.

    Until the gym's last day S01 can be taken from Monday to Wednesday only, so that it stands in the gym then.
    """
    cast = make_cast()
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    first, last = next_monday() - dt.timedelta(days=60), next_monday() + dt.timedelta(days=200)
    SchoolYear.objects.update(first_day=first, last_day=last)
    Plan.objects.update(start=first, end=last)
    ServiceLine.objects.update(start=first, end=last)
    room = Space.objects.create(building=cast.north, name="Small room", kind="multipurpose")
    SpaceFreeTime.objects.create(space=room, days="Thu,Fri", start=at("8:00"), end=at("15:00"))
    StudentHold.objects.create(
        student=cast.student, days="Thu,Fri", start=at("8:00"), end=at("15:00"), last_day=last_day_of_gym()
    )
    for person in (cast.teacher, cast.coordinator):
        person.set_password(PASSWORD)
        person.save()
    assert Person.objects.filter(username="teacher").count() == 1
