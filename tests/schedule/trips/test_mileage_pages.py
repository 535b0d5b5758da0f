"""Pages, files and API of trips and vouchers, and the map: what they show, to whom, and that no name of a student
is anywhere in it."""

import csv
import io
from decimal import Decimal
from typing import Any

import openpyxl
import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from openpyxl.utils import get_column_letter

from schedule.trips import services
from schedule.trips.files import voucher_file, voucher_file_name
from schedule.trips.selectors.month import month_view
from schedule.trips.selectors.road_map import road_map_view, week_move_cost
from schedule.trips.selectors.vouchers import voucher_view
from schedule.weeks.services.weeks import week_publish
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line, make_week
from tests.schedule.trips.test_mileage_vouchers import NOW, SEPTEMBER, TODAY, answers_to, confirm_all, submit
from travel.drives.models import OwnDriveTime
from travel.mileage.models import Trip, Voucher
from travel.mileage.services import mileage_rates_copy

NAMES = ("Quernmore", "Ilsabet", "Tarn", "Ola")


@pytest.fixture
def driven(cast: Cast) -> Cast:
    """A published week with one drive, north to south, on Monday."""
    make_ground(cast)
    OwnDriveTime.objects.create(
        district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south,
        minutes=14, miles=Decimal("12.4"),
    )  # fmt: skip
    far = make_line(cast, "F1", building=cast.south)
    week = make_week(cast, [(f"line-{cast.line.pk}", date(0), "9:20"), (f"line-{far.pk}", date(0), "13:15")])
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    return cast


@pytest.fixture
def voucher(driven: Cast) -> Voucher:
    """September's, submitted: one planned trip with a dangerous note, one round trip with parking."""
    key = month_view(driven.teacher, driven.teacher, SEPTEMBER).trips[0].key
    me = driven.teacher
    services.trip_correct(
        actor=me, teacher=me, today=TODAY, key=key, values={"note": '=HYPERLINK("http://example.org")'}
    )
    services.trip_add(
        actor=me,
        teacher=me,
        today=TODAY,
        values={
            "date": date(1), "origin": driven.north, "destination": driven.south, "round_trip": True,
            "parking": Decimal("3.50"),
        },
    )  # fmt: skip
    return services.voucher_submit(
        actor=driven.teacher, teacher=driven.teacher, month=SEPTEMBER, today=TODAY, now=NOW
    )


def signed_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


# ---- files -------------------------------------------------------------------------------------------------


def test_the_csv_adds_up_and_computes_nothing(voucher: Voucher) -> None:
    text = voucher_file(voucher_view(voucher), "csv").decode("utf-8-sig")
    *lines, total = list(csv.DictReader(io.StringIO(text)))
    assert [line["Note"] for line in lines] == ['\'=HYPERLINK("http://example.org")', ""]
    for column in ("Miles claimed", "Amount", "Parking", "Tolls", "Total"):
        assert sum((Decimal(line[column]) for line in lines), Decimal(0)) == Decimal(total[column])
    # 12.4 and 24.8 miles at 72.5 cents (IRS Notice 2026-10): 8.99 and 17.98.
    assert [line["Amount"] for line in lines] == ["8.99", "17.98"]
    assert total["Total"] == "30.47"


def test_a_rate_is_written_one_way_before_and_after_submitting(driven: Cast) -> None:
    """72.5 cents a mile (IRS Notice 2026-10), although the database keeps four places of it; 70 cents are 0.70."""
    browser = signed_in(driven.teacher)
    confirm_all(driven)
    for own in (False, True):
        if own:
            mileage_rates_copy(actor=driven.coordinator)
        check = browser.get(reverse("voucher_submit", args=["2026-09"])).content.decode()
        assert ">0.725<" in check
        assert "0.7250" not in check
    voucher = submit(driven)
    shown = browser.get(reverse("voucher", args=[voucher.pk])).content.decode()
    text = voucher_file(voucher_view(voucher), "csv").decode("utf-8-sig")
    rules = signed_in(driven.coordinator).get(reverse("mileage_rules")).content.decode()
    for page, separated in ((shown, ">0.725<"), (text, ",0.725,"), (rules, ">0.725<"), (rules, ">0.70<")):
        assert separated in page
        assert "0.7250" not in page


