"""Pages of the log and of ledgers: what a person taps, and what it does; without scripts."""

import datetime as dt
import re
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.models import Person, Substitution
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, LedgerSettings, MissedReason, TeamDecision
from caseload.delivery.told import Outcome
from caseload.plans.models import Plan, ServiceLine
from schedule.calendar.models import CalendarEntry, SchoolYear
from schedule.weeks.models import PlannedSession
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import make_line
from tests.schedule.log_builders import bring_to_now, publish_session

pytestmark = pytest.mark.django_db


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def today() -> dt.date:
    """The pages ask the clock; the district of these tests keeps its time."""
    return timezone.localdate()


@pytest.fixture
def now_cast(cast: Cast, today: dt.date) -> Cast:
    """The cast in a school year around today, in the clock's own zone."""
    bring_to_now(cast, today)
    return cast


@pytest.fixture
def lines(now_cast: Cast) -> list[ServiceLine]:
    """A class of two, owed for the whole time."""
    found = [make_line(now_cast, code) for code in ("S11", "S12")]
    year = SchoolYear.objects.get()
    Plan.objects.update(start=year.first_day, end=year.last_day)
    ServiceLine.objects.update(start=year.first_day, end=year.last_day)
    return found


@pytest.fixture
def session(lines: list[ServiceLine], today: dt.date) -> PlannedSession:
    """Today's."""
    return publish_session(today, lines)


def minutes() -> list[tuple[str, int | None, str]]:
    """What counts: student, minutes, reason."""
    rows = (
        DeliveryVersion.objects.current()
        .select_related("entry__student", "reason")
        .order_by("entry__student__code")
    )
    return [(row.entry.student.code, row.delivered_minutes, row.reason.code if row.reason else "") for row in rows]


