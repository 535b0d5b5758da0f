"""Pages of bells, days, classes' times, the calendar and the teacher's rules."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    BellSchedule,
    CalendarEntry,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from schedule.calendar.pages.calendar import days_folded
from tests.conftest import Cast, date_there

BACKEND = "accounts.sign_in.backends.PasswordBackend"


def signed_in(person: Person) -> Client:
    """A browser in which the person has signed in."""
    client = Client()
    client.force_login(person, backend=BACKEND)
    return client


def bells_form(*periods: tuple[str, str, str], **more: str) -> dict[str, str]:
    """A filled form of a bell schedule with rows of name, start, end, and one empty row."""
    values = {
        "name": "Regular",
        "kind": "regular",
        "passing_minutes": "4",
        "periods-TOTAL_FORMS": str(len(periods) + 1),
        "periods-INITIAL_FORMS": "0",
    }
    for place, row in enumerate((*periods, ("", "", ""))):
        for name, value in zip(("name", "start", "end"), row, strict=True):
            values[f"periods-{place}-{name}"] = value
        values[f"periods-{place}-kind"] = "instruction"
        values[f"periods-{place}-grades"] = ""
    return {**values, **more}


def test_bells_are_entered_on_one_page(cast: Cast) -> None:
    """Rows left empty are no periods; a change opens with what is saved."""
    client = signed_in(cast.teacher)
    address = reverse("bell_schedule_new", args=[cast.north.pk])
    client.post(address, bells_form(("P1", "08:05", "08:45"), ("P2", "08:50", "09:30")))
    row = BellSchedule.objects.get()
    assert [(one.name, one.start) for one in row.periods.all()] == [("P1", dt.time(8, 5)), ("P2", dt.time(8, 50))]
    page = client.get(reverse("bell_schedule_change", args=[row.pk])).content.decode()
    assert 'value="08:50"' in page
    shown = client.get(reverse("building_detail", args=[cast.north.pk])).content.decode()
    assert "8:50 to 9:30 AM" in shown


@pytest.mark.parametrize(
    ("rows", "part"),
    [
        ([("P1", "08:05", "08:45"), ("P2", "08:40", "09:30")], "Row 2, "),
        ([("P1", "08:45", "08:05")], "Row 1, "),
        ([("P1", "", "08:45")], "Give the period&#x27;s start"),
        ([("P1", "8 o'clock", "08:45")], "Enter a valid time"),
        ([], "has no periods"),
    ],
)
def test_what_is_wrong_with_a_period_stands_at_its_row(
    cast: Cast, rows: list[tuple[str, str, str]], part: str
) -> None:
    """And everything that was typed is still there."""
    answer = signed_in(cast.teacher).post(reverse("bell_schedule_new", args=[cast.north.pk]), bells_form(*rows))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert part in page
    assert all(f'value="{name}"' in page for name, *_ in rows)
    assert not BellSchedule.objects.exists()


def test_more_rows_keep_what_was_typed_and_save_nothing(cast: Cast) -> None:
    """Without a script."""
    form = bells_form(("P1", "08:05", "08:45"), more_rows="1", name="Half day")
    page = signed_in(cast.teacher).post(reverse("bell_schedule_new", args=[cast.north.pk]), form).content.decode()
    assert 'value="P1"' in page
    assert 'value="Half day"' in page
    assert 'name="periods-6-name"' in page
    assert not BellSchedule.objects.exists()


def test_days_are_named_on_one_page(cast: Cast) -> None:
    """A second visit changes the same row; plain weekdays ask for nothing more."""
    client = signed_in(cast.teacher)
    address = reverse("rotation_change", args=[cast.north.pk])
    cycle = {"kind": "cycle", "length": "6", "practice": "next_unused", "anchor_date": "2026-09-08"}
    assert client.post(address, cycle).status_code == 302
    assert "Day 1, Day 2" in client.get(reverse("building_detail", args=[cast.north.pk])).content.decode()
    wrong = client.post(address, {**cycle, "labels": "A,B"})
    assert '<a href="#id_labels">' in wrong.content.decode()
    assert client.post(address, {"kind": "weekday"}).status_code == 302
    assert DayRotation.objects.get().kind == DayRotation.Kind.WEEKDAY


def post_seen(client: Client, address: str, form: dict[str, str]) -> Any:
    """Send a form, and once more where the page shows what it changes first."""
    answer = client.post(address, form)
    seen = answer.context.get("effects_seen") if answer.context is not None else None
    return client.post(address, {**form, "effects_seen": seen}) if seen else answer


def test_some_grades_have_a_rotation_of_their_own(cast: Cast) -> None:
    """It stands beside the school's on its page, with the next days of both, and can be taken away again."""
    today = date_there()
    last = today + dt.timedelta(days=60)
    SchoolYear.objects.create(district=cast.district, name="Now", first_day=today, last_day=last)
    client = signed_in(cast.teacher)
    building = reverse("building_detail", args=[cast.north.pk])
    cycle = {"kind": "cycle", "length": "6", "practice": "next_unused", "anchor_date": today.isoformat()}
    post_seen(client, reverse("rotation_change", args=[cast.north.pk]), cycle)
    address = reverse("grade_rotation_new", args=[cast.north.pk])
    letters = {"kind": "ab_weeks", "practice": "fixed_to_date", "anchor_date": today.isoformat()}
    refused = client.post(address, {**letters, "labels": "Day 3,Day 4", "name": "Middle grades", "grades": "6-8"})
    assert "nobody could tell which is meant" in refused.content.decode()
    assert client.post(address, {**letters, "name": "Middle grades"}).status_code == 422
    assert post_seen(client, address, {**letters, "name": "Middle grades", "grades": "6-8"}).status_code == 302
    page = client.get(building).content.decode()
    assert "<strong>Middle grades</strong>, grades 6-8" in page
    table = page[page.index("Which day of the rotation") :]
    assert "<td>Day 1</td><td>A</td>" in table
    row = DayRotation.objects.get(grades="6-8")
    client.post(reverse("grade_rotation_delete", args=[row.pk]))
    assert [one.kind for one in DayRotation.objects.all()] == ["cycle"]


