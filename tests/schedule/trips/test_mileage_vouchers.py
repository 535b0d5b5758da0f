"""A month of trips and its voucher: what follows from the week, what the teacher says, what can't change."""

import datetime as dt
import uuid
from collections.abc import Mapping
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, MissedReason
from schedule.calendar.models import CalendarEntry
from schedule.trips import services
from schedule.trips.data import MonthView, TripView
from schedule.trips.selectors.month import month_view
from schedule.trips.selectors.vouchers import month_end, sums_of, voucher_view
from schedule.weeks.models import PlannedSession
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import (
    MONDAY,
    SHORT_PERIODS,
    date,
    make_bells,
    make_entry,
    make_ground,
    make_line,
    make_week,
)
from travel.drives.models import DriveLog, OwnDriveTime
from travel.mileage.claims import DrivenLeg, claim_line
from travel.mileage.entries import entry_of
from travel.mileage.models import MileageRate, MileageSettings, TeacherHome, Trip, Voucher
from travel.mileage.rules import MileageRules
from travel.mileage.selectors import mileage_teacher
from travel.mileage.services import (
    mileage_rate_delete,
    mileage_rate_save,
    mileage_rates_copy,
    mileage_settings_save,
    teacher_home_save,
)

SEPTEMBER = dt.date(2026, 9, 1)
TODAY = dt.date(2026, 10, 2)
NOW = dt.datetime(2026, 10, 2, 16, 0, tzinfo=dt.UTC)


@pytest.fixture
def driven(cast: Cast) -> Cast:
    """A published week: on Monday and Wednesday from the north to the south, 12.4 miles as the teacher knows."""
    make_ground(cast)
    OwnDriveTime.objects.create(
        district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south,
        minutes=14, miles=Decimal("12.4"),
    )  # fmt: skip
    far = make_line(cast, "F1", building=cast.south, times=2)
    own, other = f"line-{cast.line.pk}", f"line-{far.pk}"
    week = make_week(
        cast,
        [(own, date(0), "9:20"), (other, date(0), "13:15"), (own, date(2), "9:20"), (other, date(2), "13:15")],
    )
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    return cast


def view(cast: Cast, month: dt.date = SEPTEMBER) -> MonthView:
    return month_view(cast.teacher, cast.teacher, month)


def confirm_all(cast: Cast, month: dt.date = SEPTEMBER) -> None:
    keys = [trip.key for trip in view(cast, month).trips if trip.is_open]
    services.trip_confirm(actor=cast.teacher, teacher=cast.teacher, keys=keys, today=TODAY)


def submit(cast: Cast, month: dt.date = SEPTEMBER, answers: Mapping[str, str] | None = None) -> Voucher:
    return services.voucher_submit(
        actor=cast.teacher, teacher=cast.teacher, month=month, today=TODAY, now=NOW, answers=answers
    )


def answers_to(cast: Cast, words: str = "road closed", month: dt.date = SEPTEMBER) -> dict[str, str]:
    """The same words to each question of the month."""
    return {one.key: words for one in view(cast, month).questions}


def correct(cast: Cast, trip: TripView, **values: object) -> Trip:
    return services.trip_correct(actor=cast.teacher, teacher=cast.teacher, key=trip.key, values=values, today=TODAY)


def ends(trips: tuple[TripView, ...]) -> list[tuple[dt.date, str, str]]:
    return [(one.date, one.origin, one.destination) for one in trips]


NORTH, SOUTH = "North Hollow School", "South Hollow School"


# ---- trips follow from the week ----------------------------------------------------------------------------


def test_trips_follow_from_the_published_week(driven: Cast) -> None:
    trips = view(driven).trips
    assert ends(trips) == [(date(0), NORTH, SOUTH), (date(2), NORTH, SOUTH)]
    assert [(one.status, one.direct_miles, one.miles) for one in trips] == [
        ("proposed", Decimal("12.4"), Decimal("12.4"))
    ] * 2
    assert all("between two places of work" in one.rule for one in trips)
    assert not Trip.objects.exists(), "looking at a month saves nothing"


@pytest.mark.parametrize("kind", ["closed", "no_students"])
def test_a_closed_building_is_not_driven_to(driven: Cast, kind: str) -> None:
    make_entry(driven, date(0), kind, driven.south)
    found = view(driven)
    assert ends(found.trips) == [(date(2), NORTH, SOUTH)]
    assert {day.date: day.left_out for day in found.days}[date(0)] == (SOUTH,)


