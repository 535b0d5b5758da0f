"""What bells ring from a first day on: the past keeps what it had, and a change is shown and taken back."""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.guards import ends_foreseen
from caseload.months.models import LogMonth
from schedule.calendar.bells import write_clock
from schedule.calendar.models import BellPeriod, BellSchedule, CalendarEntry, SchoolYear, SpaceFreeTime
from schedule.calendar.selectors.bells import sets_of
from schedule.calendar.selectors.school_days import load_calendars
from schedule.calendar.services.bells import bell_schedule_save, bell_set_remove, bells_take_back
from schedule.calendar.services.rules import period_names
from schedule.weeks.selectors.told.hours import last_bells
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.log_builders import publish_session
from travel.places.models import Space

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)
WEEK = 7 * DAY


def period(name: str, start: str, end: str, **more: object) -> dict[str, object]:
    """Values of one period."""
    return {"name": name, "start": dt.time.fromisoformat(start), "end": dt.time.fromisoformat(end), **more}


OLD = (period("1", "08:30", "09:15"), period("2", "09:20", "10:05"))
NEW = (period("1", "08:00", "08:40"), period("2", "08:45", "09:25"))


def coming_monday() -> dt.date:
    """The Monday after today."""
    today = date_there()
    return today + dt.timedelta(days=7 - today.weekday())


@pytest.fixture
def bells(cast: Cast) -> BellSchedule:
    """The bells of the north school in a year that is under way."""
    today = date_there()
    SchoolYear.objects.create(
        district=cast.district, name="This year", first_day=today - 90 * DAY, last_day=today + 90 * DAY
    )
    return save(cast, BellSchedule(building=cast.north), OLD, name="Regular", kind="regular", passing_minutes=5)


def save(cast: Cast, row: BellSchedule, periods: Any, **values: object) -> BellSchedule:
    """Save periods by the service."""
    return bell_schedule_save(actor=cast.teacher, row=row, values={"periods": periods, **values})


def first_bell(cast: Cast, day: dt.date) -> str:
    """When the first period of the north school begins on a date, by the one place that all readers ask."""
    year = SchoolYear.objects.get(district=cast.district)
    facts = load_calendars(cast.district, [cast.north], year)[cast.north.pk].facts(day)
    return "" if facts.bells is None else write_clock(facts.bells.periods[0].start)


def close_last_month(cast: Cast) -> dt.date:
    """The teacher's month before this one is closed; its first day."""
    month = (date_there().replace(day=1) - DAY).replace(day=1)
    closed = LogMonth.Status.CLOSED
    LogMonth.objects.create(district=cast.district, teacher=cast.teacher, month=month, status=closed)
    return month


def test_the_past_keeps_what_it_had(cast: Cast, bells: BellSchedule) -> None:
    """Two changes: each date rings what was said for it."""
    monday = coming_monday()
    save(cast, bells, NEW, first_day=monday)
    save(cast, bells, [period("1", "07:45", "08:30")], first_day=monday + 2 * WEEK)
    days = (monday - WEEK, monday, monday + WEEK, monday + 2 * WEEK, monday + 3 * WEEK)
    assert [first_bell(cast, day) for day in days] == ["08:30", "08:00", "08:00", "07:45", "07:45"]
    assert [one.first for one in sets_of(BellSchedule.objects.get())] == [None, monday, monday + 2 * WEEK]


def test_a_change_counts_from_today_where_nobody_says(cast: Cast, bells: BellSchedule) -> None:
    """Said again on the same day, it is put right: no third set."""
    save(cast, bells, NEW)
    save(cast, bells, OLD[:1])
    first, second = sets_of(BellSchedule.objects.get())
    assert (first.first, second.first) == (None, date_there())
    assert [one.name for one in first.periods] == ["1", "2"]
    assert [one.name for one in second.periods] == ["1"]


