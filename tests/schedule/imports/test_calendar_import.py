"""The calendar of a school website, and public holidays, into the district's calendar and out again."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from schedule.calendar.models import CalendarEntry, SchoolYear, WordRule
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import calendar_commit, calendar_preview, holidays_preview
from schedule.imports.services.calendar_reading import word_rules_ensure
from schedule.imports.services.tables import import_commit, import_undo
from tests.conftest import Cast
from tests.schedule.imports.district import dump_database

FIRST, LAST = dt.date(2026, 8, 1), dt.date(2027, 7, 31)


def calendar(*events: str) -> bytes:
    """An iCalendar file of events, each given by its own lines."""
    body = "".join(
        f"BEGIN:VEVENT\r\nUID:{place}@fells.example\r\nDTSTAMP:20260801T000000Z\r\n{event}\r\nEND:VEVENT\r\n"
        for place, event in enumerate(events)
    )
    return f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Fells//EN\r\n{body}END:VCALENDAR\r\n".encode()


def day(date: str, title: str) -> str:
    """An event of one whole day."""
    return f"DTSTART;VALUE=DATE:{date}\r\nSUMMARY:{title}"


YEAR = (
    day("20260908", "First day of school"),
    day("20270618", "Last day of school"),
    day("20261012", "No school - Columbus Day"),
    day("20261125", "Early dismissal"),
    "DTSTART;VALUE=DATE:20261126\r\nDTEND;VALUE=DATE:20261128\r\nSUMMARY:Thanksgiving recess",
    day("20261103", "Superintendent's Conference Day"),
    day("20261204", "Chess club"),
)


def preview(cast: Cast, *events: str) -> ImportBatch:
    """A preview by the teacher."""
    return calendar_preview(
        actor=cast.teacher, filename="school.ics", content=calendar(*events), first=FIRST, last=LAST
    )


def kinds(batch: ImportBatch) -> list[str]:
    """What the groups of a preview are recognized as."""
    return [group["kind"] for group in batch.content["groups"]]


def test_a_calendar_is_previewed_decided_and_committed(cast: Cast) -> None:
    """Recognized events become entries and the school year; the rest is left out."""
    word_rules_ensure(actor=cast.teacher)
    before = dump_database()
    batch = preview(cast, *YEAR)
    assert dump_database() == before
    assert {group["title"]: group["kind"] for group in batch.content["groups"]} == {
        "First day of school": "first_day",
        "Last day of school": "last_day",
        "No school - Columbus Day": "closed",
        "Early dismissal": "early_dismissal",
        "Thanksgiving recess": "closed",
        "Superintendent's Conference Day": "no_students",
        "Chess club": "ordinary",
    }
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    year = SchoolYear.objects.get(district=cast.district)
    assert (year.name, year.first_day, year.last_day) == ("2026-27", dt.date(2026, 9, 8), dt.date(2027, 6, 18))
    saved = CalendarEntry.objects.filter(district=cast.district).values_list("first_date", "last_date", "kind")
    assert set(saved) == {
        (dt.date(2026, 10, 12), dt.date(2026, 10, 12), "closed"),
        (dt.date(2026, 11, 3), dt.date(2026, 11, 3), "no_students"),
        (dt.date(2026, 11, 25), dt.date(2026, 11, 25), "early_dismissal"),
        (dt.date(2026, 11, 26), dt.date(2026, 11, 27), "closed"),
    }


def test_a_choice_counts(cast: Cast) -> None:
    """What the person chooses wins over what was recognized."""
    batch = preview(cast, *YEAR)
    chosen = [
        {"Chess club": "delayed_opening", "Early dismissal": "ordinary"}.get(group["title"], group["kind"])
        for group in batch.content["groups"]
    ]
    calendar_commit(actor=cast.teacher, batch=batch, kinds=chosen)
    assert CalendarEntry.objects.get(title="Chess club").kind == "delayed_opening"
    assert not CalendarEntry.objects.filter(title="Early dismissal").exists()


def test_undo_restores_the_calendar_exactly(cast: Cast) -> None:
    """Entries and school year go; an entry that was corrected comes back as it was."""
    CalendarEntry.objects.create(
        district=cast.district,
        first_date="2026-11-26",
        last_date="2026-11-26",
        kind="closed",
        title="Thanksgiving recess",
    )
    word_rules_ensure(actor=cast.teacher)
    before = dump_database()
    batch = preview(cast, *YEAR)
    assert batch.content["tallies"]["calendar"]["changed"] == 1
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    assert CalendarEntry.objects.get(title="Thanksgiving recess").last_date == dt.date(2026, 11, 27)
    import_undo(actor=cast.teacher, batch=batch)
    assert dump_database() == before


def test_the_same_calendar_twice_changes_nothing(cast: Cast) -> None:
    """A second import of one file finds everything there."""
    batch = preview(cast, *YEAR)
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    before = dump_database()
    again = preview(cast, *YEAR)
    tally = again.content["tallies"]["calendar"]
    assert (tally["new"], tally["changed"], tally["same"]) == (0, 0, 5)
    calendar_commit(actor=cast.teacher, batch=again, kinds=kinds(again))
    assert dump_database() == before


def test_recurring_events_across_a_clock_change(cast: Cast) -> None:
    """Every other Wednesday at 11:30 New York time stays on Wednesdays after November 1, 2026.

    The clock goes back on that day (Pub. L. 109-58 section 110); the fourth occurrence lies behind it. An event
    given in UTC at 03:30 falls on the evening before in New York, on either side of the change.
    """
    batch = preview(
        cast,
        "DTSTART;TZID=America/New_York:20260923T113000\r\nRRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=5\r\n"
        "SUMMARY:Early release",
        "DTSTART:20261031T033000Z\r\nDTEND:20261031T040000Z\r\nRRULE:FREQ=DAILY;INTERVAL=4;COUNT=2\r\n"
        "SUMMARY:Schools closed",
    )
    dates = {group["title"]: [first for first, _ in group["dates"]] for group in batch.content["groups"]}
    assert dates["Early release"] == ["2026-09-23", "2026-10-07", "2026-10-21", "2026-11-04", "2026-11-18"]
    assert dates["Schools closed"] == ["2026-10-30", "2026-11-03"]
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    early = CalendarEntry.objects.filter(kind="early_dismissal").values_list("first_date", flat=True)
    assert {date.isoweekday() for date in early} == {3}


def test_a_calendar_with_no_school_days(cast: Cast) -> None:
    """A closure of the whole year is refused with a sentence, in the preview and at the commit."""
    batch = preview(cast, "DTSTART;VALUE=DATE:20260801\r\nDTEND;VALUE=DATE:20270801\r\nSUMMARY:School closed")
    assert batch.problem_count == 1
    assert "no date from August 1, 2026 to July 31, 2027 is a school day" in batch.content["problems"][0]["message"]
    before = dump_database()
    with pytest.raises(ApplicationError) as refused:
        calendar_commit(actor=cast.teacher, batch=batch, kinds=["closed"])
    assert refused.value.code == "import_has_problems"
    assert dump_database() == before
    calendar_commit(actor=cast.teacher, batch=batch, kinds=["ordinary"])


def test_a_first_day_without_a_last(cast: Cast) -> None:
    """Half a school year is a notice, not a school year."""
    batch = preview(cast, YEAR[0])
    assert [problem["warning"] for problem in batch.content["problems"]] == [True]
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    assert not SchoolYear.objects.exists()


@pytest.mark.parametrize("content", [b"not a calendar", calendar(day("20240101", "Holiday")), b"\xff\xfeB\x00"])
def test_files_that_cannot_be_used(cast: Cast, content: bytes) -> None:
    """No calendar, another year, another encoding: a sentence each."""
    with pytest.raises(ApplicationError) as refused:
        calendar_preview(actor=cast.teacher, filename="x.ics", content=content, first=FIRST, last=LAST)
    assert (refused.value.code, refused.value.status) == ("unreadable_file", 422)
    assert not ImportBatch.objects.exists()


@pytest.mark.parametrize("chosen", [[], ["closed"], ["closed", "nonsense"]])
def test_choices_that_do_not_fit(cast: Cast, chosen: list[str]) -> None:
    """One known kind for each event."""
    batch = preview(cast, YEAR[2], YEAR[3])
    with pytest.raises(ApplicationError) as refused:
        calendar_commit(actor=cast.teacher, batch=batch, kinds=chosen)
    assert refused.value.code == "choices_missing"


def test_a_calendar_is_not_committed_as_tables(cast: Cast) -> None:
    """The wrong service for a preview refuses with a sentence."""
    with pytest.raises(ApplicationError) as refused:
        import_commit(actor=cast.teacher, batch=preview(cast, *YEAR))
    assert refused.value.code == "not_in_preview"


def test_an_exception_of_one_building(cast: Cast) -> None:
    """The entries belong to the building; the district's school year stays as it is."""
    batch = calendar_preview(
        actor=cast.teacher,
        filename="north.ics",
        content=calendar(*YEAR),
        first=FIRST,
        last=LAST,
        building=cast.north,
    )
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    assert set(CalendarEntry.objects.values_list("building", flat=True)) == {cast.north.pk}
    assert not SchoolYear.objects.exists()


