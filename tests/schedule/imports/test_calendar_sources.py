"""The district's school calendar by address: read again and again, saved by a decision, never lost.

What a day does to classes is the district's table of words (common practice, no source). Dates and titles are held
as RFC 5545 sections 3.6.1 and 3.8.1.12 write them.
"""

import datetime as dt
import logging
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from jobs.models import Job
from jobs.registry import ask_for_regular_work
from jobs.runner import work_once
from schedule.calendar.models import CalendarEntry, CalendarSource, SchoolYear, WordRule
from schedule.calendar.published.fetch import LARGEST_BYTES
from schedule.calendar.selectors.sources import questions_of
from schedule.calendar.services.records import calendar_entry_save
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import calendar_commit
from schedule.imports.services.calendar_labels import NO_ROTATION
from schedule.imports.services.calendar_sources import (
    KIND,
    MOST_SOURCES,
    source_again,
    source_answer,
    source_apply,
    source_delete,
    source_preview,
    source_read,
    source_save,
    sources_ask_due,
)
from schedule.imports.services.tables import import_undo
from tests.answering_server import server_that
from tests.api import Api
from tests.conftest import Cast, date_there
from tests.schedule.builders import date, make_cycle
from tests.schedule.feeds.conftest import Clock, clock  # noqa: F401 -- a fixture is used by its name
from tests.schedule.imports.test_calendar_import import calendar, day

BREAK = "DTSTART;VALUE=DATE:20261126\r\nDTEND;VALUE=DATE:20261128\r\nSUMMARY:Thanksgiving recess"
EARLY = day("20261125", "Early dismissal")
CHESS = day("20261204", "Chess club")


@dataclass
class Website:
    """A school's website on loopback, and the address read from it."""

    site: str
    cast: Cast
    answer: tuple[int, bytes] = (200, b"")
    paths: list[str] = field(default_factory=list)

    def says(self, path: str, _body: bytes) -> tuple[int, bytes]:
        """What it answers."""
        self.paths.append(path)
        return self.answer

    def publish(self, *events: str, cut: int = 0) -> None:
        """A calendar of these events, without so many bytes of its end."""
        whole = calendar(*events)
        self.answer = (200, whole[: len(whole) - cut])

    def add(self, **values: object) -> CalendarSource:
        """Its address, added by the coordinator."""
        given = {"title": "Website", "address": f"{self.site}/secret-token.ics", **values}
        return source_save(actor=self.cast.coordinator, row=CalendarSource(), values=given)

    def read(self, row: CalendarSource) -> bool:
        """Read it, loopback counted as public; the row has what it told."""
        found = source_read(row=CalendarSource.objects.get(pk=row.pk), allowed=bool)
        row.refresh_from_db()
        return found

    def commit(self, row: CalendarSource, *, remove: tuple[int, ...] = ()) -> ImportBatch:
        """Review what is waiting and save it as recognized."""
        batch = source_preview(actor=self.cast.coordinator, row=row)
        kinds = [group["kind"] for group in batch.content["groups"]]
        done = calendar_commit(actor=self.cast.coordinator, batch=batch, kinds=kinds, remove=remove)
        row.refresh_from_db()
        return done


@pytest.fixture
def website(cast: Cast, clock: Clock) -> Iterator[Website]:  # noqa: F811 -- the fixture
    """On Tuesday, September 15, 2026, with three events."""
    one = Website("", cast)
    with server_that(one.says) as site:
        one.site = site
        one.publish(BREAK, EARLY, CHESS)
        yield one


def days() -> list[tuple[str, str, str]]:
    """What the calendar holds."""
    rows = CalendarEntry.objects.order_by("first_date", "title")
    return [(f"{row.first_date:%m-%d}", f"{row.last_date:%m-%d}", row.kind) for row in rows]


def counts(row: CalendarSource) -> dict[str, int]:
    """What waits, by kind, nothing that is none."""
    return {name: count for name, count in row.waiting.items() if name not in {"soon", "questions"} and count}


