"""Rules, rates, homes and commutes hold from a day on: shown before saving, corrected as such, taken back."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from schedule.trips import services
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date
from tests.schedule.trips.test_mileage_vouchers import confirm_all, driven, submit, view
from travel.mileage.models import SINCE_EVER, MileageRate, MileageSettings, TeacherHome
from travel.mileage.services import (
    effects_foreseen,
    mileage_rate_save,
    mileage_rates_copy,
    mileage_settings_delete,
    mileage_settings_save,
    teacher_home_save,
)

__all__ = ["driven"]
TUESDAY = date(1)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def rules_from(cast: Cast, first_day: dt.date, **values: object) -> MileageSettings:
    return mileage_settings_save(
        actor=cast.coordinator, row=MileageSettings(), values={"first_day": first_day, **values}
    )


def amounts(cast: Cast) -> list[Decimal | None]:
    return [one.amount for one in view(cast).trips]


def test_other_rules_from_a_day_leave_the_days_before_alone(driven: Cast) -> None:
    """12.4 miles at 72.5 cents are $8.99; with the odometer's 13.0 they are $9.425, so $9.43 or, cut off, $9.42."""
    confirm_all(driven)
    for trip in view(driven).trips:
        services.trip_correct(
            actor=driven.teacher, teacher=driven.teacher, key=trip.key, values={"driven_miles": Decimal("13.0")},
            today=dt.date(2026, 10, 2),
        )  # fmt: skip
    assert amounts(driven) == [Decimal("8.99"), Decimal("8.99")]
    later = rules_from(driven, TUESDAY, distance="driven", rounding="down")
    assert amounts(driven) == [Decimal("8.99"), Decimal("9.42")]
    words = view(driven).rules
    assert "From September 15, 2026: " in words
    mileage_settings_delete(actor=driven.coordinator, row=later)
    assert amounts(driven) == [Decimal("8.99"), Decimal("8.99")]


def test_two_sets_of_rules_from_one_day_are_refused(driven: Cast) -> None:
    rules_from(driven, TUESDAY)
    with pytest.raises(ValidationError, match="already begin on this day"):
        rules_from(driven, TUESDAY, rounding="down")


def test_a_commute_and_a_regular_place_hold_from_their_day(driven: Cast) -> None:
    """On Monday north is a place like others; from Tuesday on it is a regular one, and home to it isn't paid."""
    rules_from(driven, SINCE_EVER, home_legs="other_places")
    home = {"latitude": Decimal("43.15"), "longitude": Decimal("-75.21")}
    teacher_home_save(actor=driven.teacher, row=TeacherHome(), values=home)
    teacher_home_save(
        actor=driven.teacher,
        row=TeacherHome(),
        values={**home, "first_day": TUESDAY, "regular_places": [driven.north, driven.south]},
    )
    from_home = [one for one in view(driven).trips if one.origin_id is None]
    assert [one.date for one in from_home] == [date(0), date(2)]
    assert [bool(one.miles) for one in from_home] == [True, False]
    with pytest.raises(ValidationError, match="already begins on this day"):
        teacher_home_save(actor=driven.teacher, row=TeacherHome(), values={"first_day": TUESDAY})


def test_what_saving_would_change_is_told_and_nothing_is_saved(driven: Cast) -> None:
    """$17.98 for two times 12.4 miles at 72.5 cents; the month that was submitted stays."""
    confirm_all(driven)
    row = MileageRate()
    values = {"first_day": TUESDAY, "dollars": Decimal("0.80")}

    def act(one: MileageRate) -> None:
        mileage_rate_save(actor=driven.coordinator, row=one, values=values)

    told = effects_foreseen(actor=driven.coordinator, row=row, act=act)
    assert told == ["September 2026, 1 trip: $8.99 now, $9.92 then."]
    assert not MileageRate.objects.exists()
    submit(driven)
    [said] = effects_foreseen(actor=driven.coordinator, row=row, act=act)
    assert said.startswith("1 trip of submitted months")


def test_the_page_shows_the_change_before_it_saves_it(driven: Cast) -> None:
    confirm_all(driven)
    client = signed_in(driven.coordinator)
    address = reverse("mileage_rate_new")
    values = {"first_day": "2026-09-15", "last_day": "", "dollars": "0.80", "source": ""}
    first = client.post(address, values)
    assert first.status_code == 200
    page = first.content.decode()
    assert "September 2026, 1 trip: $8.99 now, $9.92 then." in page
    assert "Save with these changes" in page
    assert not MileageRate.objects.exists()
    stale = client.post(address, {**values, "dollars": "0.90", "effects_seen": first.context["effects_seen"]})
    assert "$11.16 then" in stale.content.decode(), "other figures are shown again"
    assert client.post(address, {**values, "effects_seen": first.context["effects_seen"]}).status_code == 302
    assert MileageRate.objects.filter(first_day=TUESDAY).exists()


