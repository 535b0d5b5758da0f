"""What the sendings of one request have in common is read once, and anew as soon as it may have changed."""

import threading
from collections.abc import Callable

import pytest
from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils import timezone

from accounts.idempotency.shared import is_sharing, is_tapped, shared, sharing
from accounts.models import IdempotencyKey, Person
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.plans.models import Student
from caseload.progress.models import DataPoint
from schedule.calendar.models import Happening
from schedule.weeks.models import PlannedSession
from tests.conftest import Cast
from travel.drives.models import DriveLog


class Reads:
    """Counts how often a person's name is read."""

    def __init__(self, person: Person, *, at_once: bool = False) -> None:
        self.person, self.at_once, self.count = person, at_once, 0

    def __call__(self) -> str:
        return shared(("name", self.person.pk), self._read, at_once=self.at_once)

    def _read(self) -> str:
        self.count += 1
        return Person.objects.get(pk=self.person.pk).first_name


def rename(person: Person, name: str) -> None:
    Person.objects.filter(pk=person.pk).update(first_name=name)


@pytest.mark.django_db
def test_nothing_is_kept_outside_of_one_request(cast: Cast) -> None:
    reads = Reads(cast.teacher)
    reads(), reads()
    with sharing():
        assert is_sharing()
        reads(), reads()
    assert (reads.count, is_sharing()) == (3, False)
    with sharing():
        reads()
    assert reads.count == 4


@pytest.mark.django_db
def test_a_tap_leaves_it_and_any_other_write_does_not(cast: Cast) -> None:
    reads = Reads(cast.teacher)
    with sharing():
        reads()
        key = IdempotencyKey.objects.create(
            person=cast.teacher, key="of-a-tap-1", content="", taken_at=timezone.now()
        )
        IdempotencyKey.objects.filter(pk=key.pk).update(status=200)
        key.delete()
        reads()
        assert reads.count == 1
        rename(cast.teacher, "Wystan")
        assert (reads(), reads.count) == ("Wystan", 2)
        Person.objects.create_user(username="another", district=cast.district, role=Person.Role.TEACHER)
        reads()
        assert reads.count == 3


def test_what_taps_write_is_never_shared() -> None:
    """Whose rows these are changes with each of them."""
    assert all(is_tapped(one) for one in (DataPoint, DeliveryEntry, DeliveryVersion, DriveLog, IdempotencyKey))
    assert not any(is_tapped(one) for one in (Person, Student, PlannedSession, Happening))


@pytest.mark.django_db
def test_what_was_taken_back_is_not_believed(cast: Cast) -> None:
    before = cast.teacher.first_name
    reads = Reads(cast.teacher)
    with sharing():
        with transaction.atomic():
            rename(cast.teacher, "Wystan")
            assert reads() == "Wystan"
            transaction.set_rollback(True)
        assert reads() == before


def elsewhere(act: Callable[[], None]) -> None:
    """On a connection of its own."""

    def run() -> None:
        act()
        # SQLite's own leaves a database in memory open.
        BaseDatabaseWrapper.close(connections["default"])

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()


@pytest.mark.django_db(transaction=True)
def test_what_somebody_else_writes_counts_from_the_next_sending_on(cast: Cast) -> None:
    """SQLite says so (https://www.sqlite.org/pragma.html#pragma_data_version); PostgreSQL is asked each time."""
    reads = Reads(cast.teacher, at_once=True)
    with sharing() as common:
        common.look()
        reads()
        elsewhere(lambda: rename(cast.teacher, "Wystan"))
        common.look()
        assert reads() == "Wystan"