def test_one_tap_and_one_more_for_who_was_absent(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """The page names both students; a tick and the button log both, and a second press stores nothing twice."""
    browser = signed_in(now_cast.teacher)
    page = browser.get(reverse("log")).content.decode()
    assert all(line.plan.student.full_name in page for line in lines)
    client_id = re.search(r'name="client_id" value="([^"]+)"', page)
    assert client_id is not None
    sent = {"uid": session.uid, "client_id": client_id[1], "absent": [lines[0].pk]}
    for _ in range(2):
        answer = browser.post(reverse("log_session"), sent)
        assert answer.status_code == 302
    assert minutes() == [("S11", 0, "student_absent"), ("S12", 30, "")]
    assert "Logged" in browser.get(reverse("log")).content.decode()


def outcomes(session: PlannedSession, *rows: dict[str, Any]) -> dict[str, Any]:
    """What the session's form sends."""
    sent: dict[str, Any] = {
        "uid": session.uid,
        "client_id": uuid.uuid4(),
        "students-TOTAL_FORMS": len(rows),
        "students-INITIAL_FORMS": len(rows),
    }
    for number, row in enumerate(rows):
        blank = {"reason": "", "delivered_minutes": "", "note": ""}
        sent |= {f"students-{number}-{name}": value for name, value in (blank | row).items()}
    return sent


def test_a_substitutes_tap_asks_under_whom_where_the_district_does(
    now_cast: Cast, session: PlannedSession, today: dt.date
) -> None:
    """One tap is refused and shows where to say it; said once it holds for everyone in the session."""
    Substitution.objects.create(
        substitute=now_cast.substitute, teacher=now_cast.teacher, first_date=today, last_date=today
    )
    LedgerSettings.objects.create(district=now_cast.district, first_day=today, under_required=True)
    browser, address = signed_in(now_cast.substitute), reverse("log_session")
    tap = {"uid": str(session.uid), "client_id": str(uuid.uuid4())}
    refused = browser.post(address, tap)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert page.count("Say under whom Substitute Vey gave it") == 2  # at the top and at its field
    assert 'value="Substitute Vey"' in page
    told = outcomes(session, *[{"line": one.service_line_id} for one in session.attendees.all()])
    assert browser.post(address, {**told, "given_under": "Teacher Vey"}).status_code == 302
    given = DeliveryVersion.objects.values_list("given_by", "given_under")
    assert set(given) == {("Substitute Vey", "Teacher Vey")}
    entry = DeliveryEntry.objects.earliest("pk")
    shown = browser.get(reverse("log_entry", args=[entry.pk])).content.decode()
    assert "Substitute Vey, under Teacher Vey" in shown


def test_a_session_with_reasons_minutes_and_a_note(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """What lacks its reason stands at its field and nothing is stored; then it is."""
    browser, address = signed_in(now_cast.teacher), reverse("log_session")
    first, second = ({"line": line.pk} for line in lines)
    wrong = browser.post(address, outcomes(session, {**first, "delivered_minutes": 10}, second))
    assert wrong.status_code == 422
    assert "Say why minutes were missed." in wrong.content.decode()
    assert not DeliveryEntry.objects.exists()
    told = {**first, "delivered_minutes": 10, "reason": "behaviour", "note": "Left with the aide."}
    right = browser.post(address, outcomes(session, told, second))
    assert right.status_code == 302
    assert "aide" not in right["Location"]
    assert minutes() == [("S11", 10, "behaviour"), ("S12", 30, "")]


@pytest.mark.parametrize("line", ["", "0", "9" * 25, "x"])
def test_a_form_about_another_student_logs_nothing(session: PlannedSession, now_cast: Cast, line: str) -> None:
    """The page says so and shows the session's own form."""
    values = {"uid": str(session.uid), "client_id": str(uuid.uuid4()), "students-0-line": line}
    values |= {"students-TOTAL_FORMS": "1", "students-INITIAL_FORMS": "1"}
    answer = signed_in(now_cast.teacher).post(reverse("log_session"), values)
    assert answer.status_code == 422
    assert "about the students in this session" in answer.content.decode()
    assert not DeliveryEntry.objects.exists()


def test_what_waits_is_listed_by_day(now_cast: Cast, lines: list[ServiceLine], today: dt.date) -> None:
    """Yesterday's session leads to its day; what is to come doesn't wait."""
    yesterday, tomorrow = today - dt.timedelta(days=1), today + dt.timedelta(days=1)
    publish_session(yesterday, lines)
    publish_session(tomorrow, lines)
    page = signed_in(now_cast.teacher).get(reverse("log")).content.decode()
    assert f"?date={yesterday}" in page
    assert "1 session<" in page
    assert f"?date={tomorrow}" not in page.partition("waiting-title")[2]


def test_a_closing_of_a_planned_day_is_said_to_have_happened(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession, today: dt.date
) -> None:
    """From the calendar's form to what it does, as it was typed; saved it is logged, and stands in the calendar."""
    browser = signed_in(now_cast.coordinator)
    closed = {"building": now_cast.north.pk, "first_date": today, "kind": "closed", "title": "Flood"}
    planned = browser.post(reverse("calendar_entry_new"), closed).content.decode()
    assert not CalendarEntry.objects.exists()
    handed = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', planned))
    assert (handed["note"], handed["kind"], handed["buildings"]) == ("Flood", "closed", f"{now_cast.north.pk}")
    shown = browser.post(reverse("happening_new"), handed)
    assert "1 session falls out" in shown.content.decode()
    assert browser.post(reverse("happening_new"), handed | {"save": "1"}).status_code == 302
    assert minutes() == [("S11", 0, "school_closed"), ("S12", 0, "school_closed")]
    entry = CalendarEntry.objects.get()
    page = browser.get(reverse("calendar")).content.decode()
    assert reverse("calendar_entry_change", args=[entry.pk]) not in page
    back = reverse("happening_take_back", args=[entry.happening_id])
    assert back in page
    refused = browser.post(reverse("calendar_entry_change", args=[entry.pk]), closed | {"title": "Snow"})
    assert "This was said under “Something happened”." in refused.content.decode()
    browser.post(reverse("calendar_entry_delete", args=[entry.pk]))
    assert CalendarEntry.objects.filter(title="Flood").exists()
    assert browser.post(back, {"calendar": "1"})["Location"] == reverse("calendar")
    assert not CalendarEntry.objects.exists()


@pytest.mark.parametrize(
    "other",
    [{"kind": "no_students"}, {"days": 61}, {"ahead": 30}],
    ids=["staff only", "longer than anything that happens", "a day without a plan"],
)
def test_the_plan_of_a_year_is_the_calendars(
    now_cast: Cast, session: PlannedSession, today: dt.date, other: dict[str, Any]
) -> None:
    """Saved as a special day."""
    first = today + dt.timedelta(days=other.get("ahead", 0))
    sent = {"first_date": first, "kind": other.get("kind", "closed"), "title": "Holiday"}
    sent["last_date"] = first + dt.timedelta(days=other.get("days", 0))
    answer = signed_in(now_cast.coordinator).post(reverse("calendar_entry_new"), sent)
    assert answer["Location"] == reverse("calendar")
    assert CalendarEntry.objects.count() == 1


def test_the_api_refuses_the_other_road(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession, today: dt.date
) -> None:
    """Both ways round: a closing of a planned day, and a change to what was said to have happened."""
    api = Api(now_cast.coordinator)
    sent = {"first_date": f"{today}", "kind": "closed", "title": "Flood"}
    assert api.post("calendar-entries/", expect=409, **sent)["code"] == "something_happened"
    made = api.post("happenings/", kind="closed", first_date=f"{today}")
    (entry,) = api.get("calendar-entries/")["results"]
    assert entry["happening"] == made["id"]
    assert api.patch(f"calendar-entries/{entry['id']}/", expect=409, title="Snow")["code"] == "of_happening"


def test_what_a_published_calendar_closes_is_logged_in_one_press(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession, today: dt.date
) -> None:
    """Nobody said that it happened: the day and its log offer the press, and nothing else does on a usual day."""
    browser = signed_in(now_cast.teacher)
    assert reverse("day_mark") not in browser.get(reverse("log")).content.decode()
    CalendarEntry.objects.create(district=now_cast.district, first_date=today, last_date=today, kind="closed")
    for page in (reverse("log"), reverse("day")):
        assert f'action="{reverse("day_mark")}"' in browser.get(page).content.decode()
    sent = {"date": today, "teacher": now_cast.teacher.pk, "client_id": uuid.uuid4()}
    shown = browser.post(reverse("day_mark"), sent, follow=True).content.decode()
    assert "1 session logged as missed, 2 entries." in shown
    assert minutes() == [("S11", 0, "school_closed"), ("S12", 0, "school_closed")]
    shown = browser.post(reverse("day_mark"), sent | {"client_id": uuid.uuid4()}, follow=True).content.decode()
    assert "Nothing of this day falls out and waits." in shown
    assert "say which day" in browser.post(reverse("day_mark"), {}, follow=True).content.decode()


def entry_of(cast: Cast, session: PlannedSession, reason: str = "behaviour") -> DeliveryEntry:
    """The first student's entry: nothing delivered."""
    browser = signed_in(cast.teacher)
    line = session.attendees.order_by("student__code")[0].service_line
    rows = [{"line": one.service_line_id} for one in session.attendees.all()]
    told = [row | ({"reason": reason} if row["line"] == line.pk else {}) for row in rows]
    assert browser.post(reverse("log_session"), outcomes(session, *told)).status_code == 302
    return DeliveryEntry.objects.get(service_line=line)


def test_an_entry_is_corrected_and_its_history_shows_both(now_cast: Cast, session: PlannedSession) -> None:
    """By another person; who comes later with the old revision is told at the form."""
    entry = entry_of(now_cast, session)
    browser, address = signed_in(now_cast.coordinator), reverse("log_correct", args=[entry.pk])
    sent = {"expected_revision": 1, "client_id": uuid.uuid4(), "reason": "", "delivered_minutes": "", "note": ""}
    assert browser.post(address, sent).status_code == 302
    page = browser.get(reverse("log_entry", args=[entry.pk])).content.decode()
    assert page.index("30 of 30 minutes") < page.index("0 of 30 minutes")
    assert str(now_cast.coordinator) in page
    assert str(now_cast.teacher) in page
    late = browser.post(address, sent | {"client_id": uuid.uuid4(), "delivered_minutes": 5, "reason": "testing"})
    assert late.status_code == 422
    assert "Somebody else changed this entry in the meantime" in late.content.decode()


def test_a_mistaken_log_is_taken_back_on_its_page(now_cast: Cast, session: PlannedSession) -> None:
    """And the session waits again."""
    entry = entry_of(now_cast, session)
    sent = {"expected_revision": 1, "client_id": uuid.uuid4(), "reason": "", "withdraw": "on"}
    signed_in(now_cast.teacher).post(reverse("log_correct", args=[entry.pk]), sent)
    assert minutes()[0] == ("S11", None, "")


def test_the_teams_decision_is_recorded_and_listed(now_cast: Cast, session: PlannedSession, today: dt.date) -> None:
    """Open, then decided."""
    entry = entry_of(now_cast, session)
    browser, decisions = signed_in(now_cast.teacher), reverse("team_decisions")
    assert reverse("log_decide", args=[entry.pk]) in browser.get(decisions).content.decode()
    sent = {"effect": "owed", "decided_by": "Plan team", "decided_on": today, "note": "", "expected_revision": 1}
    assert browser.post(reverse("log_decide", args=[entry.pk]), sent).status_code == 302
    page = browser.get(decisions).content.decode()
    assert "Nothing is waiting for a team." in page
    assert "Plan team" in page
    assert TeamDecision.objects.get().recorded_by == now_cast.teacher


def test_the_ledger_opens_every_number_and_judges_nothing(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """Figures, sentences, the way to each entry; no verdict in words."""
    entry = entry_of(now_cast, session, "no_space")
    student = lines[0].plan.student
    page = signed_in(now_cast.teacher).get(reverse("student_ledger", args=[student.pk])).content.decode()
    for text in (
        "Owed to date",
        "Missed: no space",
        "Still owed",
        "1 x 30 min/week is 30 minutes",
        "the plan&#x27;s team",
    ):
        assert text in page
    assert reverse("log_entry", args=[entry.pk]) in page
    for verdict in ("compliant", "cleared", "violation"):
        assert verdict not in page.lower()


def test_other_minutes_are_logged_as_a_make_up(now_cast: Cast, lines: list[ServiceLine], today: dt.date) -> None:
    """No session was planned for them."""
    student = lines[0].plan.student
    sent = {
        "client_id": uuid.uuid4(), "service_line": lines[0].pk, "date": today,
        "delivered_minutes": 25, "makes_up": "on", "note": "",
    }  # fmt: skip
    answer = signed_in(now_cast.teacher).post(reverse("minutes_log", args=[student.pk]), sent)
    assert answer["Location"] == reverse("student_ledger", args=[student.pk])
    entry = DeliveryEntry.objects.get()
    assert (entry.makes_up, entry.planned_minutes, entry.session_uid) == (True, 25, None)


def test_the_coordinator_changes_the_districts_rules(now_cast: Cast) -> None:
    """Rules, a reason's effect, a reason of their own; a teacher reads them."""
    browser, address = signed_in(now_cast.coordinator), reverse("ledger_rules")
    rules = {"save_rules": 1, "short_week": "proportion", "backdating_days": 14, "make_up_days": 20}
    rules |= {"least_minutes": 10, "usual_times_worth": 45}
    assert browser.post(address, rules).status_code == 302
    row = LedgerSettings.objects.get()
    assert (row.short_week, row.usual_times_worth) == ("proportion", 45)
    reasons = {"save_reasons": 1, "reasons-TOTAL_FORMS": 1, "reasons-INITIAL_FORMS": 1, "reasons-0-code": "testing",
               "reasons-0-words": "State tests", "reasons-0-effect": "not_owed"}  # fmt: skip
    assert browser.post(address, reasons).status_code == 302
    reason = MissedReason.objects.get(code="testing")
    assert (reason.words, reason.effect) == ("State tests", "not_owed")
    new = {
        "add_reason": 1,
        "new-words": "Fire drill",
        "new-code": "drill",
        "new-effect": "owed",
        "new-position": 200,
    }
    assert browser.post(address, new).status_code == 302
    again = browser.post(address, new)
    assert again.status_code == 422
    assert "Another reason has this code." in again.content.decode()
    page = signed_in(now_cast.teacher).get(address).content.decode()
    assert "State tests" in page
    assert "unless leaving them saves 45 minutes of driving a week" in page
    assert "common practice, not law" in page
    assert "save_rules" not in page


def test_no_name_and_no_note_in_any_address(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """Every link of these pages is ids, dates and codes."""
    entry = entry_of(now_cast, session)
    browser = signed_in(now_cast.teacher)
    student = lines[0].plan.student
    pages = [
        reverse("log"), f"{reverse('log_session')}?uid={session.uid}", reverse("log_entry", args=[entry.pk]),
        reverse("student_ledger", args=[student.pk]), reverse("team_decisions"),
    ]  # fmt: skip
    for page in pages:
        text = browser.get(page).content.decode()
        for address in re.findall(r'(?:href|action)="([^"]*)"', text):
            assert student.last_name not in address
            assert student.first_name not in address
        title = re.search("<title>(.*?)</title>", text)
        assert title is not None
        assert student.last_name not in title[1]


def test_the_log_is_reached_from_the_week_and_from_the_student(
    now_cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """One way from each session's row, one from the student's page."""
    browser = signed_in(now_cast.teacher)
    assert f"{reverse('log_session')}?uid={session.uid}" in browser.get(reverse("week")).content.decode()
    student = lines[0].plan.student
    detail = browser.get(reverse("student_detail", args=[student.pk])).content.decode()
    assert reverse("student_ledger", args=[student.pk]) in detail


def test_outcomes_compare_by_what_they_say() -> None:
    """As planned is the default."""
    assert Outcome().minutes(30) == 30
    assert Outcome(reason="testing").minutes(30) == 0
    assert Outcome(12, "testing").minutes(30) == 12