def test_the_calendar_shows_the_year_by_month(cast: Cast) -> None:
    """Everyone of the district reads it; only those who may change it are offered that."""
    client = signed_in(cast.coordinator)
    year = {"name": "2026-27", "first_day": "2026-09-03", "last_day": "2027-06-24"}
    client.post(reverse("school_year_new"), year)
    entry = {"title": "Recess", "kind": "closed", "first_date": "2026-12-24", "last_date": "2027-01-01"}
    client.post(reverse("calendar_entry_new"), entry)
    page = client.get(reverse("calendar")).content.decode()
    assert "December 2026" in page
    assert "Recess" in page
    office = signed_in(cast.office).get(reverse("calendar")).content.decode()
    assert "Recess" in office
    assert reverse("calendar_entry_new") not in office
    assert "Recess" not in signed_in(cast.stranger).get(reverse("calendar")).content.decode()
    wrong = client.post(reverse("calendar_entry_new"), {**entry, "last_date": "2026-12-01"})
    assert '<a href="#id_last_date">' in wrong.content.decode()


def test_the_calendar_begins_with_what_is_to_come(cast: Cast) -> None:
    """What is over is folded away; the next two months with special days stand open, later ones wait folded."""
    days = [dt.date(2026, month, 9) for month in (9, 10, 11, 12)] + [dt.date(2027, 2, 9)]
    rows = [CalendarEntry(pk=pk, first_date=day, last_date=day) for pk, day in enumerate(days)]
    rows.append(CalendarEntry(pk=9, first_date=dt.date(2026, 10, 5), last_date=dt.date(2026, 10, 12)))
    found = days_folded(rows, dt.date(2026, 10, 12))
    assert [(month.month, len(rows)) for month, rows in found.over] == [(9, 1), (10, 1)]
    assert [(month.month, is_open) for month, _, is_open in found.coming] == [
        (10, True), (11, True), (12, False), (2, False),
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["meeting", "special day"])
def test_a_title_with_a_students_name_is_asked_about_first(cast: Cast, kind: str) -> None:
    """It goes to phones' calendars as it is written: saved with the second press, or typed anew."""
    client = signed_in(cast.coordinator)
    forms: dict[str, tuple[str, dict[str, str], type[Meeting | CalendarEntry]]] = {
        "meeting": (
            reverse("meeting_new", args=[cast.teacher.pk]),
            {"title": "Ola’s review", "weekday": "0", "start": "14:00", "end": "15:00"},  # noqa: RUF001 -- as typed
            Meeting,
        ),
        "special day": (
            reverse("calendar_entry_new"),
            {"title": "Ola visits", "kind": "early_dismissal", "first_date": "2026-12-24"},
            CalendarEntry,
        ),
    }
    address, sent, model = forms[kind]
    asked = client.post(address, sent)
    assert "“Ola” is the name of a student." in asked.content.decode()
    assert not model.objects.exists()
    assert client.post(address, sent | {"effects_seen": asked.context["effects_seen"]}).status_code == 302
    model.objects.all().delete()
    assert client.post(address, sent | {"title": "Team"}).status_code == 302, "nothing to ask"