def test_before_the_first_school_year_begins_bells_are_put_right(cast: Cast) -> None:
    """Nothing has rung: whoever sets a school up corrects a typing error and gets no second set."""
    today = date_there()
    SchoolYear.objects.create(district=cast.district, name="Next", first_day=today + DAY, last_day=today + 90 * DAY)
    row = save(cast, BellSchedule(building=cast.north), OLD, name="Regular", kind="regular")
    save(cast, row, NEW)
    assert set(BellPeriod.objects.values_list("first_day", "start")) == {(None, dt.time(8)), (None, dt.time(8, 45))}


def test_bells_that_begin_later_say_so_before(cast: Cast, bells: BellSchedule) -> None:
    """A day before the first set isn't guessed."""
    BellPeriod.objects.update(first_day=coming_monday())
    year = SchoolYear.objects.get()
    facts = load_calendars(cast.district, [cast.north], year)[cast.north.pk].facts(coming_monday() - WEEK)
    assert facts.bells is None
    assert "from a later day on" in facts.problem


def test_a_short_day_ends_as_it_did(cast: Cast, bells: BellSchedule) -> None:
    """When students go home on a day with bells of its own, by the bells of that day."""
    early = save(
        cast,
        BellSchedule(building=cast.north),
        [period("1", "08:30", "11:00")],
        name="Early",
        kind="early_dismissal",
    )
    monday = coming_monday()
    save(cast, early, [period("1", "08:30", "12:30")], first_day=monday)
    days = (monday - WEEK, monday)
    entries = [
        CalendarEntry.objects.create(
            district=cast.district, first_date=day, last_date=day, kind=CalendarEntry.Kind.EARLY_DISMISSAL
        )
        for day in days
    ]
    found = last_bells(entries, {day: [cast.north.pk] for day in days})
    assert [found[day][cast.north.pk] for day in days] == [11 * 60, 12 * 60 + 30]


def test_it_is_shown_before_it_is_saved(cast: Cast, bells: BellSchedule) -> None:
    """Days, sessions and weeks with counts; a session that loses its period by its time. Nothing is saved."""
    monday = coming_monday()
    line = cast.line
    publish_session(monday, [line], "9:20", "9:50")
    publish_session(monday + DAY, [line], "8:30", "8:40")
    publish_session(monday + WEEK, [line], "9:20", "9:50")
    publish_session(monday - WEEK, [line], "9:20", "9:50")
    told = ends_foreseen(cast.teacher, bells, lambda: save(cast, bells, NEW, first_day=monday))
    text = " ".join(told)
    assert "school days ring otherwise" in told[0]
    assert "3 planned sessions on these days, in 2 weeks" in text
    assert "2 planned sessions no longer lie within a period." in text
    assert "Monday 9:20 to 9:50" in text
    assert not BellPeriod.objects.filter(first_day=monday).exists()
    assert ends_foreseen(cast.teacher, bells, lambda: save(cast, bells, OLD, first_day=monday)) == []


def test_days_that_are_over_are_told_apart(cast: Cast, bells: BellSchedule) -> None:
    """A first day in the past changes what was shown."""
    start = date_there() - 2 * WEEK
    told = ends_foreseen(cast.teacher, bells, lambda: save(cast, bells, NEW, first_day=start))
    assert told[1] == "10 of them are over: what they show changes."


def test_a_closed_month_stays_and_does_not_stand_in_the_way(cast: Cast, bells: BellSchedule) -> None:
    """Other bells from a day of a closed month on are refused; from today on they are not."""
    month = (date_there().replace(day=1) - DAY).replace(day=1)
    LogMonth.objects.create(
        district=cast.district, teacher=cast.teacher, month=month, status=LogMonth.Status.CLOSED
    )
    for first in (None, month, month + 5 * DAY):
        with pytest.raises(ApplicationError) as refused:
            save(cast, bells, NEW, first_day=first)
        assert refused.value.code == "month_closed"
    save(cast, bells, NEW)
    with pytest.raises(ApplicationError):
        save(cast, bells, OLD[:1], first_day=month)
    assert len(sets_of(BellSchedule.objects.get())) == 2