# ---- a reading saves nothing; a person does --------------------------------------------------------------


def test_what_is_read_waits_for_a_person(website: Website) -> None:
    """Then it is saved by the import of calendars, and taken back by it."""
    row = website.add()
    assert not row.content
    assert website.read(row)
    assert days() == []
    assert counts(row) == {"new": 2, "unrecognised": 1, "plain": 2}
    done = website.commit(row)
    assert days() == [("11-25", "11-25", "early_dismissal"), ("11-26", "11-27", "closed")]
    assert counts(row) == {}
    website.read(row)
    assert counts(row) == {}
    import_undo(actor=website.cast.coordinator, batch=done)
    assert days() == []
    website.read(row)
    assert counts(row) == {}, "what was taken back is not offered again by itself"
    assert source_preview(actor=website.cast.coordinator, row=row, everything=True).content["groups"]


def test_only_what_changed_is_shown_again(website: Website) -> None:
    """One day new, one longer, one gone; what was left out stays out."""
    row = website.add()
    website.read(row)
    website.commit(row)
    longer = BREAK.replace("20261128", "20261201")
    website.publish(longer, CHESS, day("20270118", "No school - Martin Luther King"))
    website.read(row)
    assert counts(row) == {"new": 1, "changed": 1, "gone": 1, "plain": 2}
    batch = source_preview(actor=website.cast.coordinator, row=row)
    assert [group["title"] for group in batch.content["groups"]] == [
        "Thanksgiving recess", "No school - Martin Luther King",
    ]  # fmt: skip
    assert [gone["title"] for gone in batch.content["gone"]] == ["Early dismissal"]


def test_what_is_gone_is_removed_only_if_ticked(website: Website) -> None:
    """And comes back with the undo; unticked it stays and isn't asked about again."""
    row = website.add()
    website.read(row)
    website.commit(row)
    early = CalendarEntry.objects.get(kind="early_dismissal")
    website.publish(BREAK, CHESS)
    website.read(row)
    assert counts(row) == {"gone": 1}
    done = website.commit(row, remove=(early.pk,))
    assert days() == [("11-26", "11-27", "closed")]
    assert done.content["tallies"]["calendar"]["removed"] == 1
    import_undo(actor=website.cast.coordinator, batch=done)
    assert CalendarEntry.objects.get(pk=early.pk).kind == "early_dismissal"
    website.publish(EARLY, CHESS)
    website.read(row)
    website.commit(row)
    assert ("11-26", "11-27", "closed") in days()
    website.read(row)
    assert counts(row) == {}


def test_only_offered_days_can_be_removed(website: Website) -> None:
    """The preview's list is the whole choice."""
    row = website.add()
    website.read(row)
    other = CalendarEntry.objects.create(district=website.cast.district, first_date=date(30), last_date=date(30))
    with pytest.raises(ApplicationError) as told:
        website.commit(row, remove=(other.pk,))
    assert told.value.code == "choices_missing"
    assert [row.pk for row in CalendarEntry.objects.all()] == [other.pk]


def test_a_day_corrected_by_hand_is_the_persons_own(website: Website) -> None:
    """The same calendar doesn't put it back, and doesn't call it gone."""
    row = website.add()
    website.read(row)
    website.commit(row)
    mine = CalendarEntry.objects.get(kind="closed")
    values = {"last_date": dt.date(2026, 11, 30), "title": "Recess and a storm"}
    calendar_entry_save(actor=website.cast.coordinator, row=mine, values=values)
    website.read(row)
    assert counts(row) == {}
    website.publish(EARLY, CHESS)
    website.read(row)
    assert counts(row) == {}


def test_another_title_for_the_same_days_is_not_gone(website: Website) -> None:
    """The day is still closed."""
    row = website.add()
    website.read(row)
    website.commit(row)
    website.publish(BREAK.replace("Thanksgiving recess", "No school: harvest break"), EARLY, CHESS)
    website.read(row)
    assert counts(row) == {}


