"""Where a trip's miles come from, on the month, the voucher, its files and in the API; purpose and account."""

import csv
import datetime as dt
import io
from decimal import Decimal

import openpyxl
import pytest
from django.core.exceptions import ValidationError

from schedule.trips import services
from schedule.trips.files import voucher_file
from schedule.trips.selectors.vouchers import voucher_view
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date
from tests.schedule.trips.test_mileage_vouchers import TODAY, answers_to, confirm_all, correct, driven, submit, view
from travel.drives.models import OwnDriveTime
from travel.mileage.chart import MilesSource
from travel.mileage.models import AccountCode, MileageRate, MileageSettings, Trip, VoucherLine
from travel.mileage.services import account_code_save, effects_foreseen, mileage_rate_save, mileage_settings_save

__all__ = ["driven"]


def test_the_shorter_is_taken_of_odometer_and_chart_not_of_what_was_typed(driven: Cast) -> None:
    """12.4 miles on the chart: typing 99 is refused with what to do, and 20 by the odometer pays 12.4."""
    monday = view(driven).trips[0]
    assert (monday.direct_miles, monday.direct_source) == (Decimal("12.4"), MilesSource.ENTERED)
    with pytest.raises(ValidationError) as caught:
        correct(driven, monday, direct_miles=Decimal(99))
    assert "The chart knows this way: 12.4 miles." in caught.value.message_dict["direct_miles"][0]
    assert not Trip.objects.exists()
    correct(driven, monday, odometer_before=Decimal("100.0"), odometer_after=Decimal("120.0"))
    found = view(driven).trips[0]
    assert (found.miles, found.source) == (Decimal("12.4"), MilesSource.ENTERED)
    assert found.off_chart.startswith("driven 61 % more than the 12.4 miles of the chart")


def test_without_the_drivers_own_miles_the_chart_is_the_estimate(driven: Cast) -> None:
    """Own minutes that say no miles leave the distance to the estimate, and the trip says so."""
    OwnDriveTime.objects.update(miles=None)
    monday = view(driven).trips[0]
    assert (monday.direct_source, monday.source_words) == (MilesSource.ESTIMATE, "estimate from coordinates")


def test_a_way_that_no_chart_knows_takes_what_was_typed_and_says_so(driven: Cast) -> None:
    OwnDriveTime.objects.all().delete()
    for building in (driven.north, driven.south):
        building.latitude = building.longitude = None
        building.save()
    values = {"date": date(3), "origin": driven.north, "destination": driven.south, "direct_miles": Decimal("6.5")}
    row = services.trip_add(actor=driven.teacher, teacher=driven.teacher, values=values, today=TODAY)
    assert (row.direct_miles, row.direct_source) == (Decimal("6.5"), "typed")
    again = services.trip_correct(
        actor=driven.teacher,
        teacher=driven.teacher,
        key=row.key,
        values={"direct_miles": Decimal("7.0")},
        today=TODAY,
    )
    assert (again.direct_miles, again.direct_source) == (Decimal("7.0"), "typed")


def test_a_voucher_keeps_both_readings_its_sources_and_what_differs(driven: Cast) -> None:
    """A share of 5 %: 13.2 of 12.4 miles are 6 % more."""
    mileage_settings_save(
        actor=driven.coordinator,
        row=MileageSettings(),
        values={"share_percent": 5, "distance": "driven", "account_code": "27-5810", "purpose": "APE, itinerant"},
    )
    monday, wednesday = view(driven).trips
    correct(driven, monday, odometer_before=Decimal("40312.0"), odometer_after=Decimal("40325.2"))
    correct(driven, wednesday, driven_miles=Decimal("12.5"), purpose="Team meeting")
    first, second = voucher_view(submit(driven, answers=answers_to(driven))).entries
    assert (first.odometer_before, first.odometer_after) == (Decimal("40312.0"), Decimal("40325.2"))
    assert (first.source, first.off_chart, first.off_chart_percent) == (MilesSource.ODOMETER, True, 6)
    assert (second.source, second.off_chart) == (MilesSource.TYPED, False)
    assert [one.purpose for one in (first, second)] == ["APE, itinerant", "Team meeting"]
    assert {one.account_code for one in (first, second)} == {"27-5810"}


def test_a_line_is_booked_to_the_building_then_the_teacher_then_the_district(driven: Cast) -> None:
    """South's own code ends on Tuesday: Monday's trip to it is booked there, Wednesday's to the teacher's."""
    save, boss = account_code_save, driven.coordinator
    mileage_settings_save(actor=boss, row=MileageSettings(), values={"account_code": "27-5810"})
    save(actor=boss, row=AccountCode(), values={"building": driven.south, "code": "SOUTH-1"})
    save(actor=boss, row=AccountCode(), values={"building": driven.south, "code": "", "first_day": date(1)})
    save(actor=boss, row=AccountCode(), values={"teacher": driven.teacher, "code": "VEY-7"})
    save(actor=boss, row=AccountCode(), values={"teacher": driven.mate, "code": "MATE-7"})
    confirm_all(driven)
    found = {one.day: one.account_code for one in voucher_view(submit(driven)).entries}
    assert found == {date(0): "SOUTH-1", date(2): "VEY-7"}


