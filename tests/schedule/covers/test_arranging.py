"""Who stands in during an absence: arranged, changed, ended, taken back; what is held, logged and refused."""

import datetime as dt
import re
from collections.abc import Mapping

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from accounts.people.services import substitution_delete, substitution_save
from caseload.delivery.models import DeliveryVersion
from schedule.calendar.models import Happening
from schedule.covers.services import CoverWanted, cover_arrange, cover_change, cover_end, cover_foresee
from schedule.day.selectors.sheet import day_sheet
from schedule.feeds.selectors.events import feed_events
from schedule.feeds.services.feeds import feed_add
from schedule.happenings.services.saying import happening_say, happening_take_back
from schedule.packet.models import PacketLink
from schedule.trips.selectors.month import month_trips
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day

pytestmark = pytest.mark.django_db
TUESDAY = MONDAY + dt.timedelta(days=1)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday at 6:40."""
    return make_day(cast, monkeypatch)


def ill(day: Day, **values: object) -> Happening:
    """The teacher is ill on Monday."""
    return happening_say(actor=day.cast.teacher, values={"kind": "away", "first_date": MONDAY, **values})


def missed() -> int:
    """Students for whom a session stands in the log as missed."""
    return DeliveryVersion.objects.current().exclude(reason=None).count()


def held(day: Day, viewer: Person, date: dt.date = MONDAY) -> list[str]:
    """When what somebody sees of the teacher's sessions takes place."""
    return [f"{line.start:%H:%M}" for line in day_sheet(viewer, day.cast.teacher, date).sessions]


def between(driver: Person) -> list[tuple[int, int]]:
    """Trips of the month from school to school."""
    trips = month_trips(driver, MONDAY.replace(day=1)).all
    return [(one.origin_id, one.destination_id) for one in trips if one.origin_id and one.destination_id]


def stands_in(day: Day, **values: object) -> CoverWanted:
    """The district's substitute."""
    return CoverWanted(substitute=day.cast.substitute, **values)  # type: ignore[arg-type]  # the test's own


def test_the_sessions_of_the_day_are_held_after_all(day: Day) -> None:
    """Ill at 6:40: four sessions are logged as missed; with a cover at 6:45 none is, and without it all again."""
    row, cast = ill(day), day.cast
    assert (held(day, cast.teacher), missed()) == ([], 5)
    made = cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day))
    assert (held(day, cast.teacher), missed()) == (["08:30", "10:00", "12:00", "13:15"], 0)
    assert held(day, cast.substitute) == ["08:30", "10:00", "12:00", "13:15"]
    assert day_sheet(cast.substitute, cast.teacher, MONDAY).may_tap
    cover_end(actor=cast.teacher, cover=made.cover)
    assert (held(day, cast.teacher), missed()) == ([], 5)


def test_a_cover_goes_with_the_absence(day: Day) -> None:
    """One press takes back the absence, who stands in for it, and what was logged."""
    row, cast = ill(day), day.cast
    named = frozenset({day.sessions[0].uid})
    cover_arrange(actor=cast.coordinator, absence=row, wanted=stands_in(day, sessions=named))
    assert missed() == 4
    happening_take_back(actor=cast.teacher, row=row)
    assert (Substitution.objects.count(), missed(), len(held(day, cast.teacher))) == (0, 0, 4)
    assert held(day, cast.substitute) == []


def test_some_sessions_alone(day: Day) -> None:
    """Two of four: the others fall out; the substitute sees the two, and drives from one straight to the other."""
    row, cast = ill(day), day.cast
    named = frozenset({day.sessions[0].uid, day.sessions[2].uid})
    cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day, sessions=named))
    assert (held(day, cast.teacher), missed()) == (["08:30", "12:00"], 3)
    sheet = day_sheet(cast.substitute, cast.teacher, MONDAY)
    assert [line.kind for line in sheet.lines] == ["session", "drive", "session"]
    drive = sheet.lines[1].leg
    assert drive is not None
    assert (drive.origin_id, drive.destination_id) == (cast.north.pk, day.west.pk)
    assert {one.code for line in sheet.sessions for one in line.people} == {cast.student.code, "W1"}
    assert between(cast.substitute) == [(cast.north.pk, day.west.pk)]
    assert between(cast.teacher) == []