def test_public_holidays_of_a_state(cast: Cast) -> None:
    """5 U.S.C. 6103: Labor Day is the first Monday of September, Thanksgiving the fourth Thursday of November."""
    batch = holidays_preview(actor=cast.teacher, state="ny", first=FIRST, last=LAST)
    calendar_commit(actor=cast.teacher, batch=batch, kinds=kinds(batch))
    dates = set(CalendarEntry.objects.values_list("first_date", flat=True))
    assert {dt.date(2026, 9, 7), dt.date(2026, 11, 26), dt.date(2027, 1, 1)} <= dates
    assert all(FIRST <= date <= LAST for date in dates)
    with pytest.raises(ApplicationError, match="not a state"):
        holidays_preview(actor=cast.teacher, state="ZZ", first=FIRST, last=LAST)


def test_the_districts_words_decide(cast: Cast) -> None:
    """The usual words are there once; a word that the district adds before them wins; others' words don't count."""
    word_rules_ensure(actor=cast.teacher)
    count = WordRule.objects.filter(district=cast.district).count()
    word_rules_ensure(actor=cast.coordinator)
    assert WordRule.objects.filter(district=cast.district).count() == count > 20
    WordRule.objects.create(district=cast.district, words="chess club", kind="closed", position=1)
    WordRule.objects.create(district=cast.other_district, words="early dismissal", kind="closed", position=1)
    batch = preview(cast, *YEAR)
    found = {group["title"]: group["kind"] for group in batch.content["groups"]}
    assert (found["Chess club"], found["Early dismissal"]) == ("closed", "early_dismissal")


