"""Small districts with six weeks ahead in which something changes; made on the server's database.

Their command: `shell -c "from tests.browser.terms.districts import with_gym; with_gym()"`. Invented names only.
"""

import datetime as dt

from accounts.models import Person
from caseload.care.models import Contact, Support
from caseload.plans.models import Plan, ServiceLine, Student, StudentHold
from schedule.aides.models import AideHours
from schedule.calendar.models import ContractDay, SchoolYear, SpaceFreeTime
from schedule.imports.services.demo import PASSWORD
from tests.conftest import Cast, date_there, make_cast
from tests.schedule.builders import at, make_ground, make_line
from travel.places.models import Space

WEEKS = 6
AS_BEFORE = 2
"""Weeks of these before something changes."""


def next_monday() -> dt.date:
    """The first Monday after today, in the district's dates."""
    today = date_there()
    return today + dt.timedelta(days=7 - today.weekday())


def changes_on() -> dt.date:
    """The Monday on which something changes."""
    return next_monday() + dt.timedelta(days=7 * AS_BEFORE)


def last_day_before() -> dt.date:
    """The Sunday before."""
    return changes_on() - dt.timedelta(days=1)


def with_gym() -> None:
    """S01 twice a week in the north, F1 in the south; the north's small room is free on Thursdays and Fridays.

    Until the gym's last day S01 can be taken from Monday to Wednesday only, so that it stands in the gym then.
    """
    cast = _two_students()
    room = Space.objects.create(building=cast.north, name="Small room", kind="multipurpose")
    SpaceFreeTime.objects.create(space=room, days="Thu,Fri", start=at("8:00"), end=at("15:00"))
    _held_until_then(cast.student, "Thu,Fri", "8:00")


def with_full_mondays() -> None:
    """A teacher of Mondays and Wednesdays: S01 on both in the north, F1 in the south.

    Until something changes S01 can be taken at 8:30 on Mondays and F1 on Wednesdays only. Who comes to the south on
    Mondays at 8:30 then makes S01 leave its time; and with F1 on Mondays, too, nobody drives on Wednesdays.
    """
    cast = _two_students()
    ContractDay.objects.exclude(weekday__in=[0, 2]).delete()
    _held_until_then(cast.student, "Mon", "9:15")
    _held_until_then(Student.objects.get(code="F1"), "Mon", "8:00")


def with_aide() -> None:
    """S01 needs Ms. Orel, who is there in the mornings; F1 in the south needs nobody."""
    cast = _two_students()
    aide = Contact.objects.create(student=cast.student, role=Contact.Role.AIDE, name="Ms. Orel", phone="555 0142")
    first = next_monday() - dt.timedelta(days=60)
    AideHours.objects.create(contact=aide, first_day=first, times="Mon-Fri 8:00 to 11:00")
    Support.objects.create(student=cast.student, kind=Support.Kind.AIDE, text="One aide for transfers")


def _two_students() -> Cast:
    """S01 twice a week in the north, F1 once in the south, half a year from now, and people who can sign in."""
    cast = make_cast()
    make_ground(cast)
    make_line(cast, "F1", building=cast.south)
    first, last = next_monday() - dt.timedelta(days=60), next_monday() + dt.timedelta(days=200)
    SchoolYear.objects.update(first_day=first, last_day=last)
    Plan.objects.update(start=first, end=last)
    ServiceLine.objects.update(start=first, end=last)
    for person in (cast.teacher, cast.coordinator, cast.office):
        person.set_password(PASSWORD)
        person.save()
    assert Person.objects.filter(username="teacher").count() == 1
    return cast


def _held_until_then(student: Student, days: str, start: str) -> None:
    StudentHold.objects.create(
        student=student, days=days, start=at(start), end=at("15:00"), last_day=last_day_before()
    )
