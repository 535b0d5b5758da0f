"""The week's pages without a script: who sees what, moving by form, publishing, printing without names."""

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Substitution
from caseload.plans.models import ServiceLine
from schedule.templatetags.weeks import dialled
from schedule.weeks.models import DayItem, PlannedSession, PlanRun, UnplacedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_move
from tests.conftest import Cast, make_person
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line, make_week

FRIDAY = date(4)
# Whatever of a student may not stand on a wall: names, codes, initials as words of their own.
STUDENT = re.compile(r"Ola|Tarn|Ilsabet|Quernmore|\bS01\b|\bF1\b|\bOT\b|\bO\.T\.|\bIQ\b")


@pytest.fixture
def draft(cast: Cast) -> WeekPlan:
    """A draft: S01 at 9:20 on Monday and Wednesday in the north, F1 at 13:15 on Monday in the south."""
    make_ground(cast)
    far = make_line(cast, "F1", building=cast.south)
    own = f"line-{cast.line.pk}"
    return make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20"), (f"line-{far.pk}", date(0), "13:15")])


@pytest.fixture
def week(cast: Cast, draft: WeekPlan) -> WeekPlan:
    """The same week in force."""
    return week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)


def client_of(person: Person) -> Client:
    """A browser in which a person is signed in."""
    client = Client()
    client.force_login(person)
    return client


def page(person: Person, name: str, *args: object, status: int = 200, **values: str | int) -> str:
    """A page's text."""
    answer = client_of(person).get(reverse(name, args=args), values)
    assert answer.status_code == status, answer.content.decode()[:2000]
    return str(answer.content.decode())


def send(person: Person, name: str, week: WeekPlan, **values: object) -> str:
    """Send a form and read the page that it leads to."""
    data = {"revision": week.revision, **values}
    answer = client_of(person).post(reverse(name, args=[week.pk]), data, follow=True)
    assert answer.status_code == 200, answer.content.decode()[:2000]
    return str(answer.content.decode())


def first_session(week: WeekPlan) -> PlannedSession:
    """S01's on Monday."""
    return PlannedSession.objects.get(week=week, date=MONDAY, start=at("9:20"))


def places_in(text: str) -> list[str]:
    """What the panel's list offers without a rule against it, as its form would send it."""
    legal = text.split("Places that break a rule")[0]
    return re.findall(r'name="place" value="([^"]+)"', legal)


# --- the week in force -------------------------------------------------------------------------------------