def test_the_workbook_holds_numbers_as_numbers_and_a_sum_to_check_by(voucher: Voucher) -> None:
    book = openpyxl.load_workbook(io.BytesIO(voucher_file(voucher_view(voucher), "xlsx")))
    rows = [[cell.value for cell in row] for row in book.active.iter_rows()]
    top = next(number for number, row in enumerate(rows) if row[0] == "Date")
    place = rows[top].index("Total")
    letter = get_column_letter(place + 1)
    amounts = [row[place] for row in rows[top + 1 : top + 3]]
    assert [round(Decimal(str(one)), 2) for one in amounts] == [Decimal("8.99"), Decimal("21.48")]
    assert round(Decimal(str(rows[top + 3][place])), 2) == Decimal("30.47")
    assert rows[top + 4][place] == f"=SUM({letter}{top + 2}:{letter}{top + 3})"
    formulas = [cell for row in book.active.iter_rows() for cell in row if cell.data_type == "f"]
    assert {cell.row for cell in formulas} == {top + 5}, "only the sums are computed"


@pytest.mark.usefixtures("pango")
def test_the_pdf_has_one_signature_line_and_the_sums(voucher: Voucher) -> None:
    reader = pypdf.PdfReader(io.BytesIO(voucher_file(voucher_view(voucher), "pdf")))
    text = " ".join(word for page in reader.pages for word in page.extract_text().split())
    assert text.count("Signature of Teacher Vey") == 1
    for words in ("September 2026", "30.47", "37.2", "0.725", "there and back", "Marrow Vale County"):
        assert words in text


@pytest.mark.usefixtures("pango")
@pytest.mark.parametrize("form", ["csv", "pdf"])
def test_a_long_month_keeps_its_one_signature(driven: Cast, form: str) -> None:
    for _ in range(60):
        services.trip_add(
            actor=driven.teacher, teacher=driven.teacher, today=TODAY,
            values={"date": date(1), "origin": driven.north, "destination": driven.south},
        )  # fmt: skip
    keys = [one.key for one in month_view(driven.teacher, driven.teacher, SEPTEMBER).trips if one.is_open]
    services.trip_confirm(actor=driven.teacher, teacher=driven.teacher, keys=keys, today=TODAY)
    row = submit(driven, answers=answers_to(driven))
    content = voucher_file(voucher_view(row), form)
    if form == "csv":
        assert content.decode("utf-8-sig").count("\n") == 1 + 61 + 1
        return
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages]
    assert len(pages) > 1
    assert sum(page.count("Signature") for page in pages) == 1
    assert sum(page.count("09/15/2026") for page in pages) == 60


@pytest.mark.usefixtures("pango")
def test_no_student_is_in_any_file_or_name(voucher: Voucher) -> None:
    view = voucher_view(voucher)
    assert [voucher_file_name(view, form) for form in ("csv", "pdf")] == [
        "mileage-2026-09.csv",
        "mileage-2026-09.pdf",
    ]
    text = voucher_file(view, "csv").decode()
    assert not [name for name in NAMES if name in text]


# ---- pages -------------------------------------------------------------------------------------------------


def test_the_month_is_confirmed_checked_and_submitted_on_its_pages(driven: Cast) -> None:
    client = signed_in(driven.teacher)
    page = client.get("/mileage/", {"month": "2026-09"})
    [trip] = page.context["view"].trips
    answer = client.post("/mileage/confirm/", {"month": "2026-09", "key": trip.key}, follow=True)
    assert "Confirmed." in answer.content.decode()
    check = client.get("/mileage/months/2026-09/submit/").content.decode()
    assert "Submit for $8.99" in check
    done = client.post("/mileage/months/2026-09/submit/", follow=True).content.decode()
    assert "change anymore" in done
    assert done.count("is submitted.") == 1, "said once"
    again = client.get("/mileage/", {"month": "2026-09"}).content.decode()
    assert "Start a supplement" in again
    assert not [name for name in NAMES if name in check + done + again]


