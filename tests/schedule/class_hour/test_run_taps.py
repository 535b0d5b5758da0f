"""Taps on the clock of a running session: each once, in order, for whoever sees the session."""

import datetime as dt
import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from schedule.class_hour.models import RunTap
from schedule.class_hour.services import run_tap
from tests.api import Api
from tests.schedule.class_hour.conftest import Lesson

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 9, 14, 12, 40, tzinfo=dt.UTC)


def tap(lesson: Lesson, minute: int, kind: str = "on", **values: Any) -> RunTap:
    """The teacher's, some minutes after twenty to nine."""
    values = {
        "actor": lesson.cast.teacher,
        "client_id": uuid.uuid4(),
        "at": NOW + dt.timedelta(minutes=minute),
        **values,
    }
    later = NOW + dt.timedelta(hours=2)
    return run_tap(
        teacher=lesson.cast.teacher, date=lesson.day, uid=lesson.session.uid, kind=kind, now=later, **values
    )


def path(lesson: Lesson) -> str:
    """Where they are."""
    return f"class-hours/{lesson.day}/{lesson.session.uid}/taps/"


def test_taps_of_two_phones_stand_in_the_order_of_their_moments(lesson: Lesson) -> None:
    """However late each was sent."""
    tap(lesson, 9, "longer", part=2)
    tap(lesson, 5, "on", part=1)
    tap(lesson, 10, "back")
    found = Api(lesson.cast.teacher).get(path(lesson))
    assert [(one["kind"], one["part"]) for one in found] == [("on", 1), ("longer", 2), ("back", 0)]


def test_a_tap_sent_twice_is_one(lesson: Lesson) -> None:
    key = uuid.uuid4()
    assert tap(lesson, 5, client_id=key) == tap(lesson, 5, client_id=key)
    assert RunTap.objects.count() == 1
    with pytest.raises(ApplicationError) as error:
        tap(lesson, 5, actor=lesson.cast.coordinator, client_id=key)
    assert error.value.status == 404


def test_what_is_no_tap(lesson: Lesson) -> None:
    """An unknown kind, a time in the future, another day, a session that one doesn't see."""
    for minute, kind in ((1, "jump"), (600, "on")):
        with pytest.raises(ValidationError):
            tap(lesson, minute, kind)
    for actor in (lesson.cast.mate, lesson.cast.stranger, lesson.cast.office):
        with pytest.raises(ApplicationError) as error:
            tap(lesson, 1, actor=actor)
        assert error.value.status in {403, 404}
    assert not RunTap.objects.exists()


def test_the_same_by_a_program_and_what_the_page_holds(lesson: Lesson) -> None:
    """The answer to a tap has all of them, so that a phone knows at once what another one did."""
    api = Api(lesson.cast.teacher)
    tap(lesson, 5, "on", part=1)
    key = str(uuid.uuid4())
    told = api.post(path(lesson), expect=200, client_id=key, kind="longer", part=3)
    assert [one["kind"] for one in told] == ["on", "longer"]
    assert api.post(path(lesson), expect=400, client_id=key, kind="jump")["fields"].keys() == {"kind"}
    Api(lesson.cast.stranger).get(path(lesson), expect=404)
    page = api.client.get(f"/class-hour/{lesson.day}/{lesson.session.uid}/run/").content.decode()
    assert key in page
