"""Questions whose SQL is written once answer as the querysets that they are made of."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db.models import Model, QuerySet

from tests.conftest import Cast
from tests.travel.drives.test_drive_table import enter_minutes
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.drives.sql_once import SqlOnce
from travel.roads.models import TravelChoices


def test_each_is_answered_for_with_the_same_sql(cast: Cast) -> None:
    ask = SqlOnce(lambda district, teacher: OwnDriveTime.objects.filter(district=district, teacher=teacher))
    mine = enter_minutes(cast.teacher, cast.north, cast.south, 12)
    theirs = enter_minutes(cast.mate, cast.south, cast.north, 15)
    assert ask(cast.district.pk, cast.teacher.pk) == [mine]
    assert ask(cast.district.pk, cast.mate.pk) == [theirs]
    mine.delete()
    assert ask(cast.district.pk, cast.teacher.pk) == []


def test_who_has_no_district_has_no_rows(cast: Cast) -> None:
    enter_minutes(cast.teacher, cast.north, cast.south, 12)
    ask = SqlOnce(lambda district: OwnDriveTime.objects.filter(district=district))
    assert ask(None) == []


def test_ids_that_the_sql_names_in_another_order_are_refused(cast: Cast) -> None:
    ask = SqlOnce(lambda district, row: DriveFactor.objects.filter(pk=row).filter(district=district))
    with pytest.raises(ValueError, match="names its ids"):
        ask(cast.district.pk, 1)


def test_values_are_read_as_django_reads_them(cast: Cast) -> None:
    """Decimals, times, dates, moments and flags, which databases keep in ways of their own."""
    began = dt.datetime(2026, 11, 3, 14, 5, tzinfo=dt.UTC)
    enter_minutes(cast.teacher, cast.north, cast.south, 12, miles="3.4", both_ways=False)
    DriveFactor.objects.create(
        district=cast.district, start=dt.time(7, 30), end=dt.time(8, 15), factor=Decimal("1.25"), both_ways=False
    )
    DriveLog.objects.create(
        district=cast.district,
        teacher=cast.teacher,
        origin=cast.north,
        destination=cast.south,
        date=began.date(),
        started_at=began,
        arrived_at=began + dt.timedelta(minutes=14),
    )
    TravelChoices.objects.get_or_create(district=cast.district)
    for asked in (OwnDriveTime, DriveFactor, DriveLog, TravelChoices):
        assert_the_same(asked.objects.filter(district=cast.district).order_by("pk"), cast)


def assert_the_same[Row: Model](wanted: QuerySet[Row], cast: Cast) -> None:
    """Each column of each row, and that the row knows that it is kept already."""
    model = wanted.model
    found = SqlOnce(lambda district: model._default_manager.filter(district=district).order_by("pk"))(
        cast.district.pk
    )
    names = [field.attname for field in model._meta.concrete_fields]
    assert found
    for one, other in zip(found, wanted, strict=True):
        assert [(type(getattr(one, name)), getattr(one, name)) for name in names] == [
            (type(getattr(other, name)), getattr(other, name)) for name in names
        ]
        assert (one._state.adding, one._state.db) == (False, other._state.db)
