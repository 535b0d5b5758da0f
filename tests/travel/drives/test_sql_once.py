"""Questions whose SQL is written once answer as the querysets that they are made of."""

import pytest

from tests.conftest import Cast
from tests.travel.drives.test_drive_table import enter_minutes
from travel.drives.models import DriveFactor, OwnDriveTime
from travel.drives.sql_once import SqlOnce


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