def test_days_that_are_over_are_not_gone(website: Website) -> None:
    """Websites drop what is past."""
    website.publish(day("20260914", "School closed"), CHESS)
    row = website.add()
    website.read(row)
    website.commit(row)
    website.publish(CHESS)
    website.read(row)
    assert counts(row) == {}
    assert days() == [("09-14", "09-14", "closed")]


def test_what_of_the_file_was_left_out_stands_at_the_address(website: Website) -> None:
    """On the page, by the API and in each preview; the rest is read, and a better file clears it."""
    broken = day("20261013", "School closed") + "\r\nDURATION:P1H"
    website.publish(BREAK, broken)
    row = website.add()
    assert website.read(row)
    said = 'Event "School closed" was left out: DURATION cannot be read.'
    assert row.left_out == [said]
    assert counts(row) == {"new": 1, "plain": 1}
    client = Client()
    client.force_login(website.cast.coordinator)
    escaped = said.replace('"', "&quot;")
    assert escaped in client.get(reverse("calendar")).content.decode()
    assert escaped in client.post(
        reverse("calendar_source_look", args=[row.pk]), follow=True
    ).content.decode()  # fmt: skip
    assert Api(website.cast.coordinator).get(f"calendar-sources/{row.pk}/")["left_out"] == [said]
    website.publish(BREAK)
    website.read(row)
    assert row.left_out == []


# ---- by itself -------------------------------------------------------------------------------------------


def test_recognized_days_are_saved_alone_where_it_is_wished(website: Website) -> None:
    """From today on; the past, the ends of the year and what no words fit still wait, and nothing is removed."""
    website.publish(
        BREAK, EARLY, CHESS, day("20260914", "School closed"), day("20260908", "First day of school"),
        day("20270618", "Early dismissal, last day of school"),
    )  # fmt: skip
    row = website.add(applies_alone=True)
    website.read(row)
    assert days() == [("11-25", "11-25", "early_dismissal"), ("11-26", "11-27", "closed")]
    assert counts(row) == {"new": 2, "ends": 2, "unrecognised": 1}
    assert not SchoolYear.objects.exists()
    assert ImportBatch.objects.get().person == website.cast.coordinator
    website.publish(BREAK, CHESS)
    website.read(row)
    assert len(days()) == 2
    assert counts(row)["gone"] == 1


def test_what_contradicts_a_saved_day_waits(website: Website) -> None:
    """A person said that the school is open after all, or something else of one of these days."""
    calendar_entry_save(
        actor=website.cast.coordinator,
        row=CalendarEntry(kind="early_dismissal", title="Storm"),
        values={"first_date": dt.date(2026, 11, 27), "last_date": dt.date(2026, 11, 27)},
    )
    row = website.add(applies_alone=True)
    website.read(row)
    assert days() == [("11-25", "11-25", "early_dismissal"), ("11-27", "11-27", "early_dismissal")]
    assert counts(row) == {"new": 1, "unrecognised": 1}


ASSEMBLY = day("20270118", "Martin Luther King Day Celebration")
LITTLE_ONES = day("20261002", "Kindergarten Early Dismissal K only")


def test_what_is_in_doubt_is_never_saved_alone(website: Website) -> None:
    """Not as a closed and not as a short day for everybody; nor by one press, nor by a hasty preview."""
    website.publish(BREAK, ASSEMBLY, LITTLE_ONES, day("20261218", "Holiday party, early dismissal"))
    row = website.add(applies_alone=True)
    website.read(row)
    assert days() == [("11-26", "11-27", "closed")]
    assert counts(row)["doubtful"] == 3
    assert [one.title for one in questions_of(row)] == [
        "Kindergarten Early Dismissal K only",
        "Holiday party, early dismissal",
        "Martin Luther King Day Celebration",
    ]
    with pytest.raises(ApplicationError) as told:
        source_apply(actor=website.cast.teacher, row=row)
    assert told.value.code == "nothing_plain"
    done = website.commit(row)
    assert len(days()) == 1
    assert len(done.content["open"]) == 3
    assert counts(row)["doubtful"] == 3, "still to be asked, before the next reading already"