def test_a_school_that_closed_at_noon_has_no_drive_in_the_afternoon(driven: Cast) -> None:
    """The short bells end at 10:10 (tests.schedule.builders.SHORT_PERIODS); the session there begins at 13:15."""
    make_bells(driven.south, name="Short", kind="early_dismissal", periods=SHORT_PERIODS)
    make_entry(driven, date(0), "early_dismissal")
    found = view(driven)
    assert ends(found.trips) == [(date(2), NORTH, SOUTH)]
    assert {day.date: day.left_out for day in found.days}[date(0)] == (SOUTH,)
    make_entry(driven, date(0), "open", driven.south)
    assert len(view(driven).trips) == 2, "the building's own word comes first"


def test_an_exception_for_the_building_beats_the_districts_closure(driven: Cast) -> None:
    make_entry(driven, date(0), "closed")
    assert ends(view(driven).trips) == [(date(2), NORTH, SOUTH)]
    for building in (driven.north, driven.south):
        make_entry(driven, date(0), CalendarEntry.Kind.OPEN, building)
    assert len(view(driven).trips) == 2


def test_a_building_between_two_others_is_passed_by_when_closed(driven: Cast) -> None:
    """North, south, north again: with the south closed nobody drives at all."""
    session = PlannedSession.objects.get(date=date(0), building=driven.north)
    PlannedSession.objects.filter(pk=session.pk).update(start=dt.time(13, 50), end=dt.time(14, 20))
    make_entry(driven, date(0), "closed", driven.south)
    assert ends(view(driven).trips) == [(date(2), NORTH, SOUTH)]


def test_sessions_that_the_teacher_missed_are_not_driven_to(driven: Cast) -> None:
    session = PlannedSession.objects.get(date=date(0), building=driven.south)
    reason = MissedReason.objects.create(
        district=driven.district, code="teacher_absent", words="Teacher absent", effect="owed"
    )
    line = session.attendees.get().service_line
    entry = DeliveryEntry.objects.create(
        client_id=uuid.uuid4(), service_line=line, student=line.plan.student, session_uid=session.uid,
        date=session.date, planned_minutes=30, setting=session.setting,
    )  # fmt: skip
    DeliveryVersion.objects.create(entry=entry, delivered_minutes=0, reason=reason, logged_by=driven.teacher)
    assert ends(view(driven).trips) == [(date(2), NORTH, SOUTH)]
    absent = MissedReason.objects.create(
        district=driven.district, code="student_absent", words="Student absent", effect="owed"
    )
    DeliveryVersion.objects.update(reason=absent)
    assert len(view(driven).trips) == 2, "the teacher was there; the student wasn't"


def test_a_logged_drive_brings_its_odometer_and_one_that_was_not_planned_its_trip(driven: Cast) -> None:
    drive = {"district": driven.district, "teacher": driven.teacher, "date": date(0)}
    DriveLog.objects.create(
        origin=driven.north, destination=driven.south, odometer_before=Decimal("40312.0"),
        odometer_after=Decimal("40323.9"), **drive,
    )  # fmt: skip
    DriveLog.objects.create(
        origin=driven.south, destination=driven.north, odometer_before=Decimal("40323.9"),
        odometer_after=Decimal("40336.1"), **drive,
    )  # fmt: skip
    there, back, _ = view(driven).trips
    assert (there.driven_miles, there.miles) == (Decimal("11.9"), Decimal("11.9"))
    assert "the shorter" in there.rule
    assert (back.origin, back.driven_miles, back.miles) == (SOUTH, Decimal("12.2"), Decimal("12.2"))


def test_home_legs_are_claimed_where_the_district_pays_them(driven: Cast) -> None:
    """IRS Publication 463, Figure B: home to the regular place of work is never paid, to another one it is."""
    mileage_settings_save(actor=driven.coordinator, row=MileageSettings(), values={"home_legs": "other_places"})
    assert "Home isn't known" in view(driven).trips[0].problem
    teacher_home_save(
        actor=driven.teacher,
        row=TeacherHome(),
        values={"latitude": Decimal("43.15"), "longitude": Decimal("-75.21"), "regular_places": [driven.north]},
    )
    monday = [one for one in view(driven).trips if one.date == date(0)]
    assert [(one.origin, one.destination) for one in monday] == [("Home", NORTH), (NORTH, SOUTH), (SOUTH, "Home")]
    assert monday[0].miles == 0
    assert "commuting" in monday[0].rule
    assert monday[2].miles == monday[2].direct_miles != 0


