"""Questions whose SQL is written once answer as the querysets that they are made of."""

import datetime as dt
from decimal import Decimal
from uuid import UUID

import pytest
from django.db import connection
from django.db.models import F, Model, QuerySet
from django.test.utils import CaptureQueriesContext

from accounts.models.sql_once import MOST, SqlOnce
from caseload.delivery.models import DeliveryEntry
from caseload.plans.models import Student
from tests.conftest import Cast
from tests.travel.drives.test_drive_table import enter_minutes
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
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


def test_a_number_that_is_not_given_is_refused(cast: Cast) -> None:
    """It could be whose rows were asked for when the SQL was written, and stay in it for everyone after."""
    mine = cast.teacher.pk
    ask = SqlOnce(lambda district: OwnDriveTime.objects.filter(district=district, teacher=mine))
    with pytest.raises(ValueError, match="isn't given"):
        ask(cast.district.pk)


def test_a_date_that_is_not_given_is_refused(cast: Cast) -> None:
    day = dt.date(2026, 11, 3)
    ask = SqlOnce(lambda district: DriveLog.objects.filter(district=district, date=day))
    with pytest.raises(ValueError, match="isn't given"):
        ask(cast.district.pk)


def test_what_a_viewer_sees_is_refused(cast: Cast) -> None:
    """Whatever hangs on who asks names that person."""
    ask = SqlOnce(lambda student: Student.objects.visible_to(cast.teacher).filter(pk=student))
    with pytest.raises(ValueError, match="isn't given"):
        ask(cast.student.pk)


def test_a_value_that_the_question_changes_or_leaves_out_is_refused(cast: Cast) -> None:
    """It would stay in the SQL as it was written, whatever is given after."""
    day, one = dt.date(2026, 11, 3), dt.timedelta(days=1)
    following = SqlOnce(
        lambda first, last: DriveLog.objects.filter(date__range=(first, last), date__lt=first + one)
    )
    with pytest.raises(ValueError, match="isn't given"):
        following(day, day)
    inside = SqlOnce(lambda words: Student.objects.filter(code__contains=words))
    with pytest.raises(ValueError, match="isn't given"):
        inside("S0")
    first_ones = SqlOnce(lambda district, most: Student.objects.filter(district=district)[:most])
    with pytest.raises(ValueError, match="doesn't name a value"):
        first_ones(cast.district.pk, 1)


def test_values_stand_where_the_sql_names_them_in_any_order(cast: Cast) -> None:
    mine = enter_minutes(cast.teacher, cast.north, cast.south, 12)
    ask = SqlOnce(lambda district, row: OwnDriveTime.objects.filter(pk=row).filter(district=district))
    assert ask(cast.district.pk, mine.pk) == [mine]


@pytest.mark.parametrize("count", [0, 1, 3, 5, MOST + 1])
def test_several_values_are_asked_about_at_once(cast: Cast, count: int) -> None:
    """As many as a power of two stand in the SQL, and beyond `MOST` Django writes it."""
    mine = enter_minutes(cast.teacher, cast.north, cast.south, 12)
    theirs = enter_minutes(cast.mate, cast.south, cast.north, 15)
    ask = SqlOnce(lambda rows: OwnDriveTime.objects.filter(pk__in=rows).order_by("pk"))
    asked = [mine.pk, theirs.pk, *range(theirs.pk + 1, theirs.pk + 1 + MOST)][:count]
    assert ask(asked) == [mine, theirs][:count]
    assert ask(frozenset(asked)) == [mine, theirs][:count]


def test_dates_words_moments_and_uuids_are_taken_as_django_takes_them(cast: Cast) -> None:
    began = dt.datetime(2026, 11, 3, 14, 5, tzinfo=dt.UTC)
    ends = {"origin": cast.north, "destination": cast.south, "district": cast.district, "teacher": cast.teacher}
    log = DriveLog.objects.create(
        **ends, date=began.date(), started_at=began, arrived_at=began + dt.timedelta(minutes=14)
    )
    by_day = SqlOnce(lambda day: DriveLog.objects.filter(date=day))
    assert by_day(began.date()) == [log]
    assert by_day(began.date() + dt.timedelta(days=1)) == []
    by_moment = SqlOnce(lambda moment: DriveLog.objects.filter(started_at__lte=moment))
    assert by_moment(began) == [log]
    assert by_moment(began - dt.timedelta(seconds=1)) == []
    by_code = SqlOnce(lambda code: Student.objects.filter(code=code))
    assert by_code(cast.student.code) == [cast.student]
    assert by_code(cast.student.code + "x") == []
    entry = DeliveryEntry.objects.create(
        student=cast.student,
        service_line=cast.line,
        provider=cast.teacher,
        session_uid=UUID(int=7),
        client_id=UUID(int=1),
        date=began.date(),
        planned_minutes=30,
    )
    by_session = SqlOnce(lambda uids: DeliveryEntry.objects.filter(session_uid__in=uids))
    assert by_session([UUID(int=7), UUID(int=8), UUID(int=9)]) == [entry]
    assert by_session([UUID(int=8)]) == []


def test_rows_come_with_what_is_joined_and_with_what_is_read_beside(cast: Cast) -> None:
    """`select_related`, through a key that is empty too, annotations, `prefetch_related`, `values_list`."""
    asked = Student.objects.select_related("building__district", "home_class").annotate(at=F("building__name"))
    ask = SqlOnce(lambda student: asked.filter(pk=student).prefetch_related("plans"))
    [found] = ask(cast.student.pk)
    with CaptureQueriesContext(connection) as more:
        assert (found.building, found.building.district, found.home_class) == (cast.north, cast.district, None)
        assert (vars(found)["at"], list(found.plans.all())) == (cast.north.name, [cast.plan])
    assert not more
    named = SqlOnce(lambda pk: Student.objects.filter(pk=pk).values_list("code", "building__name"))
    assert named(cast.student.pk) == [(cast.student.code, cast.north.name)]
    codes = SqlOnce(lambda pk: Student.objects.filter(pk=pk).values_list("code", flat=True))
    assert codes(cast.student.pk) == [cast.student.code]


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