def test_what_changes_no_figure_is_saved_at_once(driven: Cast) -> None:
    client = signed_in(driven.coordinator)
    page = client.get(reverse("mileage_settings_change")).content.decode()
    assert "Days before it keep what held then." in page
    values = {"first_day": "", "home_legs": "never", "distance": "direct", "rounding": "half_up"}
    assert client.post(reverse("mileage_settings_change"), values).status_code == 302
    row = MileageSettings.objects.get()
    assert row.first_day == SINCE_EVER
    values = {**values, "first_day": "2026-09-15", "rounding": "down"}
    assert client.post(reverse("mileage_settings_change"), values).status_code == 302
    rules = client.get(reverse("mileage_rules")).content.decode()
    assert "From September 15, 2026" in rules
    assert "Always so" in rules
    wrong = client.get(reverse("mileage_settings_correct", args=[row.pk])).content.decode()
    assert "every day since its first day is counted by it" in wrong
    assert client.post(reverse("mileage_settings_delete", args=[row.pk])).status_code == 302
    assert MileageSettings.objects.count() == 1


def test_home_and_commute_are_changed_from_a_day_and_corrected(driven: Cast) -> None:
    client = signed_in(driven.teacher)
    address = reverse("teacher_home", args=[driven.teacher.pk])
    values = {"first_day": "", "commute_miles": "6.0", "latitude": "", "longitude": ""}
    assert client.post(address, {**values, "regular_places": [driven.north.pk]}).status_code == 302
    page = client.get(address)
    assert page.context["form"].initial["regular_places"] == [driven.north]
    assert "Commute of 6.0 miles. Regular: North Hollow School." in page.content.decode()
    later = {**values, "first_day": "2026-09-15", "commute_miles": "9.5"}
    assert client.post(address, later).status_code == 302
    assert [row.commute_miles for row in TeacherHome.objects.all()] == [Decimal("9.5"), Decimal("6.0")]
    newest = TeacherHome.objects.first()
    assert newest is not None
    assert (
        client.post(
            reverse("teacher_home_correct", args=[newest.pk]), {**later, "commute_miles": "9.0"}
        ).status_code
        == 302
    )
    assert client.post(reverse("teacher_home_delete", args=[newest.pk])).status_code == 302
    assert [row.commute_miles for row in TeacherHome.objects.all()] == [Decimal("6.0")]


def test_the_api_asks_saves_and_takes_back(driven: Cast) -> None:
    confirm_all(driven)
    api = Api(driven.coordinator)
    asked: dict[str, Any] = {"first_day": "2026-09-15", "dollars": "0.80"}
    assert api.post("mileage-rates/new/effects/", expect=200, **asked)["effects"] == [
        "September 2026, 1 trip: $8.99 now, $9.92 then."
    ]
    assert api.get("mileage-rates/")["results"] == []
    row = api.post("mileage-rates/", **asked)
    assert api.post(f"mileage-rates/{row['id']}/effects/", expect=200, dollars="0.70")["effects"] == [
        "September 2026, 1 trip: $9.92 now, $8.68 then."
    ]
    api.delete(f"mileage-rates/{row['id']}/")
    rules = api.post("mileage-settings/", first_day="2026-09-15", rounding="down")
    assert api.post("mileage-settings/new/effects/", expect=200, rounding="half_even")["effects"] == []
    api.delete(f"mileage-settings/{rules['id']}/")
    mine = Api(driven.teacher)
    home = mine.post(
        "teacher-homes/", first_day="2026-09-15", regular_places=[driven.north.pk], commute_miles="6.0"
    )
    assert home["regular_places"] == [driven.north.pk]
    assert mine.post(f"teacher-homes/{home['id']}/effects/", expect=200, commute_miles="7.0")["effects"] == []


def test_published_rates_that_are_copied_end_with_their_year(driven: Cast) -> None:
    """Each IRS notice is about one year, so 2027 isn't paid at 2026's rate."""
    mileage_rates_copy(actor=driven.coordinator)
    assert MileageRate.objects.get(first_day=dt.date(2026, 1, 1)).last_day == dt.date(2026, 12, 31)
    with pytest.raises(ValidationError, match="is before the first"):
        MileageRate(
            district=driven.district, first_day=TUESDAY, last_day=date(0), dollars=Decimal("0.7")
        ).full_clean()
