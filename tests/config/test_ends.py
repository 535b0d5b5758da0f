"""What ends takes nothing of the past away: a school that closes, a teacher and a student who leave.

Every page that the coordinator could open before opens after, with whatever it names.
"""

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from accounts.people.services import person_active_set
from caseload.plans.services import student_save
from tests.config.permission_table import PAGES, Row
from tests.config.things import Things, make_things
from travel.places.services import building_save

pytestmark = pytest.mark.usefixtures("no_record_of_templates")
# Whoever can't sign in has no subscription and no packet anymore: the address is a key, and the key is taken back.
SIGNED_IN_ONLY = {"feed_ics", "packet_open"}


def _teacher_leaves(things: Things) -> None:
    cast = things.cast
    person_active_set(actor=cast.coordinator, row=cast.teacher, active=False)
    assert cast.teacher.last_day is not None


def _school_closes(things: Things) -> None:
    cast = things.cast
    building_save(actor=cast.coordinator, row=cast.north, values={"last_day": dt.date(2026, 9, 15)})


def _student_leaves(things: Things) -> None:
    cast = things.cast
    student_save(actor=cast.coordinator, row=cast.student, values={"last_day": dt.date(2026, 9, 30)})


def _addresses(things: Things) -> dict[str, str]:
    """Every page that a coordinator opens, also those that choose a teacher, with that teacher."""
    found = {}
    for name, row in PAGES.items():
        if "C" in (row.get or ""):
            path = _path(name, row, things)
            found[name] = path
            if not row.at:
                found[f"{name} of the teacher"] = f"{path}?teacher={things.cast.teacher.pk}"
    return found


def _path(name: str, row: Row, things: Things) -> str:
    return reverse(name, kwargs={part: things.value(thing) for part, thing in row.at.items()})


def _statuses(things: Things) -> dict[str, int]:
    client = Client()
    client.force_login(things.cast.coordinator)
    found = {}
    for name, path in _addresses(things).items():
        if not name.startswith(tuple(SIGNED_IN_ONLY)):
            found[name] = client.get(path).status_code
    return found


@pytest.mark.django_db
@pytest.mark.parametrize("end", [_teacher_leaves, _school_closes, _student_leaves])
def test_every_page_that_opened_before_opens_after(end: Callable[[Things], None]) -> None:
    things = make_things()
    before = _statuses(things)
    assert sum(status == 200 for status in before.values()) > 60
    end(things)
    after = _statuses(things)
    gone = {name: (status, after[name]) for name, status in before.items() if after[name] != status}
    assert gone == {}