def test_contract_hours_are_all_or_nothing(cast: Cast) -> None:
    """A weekday with half its hours saves none of the week; both emptied is no work."""
    client = signed_in(cast.teacher)
    address = reverse("contract_hours", args=[cast.teacher.pk])
    good = {f"{end}_{day}": time for day in range(5) for end, time in (("start", "07:30"), ("end", "15:00"))}
    wrong = client.post(address, {**good, "end_4": ""})
    assert wrong.status_code == 422
    assert "Give both times of Friday" in wrong.content.decode()
    backwards = client.post(address, {**good, "end_4": "07:00"})
    assert "ends before it starts" in backwards.content.decode()
    assert not ContractDay.objects.exists()
    client.post(address, good)
    client.post(address, {**good, "start_4": "", "end_4": ""})
    assert [day.weekday for day in ContractDay.objects.all()] == [0, 1, 2, 3]


def test_the_rules_page_is_the_teachers_and_the_coordinators(cast: Cast) -> None:
    """A teacher goes straight to the own one; a coordinator chooses; others don't see it."""
    own = reverse("teacher_rules_of", args=[cast.teacher.pk])
    assert signed_in(cast.teacher).get(reverse("teacher_rules"))["Location"] == own
    assert own in signed_in(cast.coordinator).get(reverse("teacher_rules")).content.decode()
    seen = [
        signed_in(person).get(own).status_code
        for person in (cast.teacher, cast.coordinator, cast.mate, cast.stranger, cast.office)
    ]
    assert seen == [200, 200, 404, 404, 403]
    values: dict[str, Any] = {
        "lunch_minutes": "30",
        "lunch_earliest": "11:00",
        "lunch_latest_end": "11:20",
        "preparation_minutes": "45",
        "preparation_per": "day",
        "preparation_smallest_block": "15",
        "longest_stretch": "180",
        "setup_minutes": "5",
        "largest_group": "6",
        "grades_apart": "2",
    }
    address = reverse("teacher_rules_change", args=[cast.teacher.pk])
    wrong = signed_in(cast.teacher).post(address, values)
    assert "The window has 20 minutes; lunch needs 30." in wrong.content.decode()
    signed_in(cast.teacher).post(address, {**values, "lunch_latest_end": "12:30"})
    assert TeacherRules.objects.get().teacher == cast.teacher