def test_a_correction_with_a_mistake_comes_back_with_its_words(driven: Cast) -> None:
    client = signed_in(driven.teacher)
    [trip] = client.get("/mileage/", {"month": "2026-09"}).context["view"].trips
    address = reverse("trip_correct", args=[trip.key])
    wrong = client.post(address, {"odometer_before": "90", "odometer_after": "80", "parking": "0", "tolls": "0"})
    assert wrong.status_code == 422
    assert "the second no smaller than the first" in wrong.content.decode()
    assert not Trip.objects.exists()
    right = client.post(address, {"odometer_before": "90", "odometer_after": "101.9", "parking": "0", "tolls": "0"})
    assert right.status_code == 302
    assert Trip.objects.get().odometer_after == Decimal("101.9")


@pytest.mark.usefixtures("pango")
def test_a_coordinator_reads_and_does_not_confirm(driven: Cast, voucher: Voucher) -> None:
    client = signed_in(driven.coordinator)
    page = client.get("/mileage/", {"month": "2026-09", "teacher": str(driven.teacher.pk)}).content.decode()
    assert "Only the teacher confirms" in page
    assert "Start a supplement" not in page
    assert client.get(reverse("voucher_file", args=[voucher.pk, "pdf"])).status_code == 200
    for person in (driven.mate, driven.stranger):
        assert signed_in(person).get(reverse("voucher_file", args=[voucher.pk, "pdf"])).status_code == 404
        asked = {"month": "2026-09", "teacher": str(driven.teacher.pk)}
        assert signed_in(person).get("/mileage/", asked).status_code == 404


def test_a_home_is_shown_to_nobody_else(driven: Cast) -> None:
    client = signed_in(driven.teacher)
    values = {"latitude": "43.150000", "longitude": "-75.210000", "commute_miles": "6.5"}
    assert client.post(reverse("teacher_home", args=[driven.teacher.pk]), values).status_code == 302
    assert (
        "43.15"
        in signed_in(driven.coordinator).get(reverse("teacher_home", args=[driven.teacher.pk])).content.decode()
    )
    for person, status in ((driven.mate, 404), (driven.stranger, 404), (driven.office, 403)):
        assert signed_in(person).get(reverse("teacher_home", args=[driven.teacher.pk])).status_code == status


@pytest.mark.parametrize("month", ["2026-13", "soon", "0000-01"])
def test_no_month_is_not_found(driven: Cast, month: str) -> None:
    assert signed_in(driven.teacher).get("/mileage/", {"month": month}).status_code == 404


# ---- API ---------------------------------------------------------------------------------------------------


def test_the_api_takes_and_gives_decimals_as_text(driven: Cast) -> None:
    api = Api(driven.teacher)
    month = api.get("mileage-months/2026-09/")
    [trip] = [one for day in month["days"] for one in day["trips"]]
    assert (trip["status"], trip["direct_miles"], Decimal(trip["amount"])) == ("proposed", "12.4", Decimal("8.99"))
    corrected = api.patch(f"trips/{trip['key']}/", driven_miles="11.9")
    assert [Decimal(corrected["confirmed"][name]) for name in ("miles", "amount")] == [
        Decimal("11.9"),
        Decimal("8.63"),
    ]
    api.patch(f"trips/{trip['key']}/", driven_miles="11.95", expect=400)
    added = api.post(
        "trips/", date="2026-09-15", origin=driven.north.pk, destination=driven.south.pk, parking="1.25"
    )
    assert len([one for day in added["days"] for one in day["trips"]]) == 2
    voucher = api.post("mileage-months/2026-09/submit/")
    # Half-cents come through whole, and are written one way: 72.5 cents a mile (IRS Notice 2026-10).
    assert [(one["rate"], one["miles"]) for one in voucher["entries"]] == [("0.725", "11.9"), ("0.725", "12.4")]
    assert [one["rate"] for one in voucher["by_rate"]] == ["0.725"]
    assert Decimal(voucher["sums"]["amount"]) == Decimal("17.62")
    refused = api.patch(f"trips/{trip['key']}/", driven_miles="10", expect=409)
    assert refused["code"] == "voucher_locked"
    api.post("mileage-months/2026-09/supplement/")
    api.patch(f"trips/{trip['key']}/", driven_miles="10.0")
    supplement = api.post("mileage-months/2026-09/submit/")
    assert Decimal(supplement["sums"]["amount"]) == Decimal("7.25") - Decimal("8.63")