def test_the_teacher_gives_the_rest(day: Day) -> None:
    """Away until 9:30 with a cover for the first session: the day begins for the teacher at the second school."""
    row, cast = ill(day, end="09:30"), day.cast
    assert held(day, cast.teacher) == ["10:00", "12:00", "13:15"]
    cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day, sessions=frozenset({day.sessions[0].uid})))
    sheet = day_sheet(cast.teacher, cast.teacher, MONDAY)
    assert [line.cover for line in sheet.sessions] == [str(cast.substitute), "", "", ""]
    assert sheet.begin is not None
    assert sheet.begin.building_id == cast.south.pk
    assert held(day, cast.substitute) == ["08:30"]


def test_it_is_shown_before_it_is_saved(day: Day) -> None:
    """Four sessions come back; nothing of it is saved."""
    row, cast = ill(day), day.cast
    found = cover_foresee(
        actor=cast.teacher,
        absence=row,
        act=lambda: cover_arrange(actor=cast.teacher, absence=row, wanted=CoverWanted(called="Kim Aster")),
    )
    assert [one.what for one in found.sessions] == ["back"] * 4
    assert found.drives[0].before == "no drive"
    assert (Substitution.objects.count(), PacketLink.objects.count(), missed()) == (0, 0, 5)
    assert not Person.objects.filter(by_link=True).exists()


def test_it_is_changed(day: Day) -> None:
    """From the whole day to one session, and back."""
    row, cast = ill(day), day.cast
    cover = cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day)).cover
    cover_change(actor=cast.teacher, cover=cover, wanted=CoverWanted(sessions=frozenset({day.sessions[1].uid})))
    assert (held(day, cast.teacher), missed()) == (["10:00"], 3)
    cover_change(actor=cast.coordinator, cover=cover, wanted=CoverWanted())
    assert (len(held(day, cast.teacher)), missed()) == (4, 0)


@pytest.mark.parametrize(
    ("wanted", "field"),
    [
        ({}, "substitute"),
        ({"called": "  "}, "substitute"),
        ({"substitute": "mate"}, "substitute"),
        ({"substitute": "substitute", "called": "Kim Aster"}, "called"),
        ({"substitute": "substitute", "first_date": MONDAY - dt.timedelta(days=1)}, "last_date"),
        ({"substitute": "substitute", "last_date": TUESDAY}, "last_date"),
    ],
)
def test_what_is_refused(day: Day, wanted: Mapping[str, object], field: str) -> None:
    """Each at its field, and nothing is saved."""
    row, cast = ill(day), day.cast
    given = {**wanted}
    if "substitute" in given:
        given["substitute"] = getattr(cast, str(given["substitute"]))
    with pytest.raises(ValidationError) as caught:
        cover_arrange(actor=cast.teacher, absence=row, wanted=CoverWanted(**given))  # type: ignore[arg-type]  # above
    assert list(caught.value.error_dict) == [field]
    assert (Substitution.objects.count(), missed()) == (0, 5)


def test_nobody_is_at_two_places_and_no_session_has_two(day: Day) -> None:
    """A substitute of another teacher, a second one for the same session, a session that isn't there."""
    row, cast = ill(day), day.cast
    Substitution.objects.create(substitute=cast.substitute, teacher=cast.mate, first_date=MONDAY, last_date=MONDAY)
    with pytest.raises(ValidationError, match="stands in for"):
        cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day))
    Substitution.objects.all().delete()
    named = frozenset({day.sessions[0].uid})
    cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day, sessions=named))
    with pytest.raises(ValidationError, match="stands in already"):
        cover_arrange(actor=cast.teacher, absence=row, wanted=CoverWanted(called="Kim Aster"))
    other = frozenset({day.sessions[1].uid})
    cover_arrange(actor=cast.teacher, absence=row, wanted=CoverWanted(called="Kim Aster", sessions=other))
    with pytest.raises(ValidationError, match="isn't among those"):
        cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day, sessions=frozenset({row.sending})))