def test_an_answer_is_saved_and_kept(website: Website) -> None:
    """As a day and as the district's words: the next event of this title needs no question; undo takes back."""
    website.publish(ASSEMBLY, LITTLE_ONES, CHESS)
    row = website.add(applies_alone=True)
    website.read(row)
    coordinator = website.cast.coordinator
    source_answer(actor=coordinator, row=row, title="Martin Luther King Day Celebration", kind="ordinary")
    row.refresh_from_db()
    assert counts(row) == {"new": 1, "unrecognised": 1, "doubtful": 1}
    done = source_answer(
        actor=coordinator, row=row, title="Kindergarten Early Dismissal K only", kind="early_dismissal"
    )
    row.refresh_from_db()
    assert counts(row) == {"unrecognised": 1}
    assert days() == [("10-02", "10-02", "early_dismissal")]
    kept = WordRule.objects.filter(position=1).values_list("words", "kind")
    assert set(kept) == {
        ("Martin Luther King Day Celebration", "ordinary"),
        ("Kindergarten Early Dismissal K only", "early_dismissal"),
    }
    website.publish(ASSEMBLY, LITTLE_ONES, LITTLE_ONES.replace("20261002", "20261106"), CHESS)
    website.read(row)
    assert days() == [("10-02", "10-02", "early_dismissal"), ("11-06", "11-06", "early_dismissal")]
    import_undo(actor=coordinator, batch=ImportBatch.objects.latest("pk"))
    import_undo(actor=coordinator, batch=done)
    assert days() == []
    assert list(WordRule.objects.filter(position=1).values_list("kind", flat=True)) == ["ordinary"]


def test_answers_that_are_none(website: Website) -> None:
    """A title that isn't asked about, and a kind that isn't there."""
    website.publish(LITTLE_ONES, BREAK)
    row = website.add()
    website.read(row)
    for title, kind, code in (
        ("Thanksgiving recess", "closed", "not_asked"),
        ("Kindergarten Early Dismissal K only", "undecided", "choices_missing"),
    ):
        with pytest.raises(ApplicationError) as told:
            source_answer(actor=website.cast.coordinator, row=row, title=title, kind=kind)
        assert told.value.code == code
    assert days() == []
    assert not WordRule.objects.filter(position=1).exists()


def test_the_end_of_a_break_is_asked_and_kept(website: Website) -> None:
    """Not saved by itself; with its last day it is the whole break, is not asked again and isn't gone."""
    website.publish(day("20261221", "Winter Break"), day("20261111", "Veteran's Day"))
    row = website.add(applies_alone=True)
    website.read(row)
    assert days() == []
    assert [(one.title, one.asks_end) for one in questions_of(row)] == [
        ("Veteran's Day", False), ("Winter Break", True),
    ]  # fmt: skip
    client = Client()
    client.force_login(website.cast.coordinator)
    assert 'name="until"' in client.get(reverse("calendar")).content.decode()
    address = reverse("calendar_source_answer", args=[row.pk])
    for wrong in ("2026-12-20", "2027-06-01", "soon"):
        client.post(address, {"title": "Winter Break", "kind": "closed", "until": wrong})
        assert days() == []
    client.post(address, {"title": "Winter Break", "kind": "closed", "until": "2027-01-01"})
    assert days() == [("12-21", "01-01", "closed")]
    website.read(row)
    assert counts(row) == {"new": 1, "doubtful": 1}
    api = Api(website.cast.coordinator)
    path = f"calendar-sources/{row.pk}/answer/"
    api.post(path, expect=422, title="Veteran's Day", kind="closed", until="2026-11-12")
    api.post(path, expect=200, title="Veteran's Day", kind="closed")
    assert days() == [("11-11", "11-11", "closed"), ("12-21", "01-01", "closed")]