def test_a_code_is_a_buildings_or_a_teachers(driven: Cast) -> None:
    """Through the API, by a coordinator, and taken back; without either it is said."""
    api = Api(driven.coordinator)
    assert "building or a teacher" in str(api.post("account-codes/", expect=400, code="X"))
    both = {"building": driven.south.pk, "teacher": driven.teacher.pk, "code": "X"}
    assert "not both" in str(api.post("account-codes/", expect=400, **both))
    made = api.post("account-codes/", building=driven.south.pk, code="SOUTH-1")
    assert made["first_day"] == "2000-01-01"
    assert Api(driven.teacher).patch(f"account-codes/{made['id']}/", expect=403, code="MINE")
    api.delete(f"account-codes/{made['id']}/")


def test_files_hold_readings_purpose_account_and_dates_as_dates(driven: Cast) -> None:
    mileage_settings_save(actor=driven.coordinator, row=MileageSettings(), values={"account_code": "27-5810"})
    correct(driven, view(driven).trips[0], odometer_before=Decimal("100.0"), odometer_after=Decimal("111.9"))
    confirm_all(driven)
    shown = voucher_view(submit(driven))
    line = next(csv.DictReader(io.StringIO(voucher_file(shown, "csv").decode("utf-8-sig"))))
    assert (line["Odometer before"], line["Odometer after"]) == ("100.0", "111.9")
    assert line["Source of the miles"] == "odometer 100.0 to 111.9"
    assert line["Source of the direct miles"] == "the driver's own table of drives"
    assert line["Account code"] == "27-5810"
    assert line["Date"] == "2026-09-14"
    book = openpyxl.load_workbook(io.BytesIO(voucher_file(shown, "xlsx")))
    days = [row[0] for row in book.worksheets[0].iter_rows() if row[0].is_date]
    assert [cell.value for cell in days] == [dt.datetime(2026, 9, 14), dt.datetime(2026, 9, 16)]  # noqa: DTZ001 -- a workbook's dates have no zone


def test_the_table_of_rates_adds_up_to_the_total_everywhere(driven: Cast) -> None:
    """Two rates in one month, parking with one of them: each column of the table is the voucher's sum."""
    Api(driven.coordinator).post("mileage-rates/", expect=201, first_day="2026-09-16", dollars="0.6005")
    correct(driven, view(driven).trips[0], parking=Decimal("3.50"))
    confirm_all(driven)
    row = submit(driven)
    found = voucher_view(row)
    assert len(found.by_rate) == 2
    for name in ("miles", "amount", "parking", "tolls", "total"):
        assert sum((getattr(one, name) for _, one in found.by_rate), Decimal(0)) == getattr(found.sums, name)
    sheet = openpyxl.load_workbook(io.BytesIO(voucher_file(found, "xlsx")))["Sums by rate"]
    *rates, total = [[cell.value for cell in line] for line in sheet.iter_rows(min_row=2)]
    for column in range(1, 5):
        assert round(sum(one[column] for one in rates), 2) == round(total[column], 2)
    told = Api(driven.teacher).get(f"vouchers/{row.pk}/")
    assert sum(Decimal(one["total"]) for one in told["by_rate"]) == Decimal(told["sums"]["total"])
    assert told["entries"][0]["source"] == "entered"


def test_what_rounding_the_total_changes_is_shown_before_it_is_saved(driven: Cast) -> None:
    """Twice 12.4 miles at 60.05 cents are twice $7.45, or $14.89 in total: a cent of the second trip."""
    rate = {"first_day": dt.date(2026, 1, 1), "dollars": Decimal("0.6005")}
    mileage_rate_save(actor=driven.coordinator, row=MileageRate(), values=rate)
    confirm_all(driven)

    def act(one: MileageSettings) -> None:
        mileage_settings_save(actor=driven.coordinator, row=one, values={"rounded_at": "total"})

    told = effects_foreseen(actor=driven.coordinator, row=MileageSettings(), act=act)
    assert told == ["September 2026, 1 trip: $7.45 now, $7.44 then."]


def test_a_total_rounded_once_is_the_same_on_month_voucher_and_file(driven: Cast) -> None:
    """12.4 and 12.4 miles at 72.5 cents are $17.98 either way; at 60.05 cents $14.8924, not twice $7.45."""
    mileage_settings_save(actor=driven.coordinator, row=MileageSettings(), values={"rounded_at": "total"})
    confirm_all(driven)
    with_rate = {"first_day": dt.date(2026, 1, 1), "dollars": Decimal("0.6005")}
    mileage_rate_save(actor=driven.coordinator, row=MileageRate(), values=with_rate)
    assert view(driven).confirmed.amount == Decimal("14.89")
    assert sum(one.amount or 0 for one in view(driven).trips) == Decimal("14.89")
    row = submit(driven)
    assert voucher_view(row).sums.amount == Decimal("14.89")
    assert set(VoucherLine.objects.values_list("total_rounding", flat=True)) == {"half_up"}