def test_a_change_is_taken_back(cast: Cast, bells: BellSchedule) -> None:
    """A new set goes, a corrected and a removed one are there again; twice is refused."""
    monday = coming_monday()
    before = sets_of(BellSchedule.objects.get())
    save(cast, bells, NEW, first_day=monday)
    after = [one.start for one in sets_of(BellSchedule.objects.get())[1].periods]
    bells_take_back(actor=cast.teacher, row=bells)
    assert sets_of(BellSchedule.objects.get()) == before
    with pytest.raises(ApplicationError) as refused:
        bells_take_back(actor=cast.teacher, row=bells)
    assert refused.value.code == "nothing_to_undo"
    save(cast, bells, NEW, first_day=monday)
    save(cast, bells, OLD[:1], first_day=monday)
    bells_take_back(actor=cast.teacher, row=bells)
    assert [one.start for one in sets_of(BellSchedule.objects.get())[1].periods] == after
    bell_set_remove(actor=cast.teacher, row=bells, first_day=monday)
    assert len(sets_of(BellSchedule.objects.get())) == 1
    bells_take_back(actor=cast.teacher, row=bells)
    assert [one.start for one in sets_of(BellSchedule.objects.get())[1].periods] == after


def test_what_others_changed_since_is_not_taken_back(cast: Cast, bells: BellSchedule) -> None:
    """By the change that was seen, and by what is there."""
    save(cast, bells, NEW, first_day=coming_monday())
    with pytest.raises(ApplicationError) as refused:
        bells_take_back(actor=cast.teacher, row=bells, seen=1)
    assert refused.value.code == "nothing_to_undo"
    BellPeriod.objects.filter(first_day=coming_monday()).first().delete()  # type: ignore[union-attr]  # it is there
    with pytest.raises(ApplicationError) as refused:
        bells_take_back(actor=cast.teacher, row=bells)
    assert refused.value.code == "changed_since"


def test_the_only_periods_stay(cast: Cast, bells: BellSchedule) -> None:
    """Whoever wants them gone deletes the bells."""
    with pytest.raises(ApplicationError) as refused:
        bell_set_remove(actor=cast.teacher, row=bells, first_day=None)
    assert refused.value.code == "only_set"


def test_a_first_day_comes_with_its_periods(cast: Cast, bells: BellSchedule) -> None:
    """Without them nothing would happen, silently."""
    with pytest.raises(ValidationError, match="Say with it which periods"):
        bell_schedule_save(actor=cast.teacher, row=bells, values={"first_day": coming_monday()})


def test_a_renamed_period_is_found_and_bells_that_are_over_keep_its_name(cast: Cast, bells: BellSchedule) -> None:
    """What names it has the new name; taken back it has the old one."""
    gym = Space.objects.create(building=cast.north, name="Second gym", kind="gym")
    free = SpaceFreeTime.objects.create(space=gym, days="Mon", period="2")
    save(cast, bells, [OLD[0], period("Block B", "09:20", "10:05")])
    free.refresh_from_db()
    assert free.period == "Block B"
    assert [one.name for one in sets_of(BellSchedule.objects.get())[0].periods] == ["1", "2"]
    assert period_names(cast.north) == ["1", "Block B"]
    bells_take_back(actor=cast.teacher, row=bells)
    free.refresh_from_db()
    assert free.period == "2"


def test_a_period_that_is_named_is_needed_from_the_day_on(cast: Cast, bells: BellSchedule) -> None:
    """That the bells before had it doesn't help."""
    gym = Space.objects.create(building=cast.north, name="Second gym", kind="gym")
    SpaceFreeTime.objects.create(space=gym, days="Mon", period="2")
    with pytest.raises(ValidationError, match="still named by a free time"):
        save(cast, bells, OLD[:1], first_day=coming_monday())