def test_a_break_has_its_end_by_the_preview_as_well(website: Website) -> None:
    """By the page's form and by the API, each at the place of its event."""
    website.publish(day("20261221", "Winter Break"))
    row = website.add()
    website.read(row)
    batch = source_preview(actor=website.cast.coordinator, row=row)
    client = Client()
    client.force_login(website.cast.coordinator)
    assert 'name="until-0"' in client.get(reverse("import_preview", args=[batch.pk])).content.decode()
    api = Api(website.cast.coordinator)
    path = f"imports/{batch.pk}/commit/"
    api.post(path, expect=422, kinds=["closed"], ends=[{"event": 3, "until": "2027-01-01"}])
    form = {"kind-0": "closed", "until-0": "2027-01-01"}
    assert client.post(reverse("import_commit", args=[batch.pk]), form).status_code == 302
    assert days() == [("12-21", "01-01", "closed")]


def test_cycle_days_are_held_against_the_rotation(website: Website) -> None:
    """At the address, in the preview and by the API; a school without such a rotation isn't compared."""
    named = [day(f"202609{n}", f"Day {label}") for n, label in ((14, 1), (15, 2), (16, 3), (17, 5))]
    website.publish(BREAK, *named)
    row = website.add()
    website.read(row)
    assert row.label_notes == [NO_ROTATION]
    make_cycle(website.cast.north)
    SchoolYear.objects.create(district=website.cast.district, name="2026-27", first_day=date(0), last_day=date(280))
    website.read(row)
    (said,) = row.label_notes
    assert f"{website.cast.north}: the calendar and the rotation differ on 1 of 4 days: September 17, 2026" in said
    assert counts(row) == {"new": 1, "plain": 1}
    client = Client()
    client.force_login(website.cast.coordinator)
    assert "differ on 1 of 4 days" in client.get(reverse("calendar")).content.decode()
    batch = source_preview(actor=website.cast.coordinator, row=row)
    page = reverse("import_preview", args=[batch.pk])
    assert "differ on 1 of 4 days" in client.get(page).content.decode()
    calendar_commit(actor=website.cast.coordinator, batch=batch, kinds=["closed"])
    assert "differ on 1 of 4 days" in client.get(page).content.decode(), "kept with what was saved"
    assert Api(website.cast.coordinator).get(f"calendar-sources/{row.pk}/")["label_notes"] == [said]
    website.publish(BREAK, *named[:3])
    website.read(row)
    assert row.label_notes == [f"{website.cast.north}: the calendar and the rotation agree on all of 3 days."]


def test_a_file_that_breaks_off_takes_nothing_out(website: Website) -> None:
    """What it doesn't say may only be missing."""
    website.publish(BREAK, CHESS)
    row = website.add(applies_alone=True)
    website.read(row)
    assert days() == [("11-26", "11-27", "closed")]
    website.publish(CHESS, BREAK, cut=30)
    website.read(row)
    assert "gone" not in counts(row)
    assert any("breaks off" in said for said in row.left_out)
    website.publish(CHESS)
    website.read(row)
    assert counts(row)["gone"] == 1


def test_a_school_of_its_own_is_asked_about(website: Website) -> None:
    """The district's calendar names one school: not for everybody; that school's own calendar names itself."""
    name = website.cast.north.name
    website.publish(day("20261002", f"No School: {name}"))
    row = website.add()
    website.read(row)
    assert counts(row) == {"new": 1, "doubtful": 1}
    row = source_save(actor=website.cast.coordinator, row=row, values={"building": website.cast.north})
    website.read(row)
    assert counts(row) == {"new": 1, "plain": 1}


