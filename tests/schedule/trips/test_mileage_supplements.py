"""Supplements: what changed is claimed and nothing else, unless the month is priced again."""

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person
from schedule.trips import services
from schedule.trips.selectors.vouchers import voucher_view
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.trips.test_mileage_vouchers import SEPTEMBER, confirm_all, correct, driven, submit, view
from travel.mileage.models import MileageRate, Voucher, VoucherLine
from travel.mileage.services import mileage_rate_save

__all__ = ["driven"]


def start(cast: Cast, *, reprice: bool = False) -> Voucher:
    return services.supplement_start(actor=cast.teacher, teacher=cast.teacher, month=SEPTEMBER, reprice=reprice)


def drop(cast: Cast) -> None:
    services.supplement_drop(actor=cast.teacher, teacher=cast.teacher, month=SEPTEMBER)


@pytest.fixture
def dearer(driven: Cast) -> Cast:
    """Submitted (2 x 12.4 miles at 72.5 cents), then the rate of those days turns out to have been 80 cents."""
    confirm_all(driven)
    submit(driven)
    driven.south.name = "Renamed School"
    driven.south.save()
    mileage_rate_save(
        actor=driven.coordinator,
        row=MileageRate(),
        values={"first_day": dt.date(2026, 9, 1), "dollars": Decimal("0.80"), "source": "board decision"},
    )
    return driven


def test_a_dollar_of_parking_claims_a_dollar(dearer: Cast) -> None:
    """Neither the new rate nor the new name is what the teacher corrected."""
    start(dearer)
    correct(dearer, view(dearer).trips[0], parking=Decimal("1.00"))
    supplement = voucher_view(submit(dearer))
    assert supplement.sums.total == Decimal("1.00")
    assert [one.takes_back for one in supplement.entries] == [True, False]


def test_tolls_stand_beside_the_parking_on_the_voucher(driven: Cast) -> None:
    """$2.00 and $1.50 of one trip: each in its own column and sum, and in the total together."""
    confirm_all(driven)
    correct(driven, view(driven).trips[0], parking=Decimal("2.00"), tolls=Decimal("1.50"))
    sums = voucher_view(submit(driven)).sums
    assert (sums.parking, sums.tolls, sums.total) == (
        Decimal("2.00"),
        Decimal("1.50"),
        sums.amount + Decimal("3.50"),
    )


def test_what_was_submitted_together_says_so_and_is_no_correction(driven: Cast) -> None:
    """A line from before tolls were told apart: the voucher says that they are in the parking."""
    confirm_all(driven)
    correct(driven, view(driven).trips[0], parking=Decimal("3.50"))
    voucher = submit(driven)
    VoucherLine.objects.update(tolls=None)
    page = signed_in(driven.teacher).get(reverse("voucher", args=[voucher.pk])).content.decode()
    assert page.count("in parking") == 1
    start(driven)
    with pytest.raises(ApplicationError, match="nothing to claim"):
        submit(driven)
    correct(driven, view(driven).trips[0], parking=Decimal("2.00"), tolls=Decimal("1.50"))
    assert voucher_view(submit(driven)).sums.total == 0


def test_what_a_corrected_rate_would_change_is_shown_and_claimed_only_when_asked_for(dearer: Cast) -> None:
    """12.4 miles at 80 cents are $9.92, at 72.5 cents $8.99: 93 cents more for each of two trips."""
    found = view(dearer).repricing
    assert found is not None
    assert (found.trips, found.difference, found.in_all) == (2, Decimal("1.86"), "$1.86 more in total")
    start(dearer, reprice=True)
    assert view(dearer).reprices
    supplement = voucher_view(submit(dearer))
    assert supplement.sums.total == Decimal("1.86")
    assert view(dearer).repricing is None


def test_a_month_that_is_priced_as_it_was_has_nothing_to_price_again(driven: Cast) -> None:
    assert view(driven).repricing is None
    confirm_all(driven)
    submit(driven)
    assert view(driven).repricing is None


def test_a_supplement_that_is_not_needed_is_closed(dearer: Cast) -> None:
    start(dearer, reprice=True)
    drop(dearer)
    found = view(dearer)
    assert found.locked
    assert not found.supplement_open
    assert Voucher.objects.count() == 1
    with pytest.raises(ApplicationError) as caught:
        drop(dearer)
    assert caught.value.code == "no_supplement"


def test_a_supplement_for_which_a_trip_was_corrected_stays_until_that_is_put_back(dearer: Cast) -> None:
    """Closed, it would leave a month that says otherwise than its voucher."""
    start(dearer)
    correct(dearer, view(dearer).trips[0], note="by the bridge")
    with pytest.raises(ApplicationError) as caught:
        drop(dearer)
    assert caught.value.code == "supplement_used"
    correct(dearer, view(dearer).trips[0], note="")
    drop(dearer)
    assert view(dearer).locked


def test_the_months_own_voucher_is_no_supplement_to_close(driven: Cast) -> None:
    with pytest.raises(ApplicationError) as caught:
        drop(driven)
    assert caught.value.code == "no_supplement"


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_the_page_shows_the_difference_first_and_takes_the_supplement_back(dearer: Cast) -> None:
    client = signed_in(dearer.teacher)
    month = {"month": "2026-09"}
    page = client.get("/mileage/", month).content.decode()
    assert "2 trips would be paid differently: $1.86 more in total" in page
    read = signed_in(dearer.coordinator).get("/mileage/", {**month, "teacher": str(dearer.teacher.pk)})
    assert "$1.86 more in total" in read.content.decode()
    assert "Start a supplement" not in read.content.decode()
    opened = client.post("/mileage/months/2026-09/supplement/", {"reprice": "yes"}, follow=True)
    assert "It prices every trip of the month again." in opened.content.decode()
    check = client.get("/mileage/months/2026-09/submit/").content.decode()
    assert "Submit for $1.86" in check
    closed = client.post("/mileage/months/2026-09/supplement/drop/", follow=True).content.decode()
    assert "The month is as it was submitted." in closed
    assert "This month is submitted." in closed


def test_the_api_does_the_same(dearer: Cast) -> None:
    api = Api(dearer.teacher)
    before = api.get("mileage-months/2026-09/")
    assert before["repricing"] == {"trips": 2, "difference": "1.86"}
    assert api.post("mileage-months/2026-09/supplement/", reprice=True)["reprices"] is True
    assert api.delete("mileage-months/2026-09/supplement/", expect=200)["locked"] is True
    assert api.post("mileage-months/2026-09/supplement/")["reprices"] is False
    api.delete("mileage-months/2026-09/supplement/", expect=200)
    assert api.delete("mileage-months/2026-09/supplement/", expect=409)["code"] == "no_supplement"