def test_an_event_after_all_ordinary(cast: Cast) -> None:
    """“Holiday concert” has the word holiday and closes nothing."""
    batch = preview(cast, day("20261218", "Holiday concert"), YEAR[2])
    assert {group["title"]: group["kind"] for group in batch.content["groups"]}["Holiday concert"] == "ordinary"


def test_what_is_in_doubt_is_a_question_of_the_preview(cast: Cast) -> None:
    """Not saved unless it is answered; the answer is kept, so the same file asks no more."""
    title = "Kindergarten Early Dismissal K only"
    batch = preview(cast, day("20261002", title), day("20261218", "No school"))
    assert [(group["title"], group["kind"]) for group in batch.content["groups"]] == [
        (title, "undecided"), ("No school", "closed"),
    ]  # fmt: skip
    client = Client()
    client.force_login(cast.teacher)
    page = client.get(reverse("import_preview", args=[batch.pk])).content.decode()
    assert f"What is “{title}”?" in page
    assert "it also says “kindergarten k only”" in page
    sent = client.post(
        reverse("import_commit", args=[batch.pk]), {"kind-0": "undecided", "kind-1": "closed"}, follow=True
    )
    assert "Not decided, so not saved" in sent.content.decode()
    assert [entry.title for entry in CalendarEntry.objects.all()] == ["No school"]
    again = preview(cast, day("20261002", title))
    calendar_commit(actor=cast.teacher, batch=again, kinds=["early_dismissal"])
    assert CalendarEntry.objects.get(title=title).kind == "early_dismissal"
    assert kinds(preview(cast, day("20261106", title))) == ["early_dismissal"]