def test_questions_stand_on_the_page_with_their_answers(website: Website) -> None:
    """With the reason, and one press answers; the API does the same."""
    website.publish(ASSEMBLY, LITTLE_ONES)
    row = website.add()
    website.read(row)
    client = Client()
    client.force_login(website.cast.coordinator)
    page = client.get(reverse("calendar")).content.decode()
    assert "What is “Martin Luther King Day Celebration”?" in page
    assert "It has the words “martin luther king”, but it also says “celebration”." in page
    form = {"title": "Martin Luther King Day Celebration", "kind": "ordinary"}
    assert client.post(reverse("calendar_source_answer", args=[row.pk]), form).status_code == 302
    assert "What is “Martin" not in client.get(reverse("calendar")).content.decode()
    api = Api(website.cast.coordinator)
    path = f"calendar-sources/{row.pk}/"
    (asked,) = api.get(path)["questions"]
    assert (asked["title"], asked["kind"]) == ("Kindergarten Early Dismissal K only", "undecided")
    api.post(f"{path}answer/", expect=400, title=asked["title"], kind="undecided")
    api.post(f"{path}answer/", expect=200, title=asked["title"], kind="early_dismissal")
    assert days() == [("10-02", "10-02", "early_dismissal")]
    assert api.get(path)["questions"] == []


def test_one_press_saves_what_is_plain(website: Website) -> None:
    """The rest waits on."""
    row = website.add()
    website.read(row)
    source_apply(actor=website.cast.teacher, row=row)
    row.refresh_from_db()
    assert len(days()) == 2
    assert counts(row) == {"unrecognised": 1}
    with pytest.raises(ApplicationError) as told:
        source_apply(actor=website.cast.teacher, row=row)
    assert told.value.code == "nothing_plain"


def test_a_keeper_who_left_saves_nothing(website: Website) -> None:
    """What was read is kept, and the page says what to do."""
    row = website.add(applies_alone=True)
    Person.objects.filter(pk=website.cast.coordinator.pk).update(is_active=False)
    assert website.read(row)
    assert days() == []
    assert "in your name" in row.problem
    assert counts(row)["new"] == 2


# ---- what goes wrong -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ((404, b"the server's own words"), "status 404. Check the address"),
        ((500, b""), "status 500"),
        ((200, b"<html>Sign in</html>"), "not an iCalendar file"),
        ((200, b"x" * (LARGEST_BYTES + 1)), "more than 5,000,000 bytes"),
        ((200, calendar(day("20201012", "No school"))), "None of the 1 events"),
    ],
)
def test_a_failed_reading_keeps_the_last_good_one(website: Website, answer: tuple[int, bytes], words: str) -> None:
    """What is wrong and what to do stand at the row; what waited can still be saved."""
    row = website.add()
    website.read(row)
    read_at = row.read_at
    website.answer = answer
    assert not website.read(row)
    assert words in row.problem
    assert "own words" not in row.problem
    assert row.read_at == read_at
    website.commit(row)
    assert len(days()) == 2
    website.publish(BREAK)
    assert website.read(row)
    assert row.problem == ""


def test_the_own_network_is_never_asked(website: Website) -> None:
    """The job judges loopback as everybody's does."""
    row = website.add()
    assert work_once()
    row.refresh_from_db()
    assert "private network" in row.problem
    assert website.paths == []
    with pytest.raises(ApplicationError) as told:
        source_preview(actor=website.cast.coordinator, row=row)
    assert told.value.code == "not_read"


@pytest.mark.parametrize(
    "address", ["ftp://fells.example/a.ics", "https://u:p@fells.example/", "nowhere", "https://"]
)
def test_addresses_that_are_none(website: Website, address: str) -> None:
    """At the field, before anybody is asked."""
    with pytest.raises(ValidationError) as told:
        website.add(address=address)
    assert set(told.value.message_dict) == {"address"}
    assert not CalendarSource.objects.exists()


def test_webcal_is_kept_as_https(website: Website) -> None:
    """By its other name."""
    assert website.add(address=" webcal://fells.example/a.ics ").address == "https://fells.example/a.ics"