# ---- what the teacher says ---------------------------------------------------------------------------------


def test_confirming_correcting_dropping_and_adding(driven: Cast) -> None:
    monday, wednesday = view(driven).trips
    services.trip_confirm(actor=driven.teacher, teacher=driven.teacher, keys=[monday.key] * 2, today=TODAY)
    services.trip_drop(actor=driven.teacher, teacher=driven.teacher, key=wednesday.key, today=TODAY)
    added = services.trip_add(
        actor=driven.teacher,
        teacher=driven.teacher,
        values={"date": date(3), "origin": driven.north, "destination": driven.south, "round_trip": True},
        today=TODAY,
    )
    assert added.direct_miles == Decimal("24.8")
    found = view(driven)
    assert [one.status for one in found.trips] == ["confirmed", "not_driven", "confirmed"]
    assert (found.confirmed.miles, found.open_trips) == (Decimal("37.2"), 0)
    assert "there and back" in found.trips[2].rule
    services.trip_reopen(actor=driven.teacher, teacher=driven.teacher, key=wednesday.key)
    services.trip_drop(actor=driven.teacher, teacher=driven.teacher, key=added.key, today=TODAY)
    assert [one.status for one in view(driven).trips] == ["confirmed", "proposed"]
    assert AuditEntry.objects.filter(action="trip_decide").count() == 2


def test_the_shorter_wins_and_parking_is_paid_in_full(driven: Cast) -> None:
    monday = view(driven).trips[0]
    correct(
        driven, monday,
        odometer_before=Decimal("100.0"), odometer_after=Decimal("111.9"), parking=Decimal("3.50"),
    )  # fmt: skip
    sums = view(driven).confirmed
    # 11.9 miles at 72.5 cents (IRS Notice 2026-10) are $8.6275.
    assert (sums.miles, sums.amount, sums.total) == (Decimal("11.9"), Decimal("8.63"), Decimal("12.13"))


def test_a_week_that_is_published_again_leaves_what_was_confirmed(driven: Cast) -> None:
    confirm_all(driven)
    PlannedSession.objects.filter(date=date(0), building=driven.south).delete()
    PlannedSession.objects.get(date=date(0)).week.items.filter(date=date(0)).delete()
    monday = view(driven).trips[0]
    assert (monday.status, monday.still_planned) == ("confirmed", False)