@pytest.mark.parametrize(
    ("who", "status"), [("mate", 404), ("stranger", 404), ("substitute", 403), ("office", 403)]
)
def test_who_arranges(day: Day, who: str, status: int) -> None:
    """The teacher who is away and the coordinator; to other teachers the absence isn't there."""
    row = ill(day)
    with pytest.raises(ApplicationError) as caught:
        cover_arrange(actor=getattr(day.cast, who), absence=row, wanted=stands_in(day))
    assert caught.value.status == status


def test_the_api_says_so_where_a_substitute_is_none_of_the_districts(day: Day) -> None:
    """Another teacher, and an id that nobody has: refused when arranged and when changed, and nothing changes."""
    row, api = ill(day), Api(day.cast.teacher)
    made = api.post("covers/", expect=201, absence=row.pk, substitute=day.cast.substitute.pk)["cover"]
    for number in (day.cast.mate.pk, 987654):
        told = api.patch(f"covers/{made['id']}/", expect=400, substitute=number)
        assert told["fields"]["substitute"] == ["Choose one from the list of the district's substitutes."]
        api.post("covers/effects/", expect=400, absence=row.pk, substitute=number)
    assert Substitution.objects.get().substitute == day.cast.substitute


def test_who_is_entered_under_people_changes_the_log_as_well(day: Day) -> None:
    """Not from the absence: the same sessions are held after all, and fall out when it is changed or deleted."""
    row, cast = ill(day), day.cast
    dates = {"first_date": MONDAY, "last_date": MONDAY}
    values = {"substitute": cast.substitute, "teacher": cast.teacher, **dates}
    entered = substitution_save(actor=cast.coordinator, row=Substitution(), values=values)
    assert (len(held(day, cast.teacher)), missed()) == (4, 0)
    moved = {"first_date": TUESDAY, "last_date": TUESDAY}
    substitution_save(actor=cast.coordinator, row=entered, values=moved)
    assert (held(day, cast.teacher), missed()) == ([], 5)
    substitution_save(actor=cast.coordinator, row=entered, values=dates)
    assert missed() == 0
    substitution_delete(actor=cast.coordinator, row=entered)
    assert (held(day, cast.teacher), missed()) == ([], 5)
    happening_take_back(actor=cast.teacher, row=row)
    assert (len(held(day, cast.teacher)), missed()) == (4, 0)


@pytest.mark.parametrize("named", [False, True])
def test_who_doesnt_come_is_brought_back_by_one_press(day: Day, named: bool) -> None:
    """The page offers it with the same days and sessions; by a link with another address, which it shows."""
    row, cast = ill(day), day.cast
    sessions = frozenset({day.sessions[0].uid})
    wanted = CoverWanted(called="Kim Aster", sessions=sessions) if named else stands_in(day, sessions=sessions)
    made = cover_arrange(actor=cast.teacher, absence=row, wanted=wanted)
    browser = Client()
    browser.force_login(cast.teacher)
    page = browser.post(reverse("cover_end", args=[made.cover.pk]), follow=True).text
    name = "Kim Aster" if named else cast.substitute.called
    assert f"{name} comes after all" in page
    assert (Substitution.objects.count(), missed()) == (0, 5)
    form = re.search(r'<form method="post" class="notice info no-print">(.*?)</form>', page, re.DOTALL)
    assert form is not None
    sent = dict(re.findall(r'name="([a-z_]+)" value="([^"]*)"', form[1]))
    shown = browser.post(reverse("cover_arrange", args=[row.pk]), sent, follow=True).text
    assert (held(day, cast.teacher), missed()) == (["08:30"], 4)
    assert Substitution.objects.get().substitute.called == name
    assert ("Copy this address now" in shown) == named
    assert "comes after all" not in shown