def test_the_address_is_in_no_log_and_no_audit(website: Website, caplog: pytest.LogCaptureFixture) -> None:
    """Nor in the job. Libraries are kept from telling it as well."""
    with caplog.at_level(logging.DEBUG):
        logging.getLogger("urllib3").setLevel(logging.WARNING)
        row = website.add()
        website.read(row)
        work_once()
    assert website.paths == ["/secret-token.ics"]
    written = [caplog.text, *(str(one.changes) for one in AuditEntry.objects.all())]
    written += [str(job.payload) for job in Job.objects.all()]
    assert not [text for text in written if "secret-token" in text]


# ---- when it is read -------------------------------------------------------------------------------------


def reads() -> int:
    """Does the work that waits; how often a school's calendar was read in it."""
    waiting = Job.objects.filter(kind=KIND, state=Job.State.WAITING).count()
    while work_once():
        pass
    return waiting


def test_it_is_read_every_hour(website: Website) -> None:
    """By whichever worker comes first, and once; on demand at any time."""
    row = website.add()
    assert reads() == 1
    ask_for_regular_work()
    assert reads() == 0
    CalendarSource.objects.update(asked_at=timezone.now() - dt.timedelta(minutes=61))
    ask_for_regular_work()
    ask_for_regular_work()
    assert reads() == 1
    source_again(actor=website.cast.teacher, row=row)
    assert reads() == 1
    assert sources_ask_due(district=website.cast.other_district) == 0


def test_a_new_address_forgets_what_the_old_one_said(website: Website) -> None:
    """But not which events were decided; another school is another matter altogether."""
    row = website.add()
    website.read(row)
    website.commit(row)
    row = source_save(actor=website.cast.teacher, row=row, values={"address": f"{website.site}/other.ics"})
    row.refresh_from_db()
    assert (bytes(row.content), row.read_at, row.keeper) == (b"", None, website.cast.teacher)
    website.read(row)
    assert counts(row) == {}
    row = source_save(actor=website.cast.teacher, row=row, values={"building": website.cast.north})
    website.read(row)
    assert counts(row)["new"] == 2
    website.commit(row)
    assert CalendarEntry.objects.filter(building=website.cast.north).count() == 2


def test_days_stay_when_the_address_goes(website: Website) -> None:
    """They are the district's."""
    row = website.add()
    website.read(row)
    website.commit(row)
    source_delete(actor=website.cast.coordinator, row=row)
    assert len(days()) == 2


def test_who_may(website: Website) -> None:
    """Who may change the calendar; a stranger finds nothing, an office may not."""
    row = website.add()
    for actor, status in ((website.cast.office, 403), (website.cast.substitute, 403), (website.cast.stranger, 404)):
        for call in (source_again, source_delete, source_preview, source_apply):
            with pytest.raises(ApplicationError) as told:
                call(actor=actor, row=row)
            assert told.value.status == status
        with pytest.raises(ApplicationError):
            source_save(actor=actor, row=row, values={"title": "Mine"})
    with pytest.raises(ValidationError):
        website.add(title="Website")
    for number in range(MOST_SOURCES - 1):
        website.add(title=f"More {number}")
    with pytest.raises(ApplicationError) as told:
        website.add(title="One too many")
    assert told.value.code == "too_many"


# ---- by page and by API ----------------------------------------------------------------------------------