def pages(cast: Cast) -> dict[str, str]:
    """Every page that changes a row here, with rows to change."""
    bells = BellSchedule.objects.create(building=cast.north, name="Regular")
    BellPeriod.objects.create(schedule=bells, name="P1", start=dt.time(8), end=dt.time(8, 40))
    year = SchoolYear.objects.create(
        district=cast.district, name="2026-27", first_day=dt.date(2026, 9, 3), last_day=dt.date(2027, 6, 24)
    )
    rows = {
        "bell_schedule": bells,
        "bell_rule": BellRule.objects.create(building=cast.north, day="Wed", schedule=bells),
        "free_time": SpaceFreeTime.objects.create(space=cast.gym, days="Mon", period="P1"),
        "class_meeting": ClassMeeting.objects.create(school_class=cast.room4, days="Tue", period="P1"),
        "marking_period": MarkingPeriod.objects.create(
            district=cast.district,
            school_year=year,
            name="Q1",
            first_day=dt.date(2026, 9, 3),
            last_day=dt.date(2026, 11, 6),
        ),
        "calendar_entry": CalendarEntry.objects.create(
            district=cast.district, first_date=dt.date(2026, 11, 26), last_date=dt.date(2026, 11, 27)
        ),
        "grade_rotation": DayRotation.objects.create(
            building=cast.north,
            name="Middle grades",
            grades="6-8",
            kind="ab_weeks",
            anchor_date=dt.date(2026, 9, 14),
        ),
        "word_rule": WordRule.objects.create(district=cast.district, words="recess", kind="closed"),
        "meeting": Meeting.objects.create(
            district=cast.district,
            teacher=cast.teacher,
            title="Staff",
            weekday=2,
            start=dt.time(15),
            end=dt.time(16),
        ),
    }
    new = {
        "bell_schedule_new": cast.north.pk,
        "bell_rule_new": cast.north.pk,
        "rotation_change": cast.north.pk,
        "grade_rotation_new": cast.north.pk,
        "free_time_new": cast.gym.pk,
        "class_meeting_new": cast.room4.pk,
        "marking_period_new": year.pk,
        "school_year_change": year.pk,
        "meeting_new": cast.teacher.pk,
        "contract_hours": cast.teacher.pk,
        "teacher_rules_change": cast.teacher.pk,
    }
    found = {name: reverse(name, args=[pk]) for name, pk in new.items()}
    for name, row in rows.items():
        for verb in ("change", "delete"):
            found[f"{name}_{verb}"] = reverse(f"{name}_{verb}", args=[row.pk])
    return found


def test_every_page_opens_for_its_people_only(cast: Cast) -> None:
    """200 for the teacher and the coordinator, 404 for the stranger, 403 for the office and the substitute."""
    for name, address in pages(cast).items():
        people = (cast.teacher, cast.coordinator, cast.stranger, cast.office, cast.substitute)
        seen = [signed_in(person).get(address).status_code for person in people]
        assert seen == [200, 200, 404, 403, 403], name
        assert signed_in(cast.stranger).post(address).status_code == 404, name
        assert signed_in(cast.office).post(address).status_code == 403, name


def test_a_period_takes_the_place_of_clock_times(cast: Cast) -> None:
    """The periods of the building can be chosen; the page hides the times that were there before."""
    address = pages(cast)["free_time_change"]
    client = signed_in(cast.teacher)
    assert client.post(address, {"period": "", "start": "09:00", "end": "09:30"}).status_code == 302
    row = SpaceFreeTime.objects.get()
    assert (row.period, row.start) == ("", dt.time(9))
    assert '<option value="P1">' in client.get(address).content.decode()
    assert client.post(address, {"period": "P1", "start": "09:00", "end": "09:30"}).status_code == 302
    row.refresh_from_db()
    assert (row.period, row.start, row.end) == ("P1", None, None)
    assert '<option value="P1" selected>' in client.get(address).content.decode()


@pytest.mark.parametrize("name", ["bell_schedule", "bell_rule", "free_time", "class_meeting", "marking_period"])
def test_deleting_asks_first(cast: Cast, name: str) -> None:
    """The question says what goes with it; only the POST deletes."""
    address = pages(cast)[f"{name}_delete"]
    client = signed_in(cast.teacher)
    asked = client.get(address).content.decode()
    assert "be undone" in asked
    if name == "bell_schedule":
        assert "bell periods: 1" in asked
    if name == "bell_schedule":
        assert "is still named by" in client.post(address, follow=True).content.decode()
        SpaceFreeTime.objects.all().delete()
        ClassMeeting.objects.all().delete()
    assert client.post(address).status_code == 302
    assert client.get(address).status_code == 404