def form_of(periods: Any, **more: str) -> dict[str, str]:
    """A filled form of the bells."""
    form = {"name": "Regular", "kind": "regular", "passing_minutes": "5"}
    form |= {"periods-TOTAL_FORMS": str(len(periods)), "periods-INITIAL_FORMS": "0"}
    for place, one in enumerate(periods):
        form |= {f"periods-{place}-{name}": f"{one[name]}" for name in ("name", "start", "end")}
    return form | more


def test_the_page_asks_first_and_takes_back(cast: Cast, bells: BellSchedule) -> None:
    """It begins with today; what it changes is shown with the way to the week, then saved, then taken back."""
    monday = coming_monday()
    publish_session(monday, [cast.line], "9:20", "9:50")
    client = Client()
    client.force_login(cast.teacher)
    address = reverse("bell_schedule_change", args=[bells.pk])
    assert f'value="{date_there().isoformat()}"' in client.get(address).content.decode()
    form = form_of(NEW, first_day=monday.isoformat())
    asked = client.post(address, form)
    page = asked.content.decode()
    assert "1 planned session no longer lies within a period." in page
    assert f"week={monday.isoformat()}" in page
    assert len(sets_of(BellSchedule.objects.get())) == 1
    client.post(address, form | {"effects_seen": asked.context["effects_seen"]})
    assert len(sets_of(BellSchedule.objects.get())) == 2
    building = client.get(reverse("building_detail", args=[cast.north.pk])).content.decode()
    assert "Take it back" in building
    removing = reverse("bell_set_remove", args=[bells.pk]) + f"?from={monday.isoformat()}"
    assert "lies within a period again" in client.get(removing).content.decode()
    assert len(sets_of(BellSchedule.objects.get())) == 2
    client.post(removing)
    assert len(sets_of(BellSchedule.objects.get())) == 1
    client.post(reverse("bells_take_back", args=[bells.pk]))
    assert len(sets_of(BellSchedule.objects.get())) == 2
    assert client.get(f"{address}?from=beginning").context["form"].initial["first_day"] is None
    assert client.get(removing.replace(monday.isoformat(), "2020-01-01")).status_code == 404


def test_the_page_names_a_closed_month_at_the_day(cast: Cast, bells: BellSchedule) -> None:
    """Refused in words, at the field."""
    month = (date_there().replace(day=1) - DAY).replace(day=1)
    LogMonth.objects.create(
        district=cast.district, teacher=cast.teacher, month=month, status=LogMonth.Status.CLOSED
    )
    client = Client()
    client.force_login(cast.teacher)
    answer = client.post(reverse("bell_schedule_change", args=[bells.pk]), form_of(NEW, first_day=""))
    assert answer.status_code == 422
    assert answer.context["form"].errors["first_day"]


def test_the_api_does_the_same(cast: Cast, bells: BellSchedule) -> None:
    """Shown today's periods and every set; effects, a first day, taking away, taking back."""
    api, monday = Api(cast.teacher), coming_monday()
    path = f"bell-schedules/{bells.pk}/"
    periods = [{"name": "1", "start": "08:00", "end": "08:40"}]
    asked: dict[str, Any] = {"periods": periods, "first_day": monday.isoformat()}
    assert "school days ring otherwise" in api.post(f"{path}effects/", expect=200, **asked)["effects"][0]
    told = api.patch(path, **asked)
    assert (told["first_day"], len(told["periods"])) == (None, 2)
    assert [one["first_day"] for one in told["sets"]] == [None, monday.isoformat()]
    assert told["sets"][0]["last_day"] == (monday - DAY).isoformat()
    assert [one["start"] for one in told["sets"][1]["periods"]] == ["08:00:00"]
    api.post(f"{path}periods/remove/", expect=204, first_day=monday.isoformat())
    api.post(f"{path}undo/", expect=204)
    assert len(api.get(path)["sets"]) == 2
    assert api.post(f"{path}undo/", expect=409)["code"] == "nothing_to_undo"
    assert api.post(f"{path}periods/remove/", expect=404, first_day="2020-01-01")["code"] == "not_found"