def test_what_is_still_ahead_is_not_confirmed(driven: Cast) -> None:
    monday = view(driven).trips[0]
    with pytest.raises(ApplicationError, match="still ahead"):
        services.trip_confirm(
            actor=driven.teacher, teacher=driven.teacher, keys=[monday.key], today=date(0) - dt.timedelta(days=1)
        )


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"odometer_before": Decimal(90), "odometer_after": Decimal(80)}, "odometer_after"),
        ({"odometer_before": Decimal(90)}, "odometer_after"),
        ({"odometer_before": Decimal(1), "odometer_after": Decimal(2), "driven_miles": Decimal(1)}, "driven_miles"),
        ({"parking": Decimal("-0.01")}, "parking"),
        ({"driven_miles": Decimal("12.44")}, "driven_miles"),
    ],
)
def test_impossible_corrections_are_refused_at_their_field(
    driven: Cast, values: dict[str, Decimal], field: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        correct(driven, view(driven).trips[0], **values)
    assert list(caught.value.error_dict) == [field]
    assert not Trip.objects.exists()


@pytest.mark.parametrize("key", ["20260914-1-2-9", "nonsense", "20269914-1-2-1", ""])
def test_a_key_of_no_trip_finds_nothing(driven: Cast, key: str) -> None:
    with pytest.raises(ApplicationError) as caught:
        services.trip_confirm(actor=driven.teacher, teacher=driven.teacher, keys=[key], today=TODAY)
    assert caught.value.status == 404


# ---- rates -------------------------------------------------------------------------------------------------


def test_the_change_in_the_middle_of_2022_through_the_database(cast: Cast) -> None:
    """12.4 miles on June 30, 2022 are $7.25 and on July 1 $7.75 (IRS Announcement 2022-13; computed)."""
    mileage_rates_copy(actor=cast.coordinator)
    OwnDriveTime.objects.create(
        district=cast.district, teacher=cast.teacher, origin=cast.north, destination=cast.south,
        minutes=14, miles=Decimal("12.4"),
    )  # fmt: skip
    for day in (dt.date(2022, 6, 30), dt.date(2022, 7, 1)):
        services.trip_add(
            actor=cast.teacher,
            teacher=cast.teacher,
            values={"date": day, "origin": cast.north, "destination": cast.south},
            today=TODAY,
        )
    amounts = [month_view(cast.teacher, cast.teacher, day).trips[0].amount for day in
               (dt.date(2022, 6, 1), dt.date(2022, 7, 1))]  # fmt: skip
    assert amounts == [Decimal("7.25"), Decimal("7.75")]
    assert MileageRate.objects.get(first_day=dt.date(2022, 7, 1)).dollars == Decimal("0.6250")


def test_the_first_own_rate_joins_the_published_ones_and_the_last_one_gone_brings_them_back(driven: Cast) -> None:
    row = mileage_rate_save(
        actor=driven.coordinator,
        row=MileageRate(),
        values={"first_day": MONDAY, "dollars": Decimal("0.60"), "source": "board decision"},
    )
    assert view(driven).trips[0].amount == Decimal("7.44")
    assert MileageRate.objects.filter(first_day=dt.date(2022, 7, 1), dollars=Decimal("0.625")).exists()
    with pytest.raises(ValidationError, match="change that one"):
        mileage_rate_save(actor=driven.coordinator, row=MileageRate(), values={"first_day": MONDAY, "dollars": 1})
    mileage_rate_delete(actor=driven.coordinator, row=row)
    assert view(driven).trips[0].amount == Decimal("8.99")


@pytest.mark.parametrize("person", ["teacher", "mate", "office", "substitute"])
def test_only_the_coordinator_changes_the_rules(cast: Cast, person: str) -> None:
    actor = getattr(cast, person)
    for call in (
        lambda: mileage_settings_save(actor=actor, row=MileageSettings(), values={"home_legs": "other_places"}),
        lambda: mileage_rates_copy(actor=actor),
        lambda: mileage_rate_save(actor=actor, row=MileageRate(), values={"first_day": MONDAY, "dollars": 1}),
    ):
        with pytest.raises(ApplicationError) as caught:
            call()
        assert caught.value.status == 403
    assert not MileageSettings.objects.exists()
    assert not MileageRate.objects.exists()


# ---- vouchers ----------------------------------------------------------------------------------------------


def test_a_submitted_voucher_is_locked_and_its_copy_stays(driven: Cast) -> None:
    confirm_all(driven)
    voucher = submit(driven)
    before = voucher_view(voucher)
    # 2 x 12.4 miles at 72.5 cents: $8.99 each (computed from IRS Notice 2026-10).
    assert (before.sums.miles, before.sums.amount) == (Decimal("24.8"), Decimal("17.98"))
    assert before.by_rate == ((Decimal("0.725"), before.sums),)
    trip = view(driven).trips[0]
    for attempt in (
        lambda: correct(driven, trip, driven_miles=Decimal(5)),
        lambda: services.trip_drop(actor=driven.teacher, teacher=driven.teacher, key=trip.key, today=TODAY),
        lambda: services.trip_reopen(actor=driven.teacher, teacher=driven.teacher, key=trip.key),
        lambda: services.trip_add(
            actor=driven.teacher, teacher=driven.teacher, today=TODAY,
            values={"date": date(3), "origin": driven.north, "destination": driven.south},
        ),
        lambda: submit(driven),
    ):  # fmt: skip
        with pytest.raises(ApplicationError) as caught:
            attempt()
        assert caught.value.code == "voucher_locked"
    driven.south.name = "Renamed School"
    driven.south.save()
    mileage_settings_save(actor=driven.coordinator, row=MileageSettings(), values={"rounding": "down"})
    assert voucher_view(Voucher.objects.get()) == before


def test_corrections_become_a_supplement_whose_sum_is_the_difference(driven: Cast) -> None:
    confirm_all(driven)
    first = voucher_view(submit(driven))
    supplement = services.supplement_start(actor=driven.teacher, teacher=driven.teacher, month=SEPTEMBER)
    with pytest.raises(ApplicationError, match="nothing to claim"):
        submit(driven)
    correct(driven, view(driven).trips[0], driven_miles=Decimal("11.9"))
    second = voucher_view(submit(driven))
    assert (second.number, supplement.supplement_of_id) == (1, first.id)
    assert [one.amount for one in second.entries] == [Decimal("-8.99"), Decimal("8.63")]
    assert first.sums.total + second.sums.total == view(driven).confirmed.total == Decimal("17.62")
    assert view(driven).locked
    third = services.supplement_start(actor=driven.teacher, teacher=driven.teacher, month=SEPTEMBER)
    assert third.number == 2


def test_a_voucher_waits_until_every_trip_is_decided(driven: Cast) -> None:
    with pytest.raises(ApplicationError, match="2 trips are not confirmed") as caught:
        submit(driven)
    assert caught.value.code == "trips_open"
    with pytest.raises(ApplicationError, match="nothing to claim"):
        submit(driven, dt.date(2026, 8, 1))
    with pytest.raises(ApplicationError) as refused:
        services.supplement_start(actor=driven.teacher, teacher=driven.teacher, month=SEPTEMBER)
    assert refused.value.code == "not_submitted"
    assert not Voucher.objects.exists()


def test_a_trip_without_a_distance_stops_the_voucher_and_says_so(driven: Cast) -> None:
    driven.south.latitude = driven.south.longitude = None
    driven.south.save()
    trip = services.trip_add(
        actor=driven.teacher, teacher=driven.teacher, today=TODAY,
        values={"date": date(3), "origin": driven.south, "destination": None},
    )  # fmt: skip
    confirm_all(driven)
    with pytest.raises(ApplicationError, match="Home isn't known") as caught:
        submit(driven)
    assert caught.value.code == "trip_incomplete"
    services.trip_correct(
        actor=driven.teacher, teacher=driven.teacher, key=trip.key, values={"direct_miles": Decimal(4)}, today=TODAY
    )
    assert submit(driven).lines.count() == 3


# ---- who sees what -----------------------------------------------------------------------------------------


def test_a_mate_a_stranger_and_the_office_see_no_home_trip_or_voucher(driven: Cast) -> None:
    teacher_home_save(actor=driven.teacher, row=TeacherHome(), values={"commute_miles": Decimal("6.0")})
    confirm_all(driven)
    voucher = submit(driven)
    for model in (TeacherHome, Trip, Voucher):
        for person in (driven.mate, driven.stranger, driven.office, driven.substitute):
            assert not model.objects.visible_to(person).exists(), (model, person)
        for person in (driven.teacher, driven.coordinator):
            assert model.objects.visible_to(person).exists()
    for person in (driven.mate, driven.stranger, driven.office):
        with pytest.raises(ApplicationError) as caught:
            mileage_teacher(person, driven.teacher.pk)
        assert caught.value.status == 404
        assert not voucher.lines.model.objects.visible_to(person).exists()


def test_nobody_but_the_teacher_confirms_or_signs(driven: Cast) -> None:
    keys = [view(driven).trips[0].key]
    for person, status in (
        (driven.coordinator, 403),
        (driven.mate, 404),
        (driven.stranger, 404),
        (driven.office, 403),
    ):
        with pytest.raises(ApplicationError) as caught:
            services.trip_confirm(actor=person, teacher=driven.teacher, keys=keys, today=TODAY)
        assert caught.value.status == status
        with pytest.raises(ApplicationError):
            services.voucher_submit(actor=person, teacher=driven.teacher, month=SEPTEMBER, today=TODAY, now=NOW)
    assert not Trip.objects.exists()


def test_money_and_miles_are_decimal_in_and_out(driven: Cast) -> None:
    confirm_all(driven)
    submit(driven)
    row = Voucher.objects.get().lines.first()
    assert row is not None
    figures = (row.miles, row.direct_miles, row.rate, row.amount, row.parking, row.tolls, row.total)
    assert all(isinstance(one, Decimal) for one in figures)


def test_a_month_ends_on_its_last_day() -> None:
    """February 28 in 2026, 29 in 2028, December 31."""
    days = [month_end(dt.date(2026, 2, 1)), month_end(dt.date(2028, 2, 1)), month_end(dt.date(2026, 12, 1))]
    assert [day.day for day in days] == [28, 29, 31]


@given(st.lists(st.decimals(0, 80, places=1), max_size=30))
def test_the_sums_of_a_voucher_are_those_of_its_printed_lines(miles: list[Decimal]) -> None:
    """A finance office that adds the printed amounts gets the printed total."""
    parking = Decimal("1.25")
    legs = [DrivenLeg(date(0), NORTH, SOUTH, one, parking=parking) for one in miles]
    lines = [
        entry_of(str(place), claim_line(one, MileageRules()), MileageRules()) for place, one in enumerate(legs)
    ]
    sums = sums_of(lines)
    assert sums.miles == sum(miles, Decimal(0))
    assert sums.amount == sum((Decimal(f"{line.amount:.2f}") for line in lines), Decimal(0))
    assert sums.total == sums.amount + len(miles) * parking