def test_the_api_keeps_to_the_same_doors(driven: Cast, voucher: Voucher) -> None:
    for person in (driven.mate, driven.stranger):
        api = Api(person)
        assert api.get("vouchers/")["results"] == []
        assert api.get("teacher-homes/")["results"] == []
        api.get(f"vouchers/{voucher.pk}/", expect=404)
        api.get("mileage-months/2026-09/", expect=404, teacher=driven.teacher.pk)
    Api(driven.coordinator).post("mileage-months/2026-09/confirm/", keys=["20260914-1-2-1"], expect=403)


# ---- the map -----------------------------------------------------------------------------------------------


def test_the_map_draws_the_weeks_drives(driven: Cast) -> None:
    view = road_map_view(driven.teacher, driven.teacher, MONDAY)
    [line] = view.lines
    assert (line.origin, line.destination, line.trips, line.minutes, line.source) == (
        "North Hollow School", "South Hollow School", 1, 14, "measured by you",
    )  # fmt: skip
    assert view.drawing is not None
    assert view.drawing.paths[0].spoken.endswith("1 trip, 14 minutes at the wheel")
    page = signed_in(driven.teacher).get("/map/", {"monday": MONDAY.isoformat()}).content.decode()
    assert "<title>North Hollow School to South Hollow School: 1 trip, 14 minutes at the wheel</title>" in page
    assert not [name for name in NAMES if name in page]
    assert road_map_view(driven.teacher, driven.teacher, MONDAY, date(1)).lines == ()


def test_the_map_names_a_building_without_coordinates(driven: Cast) -> None:
    driven.south.latitude = driven.south.longitude = None
    driven.south.save()
    view = road_map_view(driven.teacher, driven.teacher, MONDAY)
    assert view.without_place == ("South Hollow School",)
    assert view.drawing is not None
    assert view.drawing.paths == ()


def test_moving_the_south_school_saves_its_drive(driven: Cast) -> None:
    """All at the north: nothing is driven; 14 minutes at the wheel, 3 to pack and 5 to park are saved."""
    week = driven.teacher.weeks.get(status="published")
    found = week_move_cost(driven.teacher, week, driven.south.pk, driven.north.pk)
    assert (found.now.trips, found.now.minutes, found.moved.trips, found.minutes_more) == (1, 22, 0, -22)
    answer = Api(driven.teacher).get(
        "move-cost/", monday=MONDAY.isoformat(), origin=driven.south.pk, destination=driven.north.pk
    )
    assert (answer["now"]["wheel"], answer["moved"]["wheel"]) == (14, 0)
    Api(driven.teacher).get("move-cost/", monday=MONDAY.isoformat(), origin=1, destination=10**6, expect=404)


def test_another_teachers_map_is_not_there(driven: Cast) -> None:
    asked = {"monday": MONDAY.isoformat(), "teacher": str(driven.teacher.pk)}
    assert signed_in(driven.coordinator).get("/map/", asked).status_code == 200
    for person in (driven.mate, driven.stranger):
        assert signed_in(person).get("/map/", asked).status_code == 404
    assert signed_in(driven.office).get("/map/", asked).status_code == 403