def test_a_teacher_reads_the_week_as_a_drawing_and_as_a_table(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week", week="2026-09-16")
    assert text.count('<svg class="strip') == 2, "the week across, and one day running down"
    assert "Monday 9:20 to 9:50, Ola Tarn S01, one to one, North Hollow School, Gym" in text
    assert "The same week as a table" in text
    assert '90 <span class="of">of 90 owed' in text
    assert "Version 1, in force since" in text


def test_the_day_of_a_narrow_screen_is_chosen_by_address(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week", week="2026-09-14", day="2026-09-16")
    down = text[text.index('id="day-strip"') :]
    assert 'data-day="2026-09-16"' in down
    assert 'data-day="2026-09-14"' not in down


def test_a_session_is_shown_beside_the_week(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week_version", week.pk, session=str(first_session(week).uid))
    assert 'id="panel"' in text
    assert "grade 3" in text


def test_the_office_can_be_called_from_the_day(cast: Cast, week: WeekPlan) -> None:
    """In the table of the day and beside a session; a building without a phone has no link."""
    assert 'href="tel:' not in page(cast.teacher, "week", week="2026-09-14")
    cast.north.office_phone = "(555) 010-0143 ext. 12"
    cast.north.save()
    uid = str(first_session(week).uid)
    text = page(cast.teacher, "week", week="2026-09-14", session=uid)
    assert text.count('href="tel:5550100143;ext=12"') == 3, "two sessions in the table, one beside the week"


@pytest.mark.parametrize(
    ("phone", "link"),
    [
        ("555-0143", "tel:5550143"),
        ("+1 555 010 0143", "tel:+15550100143"),
        ("555.010.0143 x7", "tel:5550100143;ext=7"),
    ],
)
def test_a_phone_is_dialled_as_rfc_3966_writes_it(phone: str, link: str) -> None:
    assert dialled(phone) == link


def test_a_coordinator_chooses_a_teacher(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.coordinator, "week", week="2026-09-14", teacher=cast.teacher.pk)
    assert "Ola Tarn S01" in text
    assert f'<option value="{cast.mate.pk}"' in text
    assert "Nothing is owed in this week yet" in page(
        cast.coordinator, "week", week="2026-09-14", teacher=cast.mate.pk
    )


@pytest.mark.parametrize("who", ["teacher", "mate", "office", "substitute", "stranger"])
def test_others_cannot_ask_for_a_teacher_outside_their_reach(cast: Cast, week: WeekPlan, who: str) -> None:
    asked = cast.mate if who != "mate" else cast.teacher
    page(getattr(cast, who), "week", status=404, teacher=asked.pk, week="2026-09-14")


def test_an_office_sees_its_building_and_no_student(cast: Cast, week: WeekPlan) -> None:
    for text in (
        page(cast.office, "week", week="2026-09-14"),
        page(cast.office, "week_version", week.pk, session=str(first_session(week).uid)),
        page(cast.office, "week_print", week.pk),
    ):
        assert not STUDENT.search(text)
        assert "North Hollow" in text
        assert "South Hollow" not in text
        assert "SOUTH" not in text
        assert "Change this week</a>" not in text


def test_a_covering_substitute_reads_the_published_week_only(cast: Cast, draft: WeekPlan) -> None:
    page(cast.substitute, "week_version", draft.pk, status=404)
    Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=MONDAY, last_date=date(4)
    )
    page(cast.substitute, "week_version", draft.pk, status=404)
    week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    text = page(cast.substitute, "week", week="2026-09-14")
    assert "North Hollow School" in text
    assert "Change this week</a>" not in text


def test_a_substitute_without_cover_is_told_so(cast: Cast, week: WeekPlan) -> None:
    assert "The coordinator sets whom you cover" in page(cast.substitute, "week")


@pytest.mark.parametrize("who", ["mate", "stranger"])
@pytest.mark.parametrize("name", ["week_version", "week_print"])
def test_others_weeks_are_not_found(cast: Cast, week: WeekPlan, who: str, name: str) -> None:
    page(getattr(cast, who), name, week.pk, status=404)


def test_no_week_yet_leads_to_planning_and_an_empty_caseload_to_students(cast: Cast) -> None:
    text = page(cast.teacher, "week", week="2026-09-14")
    assert f'href="{reverse("plan")}?week=2026-09-14"' in text
    assert "Plan this week" in text
    ServiceLine.objects.all().delete()
    text = page(cast.teacher, "week", week="2026-09-14")
    assert "Import from a table" in text
    assert "Plan this week" not in text


def test_an_empty_week_names_the_planned_ones_beside_it(cast: Cast, week: WeekPlan) -> None:
    """Both ways, so that nobody walks through empty weeks."""
    before = page(cast.teacher, "week", week="2026-08-31")
    assert "The next planned one is" in before
    assert f'href="{reverse("week")}?week=2026-09-14">the week of September 14</a>' in before
    assert "The last one was" in page(cast.teacher, "week", week="2026-10-05")


def test_after_signing_in_the_next_planned_week_is_shown(cast: Cast, draft: WeekPlan) -> None:
    """Where no week is in force today; the button for this week still shows this one."""
    monday = dt.date(2126, 9, 16)
    WeekPlan.objects.filter(pk=draft.pk).update(monday=monday, status="published", version=1)
    answer = client_of(cast.teacher).get(reverse("home"), follow=True)
    assert answer.redirect_chain[-1][0] == f"{reverse('week')}?week={monday}"
    assert "No week is in force here" in page(cast.teacher, "week")


def test_a_waiting_draft_is_offered(cast: Cast, draft: WeekPlan) -> None:
    text = page(cast.teacher, "week", week="2026-09-14")
    assert reverse("week_compare", args=[draft.pk]) in text


def test_weeks_before_and_after_are_one_step_away(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week", week="2026-09-14")
    assert f'{reverse("week")}?week=2026-09-07"' in text
    assert f'{reverse("week")}?week=2026-09-21"' in text


@pytest.mark.parametrize("name", ["week", "plan", "week_versions"])
@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_a_date_at_the_end_of_time_is_refused_in_words(cast: Cast, name: str, day: str) -> None:
    """Weeks can't be counted on from there."""
    assert "can&#x27;t be right. Check the date." in page(cast.teacher, name, status=400, week=day)


def test_a_plan_for_the_end_of_time_is_refused_in_words(cast: Cast) -> None:
    values = {"first_date": "9999-12-27", "last_date": "9999-12-31", "time_limit": "10", "aim": "usual_times"}
    answer = client_of(cast.teacher).post(reverse("plan"), values)
    assert answer.status_code == 422
    assert "The year 9999 can&#x27;t be right" in answer.content.decode()


def test_what_is_no_date_is_refused_in_words(cast: Cast) -> None:
    assert "Use a date such as" in page(cast.teacher, "week", status=400, week="yesterday")


# --- on the wall -------------------------------------------------------------------------------------------


def test_the_printed_week_names_no_student(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week_print", week.pk)
    assert not STUDENT.search(text)
    assert "One to one" in text
    assert ", North Gym" in text
    assert "Gym" in text
    assert "9:20" in text
    assert "Drive to South" in text


def test_a_crowded_week_leaves_the_drives_to_the_drawing(cast: Cast, week: WeekPlan) -> None:
    """So that it still fits on one page."""
    for number in range(10):
        DayItem.objects.create(
            week=week,
            date=MONDAY,
            kind="meeting",
            start=dt.time(14, 2 * number),
            end=dt.time(14, 2 * number + 2),
            building=cast.south,
            title="Talk",
        )
    wall = page(cast.teacher, "week_print", week.pk)
    assert "wall-days crowded" in wall
    assert "Drive to South" not in wall


def test_one_building_is_printed_alone(cast: Cast, week: WeekPlan) -> None:
    text = page(cast.teacher, "week_print", week.pk, building=cast.south.pk)
    wall = text[text.index('<article class="wall"') :]
    assert "1:15" in wall
    assert "9:20" not in wall
    page(cast.teacher, "week_print", week.pk, status=404, building=987654)


# --- editing without a script ------------------------------------------------------------------------------


def test_a_session_is_moved_by_choosing_from_the_list_and_moved_back(cast: Cast, draft: WeekPlan) -> None:
    session = first_session(draft)
    text = page(cast.teacher, "week_edit", draft.pk, session=str(session.uid))
    places = places_in(text)
    thursday = next(place for place in places if place.startswith("2026-09-17|10:10"))
    assert 'class="target"' in text
    said = send(cast.teacher, "session_move", draft, uid=session.uid, place=thursday)
    assert "The session is moved." in said
    assert 'form="undo-form"' in said
    moved = PlannedSession.objects.get(week=draft, uid=session.uid)
    assert (moved.date, moved.start) == (date(3), at("10:10"))
    draft.refresh_from_db()
    assert "is undone" in send(cast.teacher, "week_undo", draft)
    assert first_session(draft).uid == session.uid


def test_a_target_in_the_drawing_checks_its_line_in_the_list(cast: Cast, draft: WeekPlan) -> None:
    uid = str(first_session(draft).uid)
    place = places_in(page(cast.teacher, "week_edit", draft.pk, session=uid))[0]
    text = page(cast.teacher, "week_edit", draft.pk, session=uid, place=place)
    assert re.search(rf'value="{re.escape(place)}" checked', text)


def test_editing_a_week_in_force_makes_a_draft(cast: Cast, week: WeekPlan) -> None:
    session = first_session(week)
    text = page(cast.teacher, "week_edit", week.pk, session=str(session.uid))
    assert "stays in force until you publish" in text
    send(cast.teacher, "session_pin", week, uid=session.uid, pinned="1")
    week.refresh_from_db()
    assert week.status == WeekPlan.Status.PUBLISHED
    made = WeekPlan.objects.get(status=WeekPlan.Status.DRAFT, based_on=week)
    assert PlannedSession.objects.get(week=made, uid=session.uid).pinned
    assert not PlannedSession.objects.get(week=week, uid=session.uid).pinned


def test_two_editors_are_noticed_and_nothing_is_overwritten(cast: Cast, draft: WeekPlan) -> None:
    session = first_session(draft)
    seen = draft.revision
    week_session_move(
        actor=cast.teacher, week=draft, uid=session.uid, date=date(3), start=at("10:10"), expected_revision=seen
    )
    answer = client_of(cast.coordinator).post(
        reverse("session_remove", args=[draft.pk]), {"uid": session.uid, "revision": seen}, follow=True
    )
    assert "Somebody else changed this week in the meantime" in answer.content.decode()
    assert PlannedSession.objects.get(week=draft, uid=session.uid).date == date(3)


def test_taking_out_and_finding_a_place_again(cast: Cast, draft: WeekPlan) -> None:
    text = send(cast.teacher, "session_remove", draft, uid=first_session(draft).uid)
    assert "Ola Tarn S01: 1 session, 30 minutes of 2 x 30 min/week" in text
    draft.refresh_from_db()
    unplaced = UnplacedSession.objects.get(week=draft)
    text = page(cast.teacher, "week_edit", draft.pk, unplaced=unplaced.pk)
    send(cast.teacher, "unplaced_place", draft, unplaced=unplaced.pk, place=places_in(text)[0])
    assert not UnplacedSession.objects.filter(week=draft).exists()


def test_a_form_without_a_place_says_so_and_changes_nothing(cast: Cast, draft: WeekPlan) -> None:
    for place in ("", "here", "2026-09-17|25:00|", "2026-09-17|10:10|gym"):
        text = send(cast.teacher, "session_move", draft, uid=first_session(draft).uid, place=place)
        assert "Choose one of the places in the list." in text
    draft.refresh_from_db()
    assert draft.revision == 1


@pytest.mark.parametrize(
    "data",
    [
        {"uid": "not-an-id", "revision": "1"},
        {"uid": "6f0f4be0-9a3e-4d6f-8d5b-0d8a4c1f6a11", "revision": "1", "place": "2026-09-17|10:10|"},
        {"uid": "6f0f4be0-9a3e-4d6f-8d5b-0d8a4c1f6a11", "place": "2026-09-17|10:10|"},
        {"uid": "6f0f4be0-9a3e-4d6f-8d5b-0d8a4c1f6a11", "revision": "x", "place": "2026-09-17|10:10|"},
    ],
)
def test_what_does_not_exist_is_not_found(cast: Cast, draft: WeekPlan, data: dict[str, str]) -> None:
    answer = client_of(cast.teacher).post(reverse("session_move", args=[draft.pk]), data)
    assert answer.status_code == 404


def test_a_space_of_another_district_is_not_found(cast: Cast, draft: WeekPlan) -> None:
    place = f"2026-09-17|10:10|{cast.gym.pk + 999}"
    data = {"uid": first_session(draft).uid, "revision": draft.revision, "place": place}
    assert client_of(cast.teacher).post(reverse("session_move", args=[draft.pk]), data).status_code == 404


CHANGES = [
    "session_move",
    "session_pin",
    "session_remove",
    "unplaced_place",
    "week_undo",
    "week_publish",
    "week_restore",
    "week_discard",
]


@pytest.mark.parametrize("name", CHANGES)
@pytest.mark.parametrize(
    ("who", "status"), [("mate", 404), ("stranger", 404), ("office", 403), ("substitute", 403)]
)
def test_nobody_else_changes_a_week(cast: Cast, draft: WeekPlan, name: str, who: str, status: int) -> None:
    data = {
        "uid": first_session(draft).uid,
        "revision": draft.revision,
        "place": "2026-09-17|10:10|",
        "pinned": "1",
    }
    answer = client_of(getattr(cast, who)).post(reverse(name, args=[draft.pk]), data)
    assert answer.status_code == status
    draft.refresh_from_db()
    assert (draft.status, draft.revision) == (WeekPlan.Status.DRAFT, 1)


@pytest.mark.parametrize("name", CHANGES)
def test_changes_are_asked_for_by_post(cast: Cast, draft: WeekPlan, name: str) -> None:
    assert client_of(cast.teacher).get(reverse(name, args=[draft.pk])).status_code == 405


@pytest.mark.parametrize(
    ("who", "status"), [("mate", 404), ("stranger", 404), ("office", 403), ("substitute", 403)]
)
@pytest.mark.parametrize("name", ["week_edit", "week_compare"])
def test_the_editor_is_closed_to_others(cast: Cast, week: WeekPlan, name: str, who: str, status: int) -> None:
    page(getattr(cast, who), name, week.pk, status=status)


def test_addresses_name_no_student(cast: Cast, draft: WeekPlan) -> None:
    text = page(cast.teacher, "week_edit", draft.pk, session=str(first_session(draft).uid))
    addresses = re.findall(r'(?:href|action|src)="([^"]*)"', text)
    assert any("session=" in address for address in addresses)
    assert not [address for address in addresses if STUDENT.search(address)]


# --- publishing and versions -------------------------------------------------------------------------------


def test_publish_change_publish_and_bring_back(cast: Cast, draft: WeekPlan) -> None:
    assert "Version 1 is in force." in send(cast.teacher, "week_publish", draft)
    draft.refresh_from_db()
    session = first_session(draft)
    send(cast.teacher, "session_move", draft, uid=session.uid, place=f"2026-09-17|10:10|{cast.gym.pk}")
    second = WeekPlan.objects.get(status=WeekPlan.Status.DRAFT)
    text = page(cast.teacher, "week_compare", second.pk)
    assert "Moved (1)" in text
    assert "Beside Version 1, in force." in text
    send(cast.teacher, "week_publish", second)
    second.refresh_from_db()
    text = page(cast.teacher, "week_versions", week="2026-09-14")
    assert "bring version 1 back" in text
    send(cast.teacher, "week_restore", second)
    third = WeekPlan.objects.get(status=WeekPlan.Status.PUBLISHED)
    assert third.version == 3
    assert first_session(third).uid == session.uid


def test_a_draft_that_breaks_a_rule_is_not_published(cast: Cast, draft: WeekPlan) -> None:
    far = PlannedSession.objects.get(week=draft, building=cast.south)
    text = send(cast.teacher, "session_move", draft, uid=far.uid, place="2026-09-14|10:10|")
    assert "can\N{RIGHT SINGLE QUOTATION MARK}t be published" in text
    draft.refresh_from_db()
    assert "Publish this week" not in page(cast.teacher, "week_compare", draft.pk)
    text = send(cast.teacher, "week_publish", draft)
    assert "That wasn&#x27;t done" in text
    draft.refresh_from_db()
    assert draft.status == WeekPlan.Status.DRAFT


def test_an_old_version_is_read_and_not_edited(cast: Cast, week: WeekPlan) -> None:
    week.status = WeekPlan.Status.REPLACED
    week.save()
    answer = client_of(cast.teacher).get(reverse("week_edit", args=[week.pk]), follow=True)
    assert answer.redirect_chain == [(reverse("week_version", args=[week.pk]), 302)]
    assert "This version is kept as it was." in answer.content.decode()


def test_a_draft_is_set_aside_and_kept(cast: Cast, draft: WeekPlan) -> None:
    send(cast.teacher, "week_discard", draft)
    draft.refresh_from_db()
    assert draft.status == WeekPlan.Status.DISCARDED
    assert "Discarded" in page(cast.teacher, "week_versions", week="2026-09-14")


# --- planning ----------------------------------------------------------------------------------------------


def plan_data(first: dt.date = MONDAY, last: dt.date = FRIDAY) -> dict[str, object]:
    """The plan form as it comes."""
    return {
        "first_date": first,
        "last_date": last,
        "time_limit": 10,
        "keep_pins": "on",
        "aim": "usual_times",
    }


def test_one_button_starts_a_run_that_can_be_watched_without_a_script(cast: Cast) -> None:
    make_ground(cast)
    client = client_of(cast.teacher)
    answer = client.post(reverse("plan"), plan_data())
    run = PlanRun.objects.get()
    assert (answer.status_code, answer["Location"]) == (302, reverse("plan_run", args=[run.pk]))
    assert (run.teacher, run.first_date, run.last_date, run.time_limit) == (cast.teacher, MONDAY, date(4), 10)
    whole = client.get(reverse("plan_run", args=[run.pk])).content.decode()
    assert '<noscript><meta http-equiv="refresh"' in whole
    assert "Stop and keep the best so far" in whole
    part = client.get(reverse("plan_run", args=[run.pk]), headers={"HX-Request": "true"}).content.decode()
    assert part.strip().startswith('<div id="progress"')
    assert "<html" not in part
    stopped = client.post(reverse("plan_run_stop", args=[run.pk]), follow=True).content.decode()
    assert "No plan had been found by then" in stopped
    assert "http-equiv" not in stopped


@pytest.mark.parametrize(
    ("first", "last", "sentence"),
    [
        (date(4), date(0), "The last date is before the first."),
        (date(0), date(60), "Plan at most 6 weeks at once."),
    ],
)
def test_dates_that_cannot_be_planned_are_named(cast: Cast, first: dt.date, last: dt.date, sentence: str) -> None:
    make_ground(cast)
    answer = client_of(cast.teacher).post(reverse("plan"), plan_data(first, last))
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not PlanRun.objects.exists()


def test_what_planning_lacks_stands_in_the_form(cast: Cast) -> None:
    """No school year and no rules yet: the service's own sentence, and no run."""
    answer = client_of(cast.teacher).post(reverse("plan"), plan_data())
    assert answer.status_code == 422
    assert "error-summary" in answer.content.decode()
    assert not PlanRun.objects.exists()


def test_a_coordinator_plans_for_a_teacher_of_the_district_only(cast: Cast) -> None:
    make_ground(cast)
    client = client_of(cast.coordinator)
    far = make_person(cast.other_district, "far", Person.Role.TEACHER)
    assert client.post(reverse("plan"), plan_data() | {"teacher": far.pk}).status_code == 404
    assert client.post(reverse("plan"), plan_data() | {"teacher": cast.teacher.pk}).status_code == 302
    assert PlanRun.objects.get().teacher == cast.teacher


@pytest.mark.parametrize(
    ("who", "status"), [("mate", 404), ("stranger", 404), ("office", 403), ("substitute", 403)]
)
def test_a_run_is_seen_and_stopped_by_its_own_people(cast: Cast, who: str, status: int) -> None:
    make_ground(cast)
    client_of(cast.teacher).post(reverse("plan"), plan_data())
    run = PlanRun.objects.get()
    page(getattr(cast, who), "plan_run", run.pk, status=status)
    answer = client_of(getattr(cast, who)).post(reverse("plan_run_stop", args=[run.pk]))
    assert answer.status_code == status
    run.job.refresh_from_db()
    assert not run.job.stop_asked


def test_the_editor_of_a_published_week_goes_on_with_its_draft(cast: Cast, week: WeekPlan) -> None:
    """Whoever opens it again is led to the draft that was begun, with the session that was chosen."""
    uid = str(first_session(week).uid)
    send(cast.teacher, "session_pin", week, uid=uid, pinned="1")
    draft = WeekPlan.objects.get(status="draft")
    answer = client_of(cast.coordinator).get(reverse("week_edit", args=[week.pk]), {"session": uid}, follow=True)
    assert answer.redirect_chain == [(f"{reverse('week_edit', args=[draft.pk])}?session={uid}", 302)]
    assert "This continues the draft that Teacher Vey began" in answer.content.decode()