def test_the_way_through_the_pages(website: Website) -> None:
    """Add, see what waits, look, save; the address itself stands in its form only."""
    client = Client()
    client.force_login(website.cast.coordinator)
    form = {"title": "Fells website", "address": f"{website.site}/secret-token.ics", "building": ""}
    assert client.post(reverse("calendar_source_new"), form).status_code == 302
    row = CalendarSource.objects.get()
    website.read(row)
    page = client.get(reverse("calendar")).content.decode()
    assert "2 new, 1 not recognized" in page
    assert "Save the 2 clear-cut" in page
    assert "secret-token" not in page
    answer = client.post(reverse("calendar_source_look", args=[row.pk]))
    shown = client.get(answer["Location"]).content.decode()
    assert "Thanksgiving recess" in shown
    batch = ImportBatch.objects.get()
    kinds = {f"kind-{place}": group["kind"] for place, group in enumerate(batch.content["groups"])}
    client.post(reverse("import_commit", args=[batch.pk]), kinds)
    assert len(days()) == 2
    website.publish(BREAK, CHESS)
    website.read(row)
    shown = client.post(reverse("calendar_source_look", args=[row.pk]), follow=True).content.decode()
    early = CalendarEntry.objects.get(kind="early_dismissal")
    assert f'name="remove-{early.pk}"' in shown
    client.post(reverse("import_commit", args=[ImportBatch.objects.latest("pk").pk]), {f"remove-{early.pk}": "on"})
    assert days() == [("11-26", "11-27", "closed")]
    refused = client.post(reverse("calendar_source_save", args=[row.pk]), follow=True).content.decode()
    assert "without a review" in refused
    assert client.post(reverse("calendar_source_new"), {**form, "address": "ftp://x"}).status_code == 422


def test_a_change_of_the_coming_days_stands_at_the_top(cast: Cast) -> None:
    """Before anything else on the page of the calendar and among what needs attention; not once it is over."""
    one = Website("", cast)
    tomorrow = date_there() + dt.timedelta(days=1)
    with server_that(one.says) as site:
        one.site = site
        one.publish(day(f"{tomorrow:%Y%m%d}", "School closed: storm"))
        row = one.add()
        one.read(row)
    client = Client()
    client.force_login(cast.coordinator)
    page = client.get(reverse("calendar")).content.decode()
    assert "says something new about the coming days" in page
    assert page.index("School closed: storm") < page.index('id="days"')
    assert "School closed: storm" in client.get(reverse("attention")).content.decode()
    row.waiting["soon"][0][1:3] = [f"{tomorrow - dt.timedelta(days=9)}"] * 2
    row.save()
    assert "coming days" not in client.get(reverse("calendar")).content.decode()


def test_the_same_by_api(website: Website) -> None:
    """Add, read, preview, commit with a day taken out, change, delete."""
    api = Api(website.cast.coordinator)
    made = api.post("calendar-sources/", title="Website", address=f"{website.site}/a.ics")
    path = f"calendar-sources/{made['id']}/"
    api.post(f"{path}preview/", expect=409)
    row = CalendarSource.objects.get()
    website.read(row)
    assert api.get(path)["waiting"]["new"] == 2
    batch = api.post(f"{path}preview/")
    kinds = [event["kind"] for event in batch["events"]]
    api.post(f"imports/{batch['id']}/commit/", expect=200, kinds=kinds)
    assert len(days()) == 2
    website.publish(EARLY)
    website.read(row)
    batch = api.post(f"{path}preview/")
    assert [gone["title"] for gone in batch["gone"]] == ["Thanksgiving recess"]
    api.post(f"imports/{batch['id']}/commit/", expect=200, kinds=[], remove=[batch["gone"][0]["entry"]])
    assert days() == [("11-25", "11-25", "early_dismissal")]
    website.publish(EARLY, day("20270215", "No school"))
    website.read(row)
    assert api.post(f"{path}apply/", expect=200)["tallies"]["calendar"]["new"] == 1
    assert api.patch(path, applies_alone=True)["applies_alone"]
    api.post(f"{path}read/", expect=200)
    api.post("calendar-sources/", expect=400, title="Website 2", address="nowhere")
    api.delete(path)
    assert Api(website.cast.stranger).get("calendar-sources/")["results"] == []


def test_a_question_about_the_coming_days_is_no_closing(website: Website) -> None:
    """At the top of the calendar it is asked, not told as if the words were right."""
    title = "Kindergarten Early Dismissal K only"
    website.publish(day("20260918", title), day("20260917", "School closed"))
    row = website.add()
    website.read(row)
    assert [(one[0], one[4]) for one in row.waiting["soon"]] == [("new", "School closed"), ("asked", title)]