def test_several_who_dont_come_are_brought_back_one_by_one(day: Day) -> None:
    """Each for a session of their own; who is arranged in somebody's place ends the offer of that one alone."""
    row, cast = ill(day), day.cast
    browser = Client()
    browser.force_login(cast.teacher)
    names = ("Kim Aster", "Ash Boll", "Lou Carr")
    for name, session in zip(names, day.sessions, strict=False):
        wanted = CoverWanted(called=name, sessions=frozenset({session.uid}))
        made = cover_arrange(actor=cast.teacher, absence=row, wanted=wanted)
        page = browser.post(reverse("cover_end", args=[made.cover.pk]), follow=True).text
    assert [name for name in reversed(names) if f"{name} comes after all" in page] == [
        "Lou Carr",
        "Ash Boll",
        "Kim Aster",
    ]

    instead = {
        "called": "Max Dorn",
        "first_date": MONDAY,
        "last_date": MONDAY,
        "sessions": str(day.sessions[0].uid),
    }
    page = browser.post(reverse("cover_arrange", args=[row.pk]), {**instead, "save": "1"}, follow=True).text
    assert "Kim Aster comes after all" not in page
    for name in ("Ash Boll", "Lou Carr"):
        forms = re.findall(r'<form method="post" class="notice info no-print">(.*?)</form>', page, re.DOTALL)
        form = next(one for one in forms if f"{name} comes after all" in one)
        sent = dict(re.findall(r'name="([a-z_]+)" value="([^"]*)"', form))
        page = browser.post(reverse("cover_arrange", args=[row.pk]), sent, follow=True).text
    assert "comes after all" not in page
    assert len(held(day, cast.teacher)) == 3


def test_the_feed_of_some_sessions_has_the_drives_between_them(day: Day) -> None:
    """As on the day sheet: straight from one to the other; none to the first, after the last, or of one alone."""
    row, cast = ill(day), day.cast
    named = frozenset({day.sessions[0].uid, day.sessions[2].uid})
    cover = cover_arrange(actor=cast.teacher, absence=row, wanted=stands_in(day, sessions=named)).cover
    for drives, events in (("events", ["session", "drive", "session"]), ("note", ["session", "session"])):
        feed, _ = feed_add(
            actor=cast.substitute, kind="substitute", substitution=cover, site="https://plan.example",
            values={"label": drives, "drives": drives},
        )  # fmt: skip
        shown = sorted(feed_events(feed, (MONDAY, MONDAY)), key=lambda one: str(one.start))
        assert [one.category.name.lower() for one in shown] == events
        told = shown[1].summary if drives == "events" else shown[1].description
        assert day.west.name in told
        assert cast.south.name not in " ".join(one.summary + one.description for one in shown)
    one = frozenset({day.sessions[1].uid})
    cover_change(actor=cast.teacher, cover=cover, wanted=CoverWanted(sessions=one))
    assert [one.category.name for one in feed_events(feed, (MONDAY, MONDAY))] == ["SESSION"]


def test_what_an_entry_under_people_does_to_the_log_is_shown_first(day: Day) -> None:
    """By page and by API: five entries that say missed are taken back; deleted, they are there again."""
    ill(day)
    cast, browser = day.cast, Client()
    browser.force_login(cast.coordinator)
    api = Api(cast.coordinator)
    dates = {"first_date": MONDAY.isoformat(), "last_date": MONDAY.isoformat()}
    values = {"substitute": cast.substitute.pk, "teacher": cast.teacher.pk, **dates}
    back, out = "5 entries of the log say missed", "5 entries of the log will say missed"
    assert back in api.post("substitutions/effects/", expect=200, **values)["effects"][0]
    page = browser.post(reverse("substitution_new"), values).text
    assert back in page
    assert (Substitution.objects.count(), missed()) == (0, 5)
    seen = re.search(r'name="effects_seen" value="([^"]+)"', page)
    assert seen is not None
    browser.post(reverse("substitution_new"), {**values, "effects_seen": seen[1]})
    row = Substitution.objects.get()
    assert missed() == 0
    later = {"first_date": TUESDAY.isoformat(), "last_date": TUESDAY.isoformat()}
    assert out in api.post(f"substitutions/{row.pk}/effects/", expect=200, **later)["effects"][0]
    assert out in browser.get(reverse("substitution_delete", args=[row.pk])).text
    assert (Substitution.objects.count(), missed()) == (1, 0)
