"""The date where a district is comes from the program's one clock."""

import datetime as dt

import pytest
from django.utils import timezone

from accounts.models import District
from accounts.selectors import today_in


@pytest.mark.parametrize(
    ("zone", "date"),
    [
        # Offsets of January: UTC-10 and UTC-5 (tz database).
        ("Pacific/Honolulu", dt.date(2027, 1, 14)),
        ("America/New_York", dt.date(2027, 1, 15)),
    ],
)
def test_today_is_where_the_district_is(monkeypatch: pytest.MonkeyPatch, zone: str, date: dt.date) -> None:
    monkeypatch.setattr(timezone, "now", lambda: dt.datetime(2027, 1, 15, 6, 30, tzinfo=dt.UTC))
    district = District(name="Fallow County Schools", time_zone=zone)
    assert today_in(district) == date
