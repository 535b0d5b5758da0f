"""One tap takes back what one tap logged: exactly that, in the history, and never over somebody's change."""

import datetime as dt
import re
import uuid
from html import unescape
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person, Substitution
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, MissedReason
from caseload.delivery.services.log import decision_record, delivery_correct
from caseload.delivery.services.rules import reasons_save
from caseload.delivery.services.undo import TakenBack, sending_undo
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.models import CalendarEntry
from schedule.log.selectors.ledger import student_ledger
from schedule.log.selectors.sessions import unlogged_sessions
from schedule.log.services import day_mark, session_log
from schedule.weeks.models import PlannedSession
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line
from tests.schedule.log_builders import bring_to_now, evening_of, publish_session

pytestmark = pytest.mark.django_db

ABSENT = Outcome(reason="student_absent")
EVENING = evening_of(MONDAY)


@pytest.fixture
def lines(cast: Cast) -> list[ServiceLine]:
    """Three students of one class."""
    return [make_line(cast, code) for code in ("S11", "S12", "S13")]


@pytest.fixture
def session(lines: list[ServiceLine]) -> PlannedSession:
    """Monday's session of the three."""
    return publish_session(MONDAY, lines)


def log(actor: Person, session: PlannedSession, **more: object) -> uuid.UUID:
    """Log a session with one tap; answers with the tap's id."""
    sending = uuid.uuid4()
    session_log(actor=actor, session=session, client_id=sending, now=EVENING, **more)  # type: ignore[arg-type]  # session_log's own
    return sending


def undo(actor: Person, sending: uuid.UUID, *, keep_changed: bool = False) -> TakenBack:
    """Take it back on the same evening."""
    return sending_undo(actor=actor, sending=sending, keep_changed=keep_changed, now=EVENING)


def history(code: str) -> list[tuple[int | None, str]]:
    """Minutes and who said so, version by version, of the student's one entry."""
    rows = DeliveryVersion.objects.filter(entry__student__code=code).order_by("number").select_related("logged_by")
    assert [row.number for row in rows] == list(range(1, len(rows) + 1))
    return [(row.delivered_minutes, row.logged_by.username) for row in rows]


def refusal(actor: Person, sending: uuid.UUID, *, keep_changed: bool = False) -> ApplicationError:
    """Why it isn't taken back; and nothing is stored."""
    before = list(DeliveryVersion.objects.order_by("pk").values_list("pk", "entry__version", "entry__revision"))
    with pytest.raises(ApplicationError) as refused:
        undo(actor, sending, keep_changed=keep_changed)
    assert before == list(
        DeliveryVersion.objects.order_by("pk").values_list("pk", "entry__version", "entry__revision")
    )
    return refused.value


def test_a_logged_session_is_taken_back_with_one_tap(cast: Cast, session: PlannedSession) -> None:
    """Everyone waits for a log again; what they said stays in the history."""
    sending = log(cast.teacher, session)
    assert unlogged_sessions(cast.teacher, cast.teacher, MONDAY, EVENING) == ()
    done = undo(cast.teacher, sending)
    assert (done.sessions, len(done.entries), done.left) == (1, 3, 0)
    assert [history(code) for code in ("S11", "S12", "S13")] == [[(30, "teacher"), (None, "teacher")]] * 3
    (waiting,) = unlogged_sessions(cast.teacher, cast.teacher, MONDAY, EVENING)
    assert len(waiting.waiting) == 3


def test_only_what_that_tap_wrote_is_taken_back(
    cast: Cast, lines: list[ServiceLine], session: PlannedSession
) -> None:
    """A student whom the coordinator had logged before keeps that log."""
    other = publish_session(MONDAY, lines[:1], "10:00", "10:30")
    log(cast.teacher, other)
    line = lines[1]
    first = log(cast.coordinator, publish_session(MONDAY, [line], "11:00", "11:30"))
    sending = log(cast.teacher, session)
    assert undo(cast.teacher, sending).sessions == 1
    assert DeliveryVersion.objects.current().filter(delivered_minutes=30).count() == 2
    assert DeliveryVersion.objects.get(sending=first).entry.version == 1


def make_full_day(cast: Cast) -> list[ServiceLine]:
    """Nineteen students in five sessions, in a school year."""
    make_ground(cast)
    lines = [make_line(cast, f"D{number:02d}") for number in range(19)]
    for number in range(5):
        publish_session(MONDAY, lines[number * 4 : number * 4 + 4], f"{8 + number}:30", f"{9 + number}:00")
    return lines


def test_a_marked_day_is_taken_back_whole_and_the_ledger_with_it(cast: Cast) -> None:
    """Nineteen entries in one tap, where it took nineteen corrections; every figure is as it was before."""
    lines = make_full_day(cast)
    student, as_of = lines[0].plan.student, date(18)
    before = student_ledger(cast.teacher, student, as_of).direct
    sending = uuid.uuid4()
    CalendarEntry.objects.create(
        district=cast.district, building=cast.north, first_date=MONDAY, last_date=MONDAY, kind="early_dismissal",
        closes_at=at("8:00"),
    )  # fmt: skip
    before = student_ledger(cast.teacher, student, as_of).direct
    marked = day_mark(actor=cast.teacher, date=MONDAY, client_id=sending, teacher=cast.teacher, now=EVENING)
    assert (marked.sessions, len(marked.entries)) == (5, 19)
    assert student_ledger(cast.teacher, student, as_of).direct != before
    done = undo(cast.teacher, sending)
    assert (done.sessions, len(done.entries)) == (5, 19)
    assert student_ledger(cast.teacher, student, as_of).direct == before
    assert not DeliveryVersion.objects.current().filter(delivered_minutes__isnull=False).exists()


def test_a_double_tap_takes_back_once(cast: Cast, session: PlannedSession) -> None:
    """The second says the same and writes nothing; nor does it touch what was logged anew in between."""
    sending = log(cast.teacher, session)
    first, second = undo(cast.teacher, sending), undo(cast.teacher, sending)
    assert first == second
    assert DeliveryVersion.objects.count() == 6
    again = log(cast.teacher, session, default=ABSENT)
    assert undo(cast.teacher, sending) == first
    assert history("S11") == [(30, "teacher"), (None, "teacher"), (0, "teacher")]
    undo(cast.teacher, again)
    assert history("S11")[2:] == [(0, "teacher"), (None, "teacher")]


def correct(cast: Cast, code: str, outcome: Outcome | None = ABSENT) -> None:
    """The coordinator corrects a student's entry."""
    entry = DeliveryEntry.objects.get(student__code=code)
    delivery_correct(
        actor=cast.coordinator, entry=entry, outcome=outcome, expected_revision=entry.revision, now=EVENING
    )


def test_what_somebody_changed_since_is_named_and_nothing_is_taken_back(
    cast: Cast, session: PlannedSession
) -> None:
    """By the student's code, for an error message holds no name; then the others alone are taken back."""
    sending = log(cast.teacher, session)
    correct(cast, "S12")
    error = refusal(cast.teacher, sending)
    assert error.code == "changed_since"
    assert "S12 on September 14, 8:30 AM, changed by Coordinator Vey" in error.message
    assert "S11" not in error.message
    assert "Quernmore" not in error.message
    done = undo(cast.teacher, sending, keep_changed=True)
    assert (len(done.entries), done.left) == (2, 1)
    assert history("S12") == [(30, "teacher"), (0, "coordinator")]
    assert history("S13") == [(30, "teacher"), (None, "teacher")]
    assert undo(cast.teacher, sending, keep_changed=True) == done


@pytest.mark.parametrize("outcome", [ABSENT, None])
def test_where_everything_was_changed_there_is_nothing_to_take_back(
    cast: Cast, session: PlannedSession, outcome: Outcome | None
) -> None:
    """Corrected or taken back one by one: said, and left."""
    sending = log(cast.teacher, session)
    for code in ("S11", "S12", "S13"):
        correct(cast, code, outcome)
    assert refusal(cast.teacher, sending, keep_changed=True).code == "changed_since"


def test_a_decision_of_the_team_is_a_change(cast: Cast, lines: list[ServiceLine], session: PlannedSession) -> None:
    """The tap's own undo doesn't take away what the team decided about."""
    reason = MissedReason.Effect.TEAM
    reasons_save(actor=cast.coordinator, values={"student_absent": {"effect": reason}})
    sending = log(cast.teacher, session, default=ABSENT)
    entry = DeliveryEntry.objects.get(student__code="S13")
    decision_record(
        actor=cast.teacher, entry=entry, effect="owed", decided_by="Plan team", decided_on=MONDAY,
        expected_revision=1, now=EVENING,
    )  # fmt: skip
    assert "S13" in refusal(cast.teacher, sending).message


def test_a_tap_that_was_taken_back_is_not_sent_again_by_the_back_button(
    cast: Cast, session: PlannedSession
) -> None:
    """The old page's button says so; it doesn't claim that the session is logged."""
    sending = log(cast.teacher, session)
    undo(cast.teacher, sending)
    with pytest.raises(ApplicationError) as refused:
        session_log(actor=cast.teacher, session=session, client_id=sending, now=EVENING)
    assert refused.value.code == "taken_back"
    assert DeliveryVersion.objects.count() == 6


@pytest.mark.parametrize(
    ("who", "status"),
    [("mate", 404), ("coordinator", 404), ("substitute", 404), ("stranger", 404), ("office", 403)],
)
def test_a_tap_is_its_persons_own(cast: Cast, session: PlannedSession, who: str, status: int) -> None:
    """Nobody else takes it back as one; a coordinator corrects entries."""
    sending = log(cast.teacher, session)
    assert refusal(getattr(cast, who), sending).status == status
    assert refusal(cast.teacher, uuid.uuid4()).status == 404


def test_a_substitute_takes_back_while_the_cover_lasts(cast: Cast) -> None:
    """And not after. What a substitute may see is asked by the clock."""
    today, now = timezone.localdate(), timezone.now()
    bring_to_now(cast, today)
    cover = Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=today, last_date=today
    )
    sending = uuid.uuid4()
    session = publish_session(today, [cast.line])
    session_log(actor=cast.substitute, session=session, client_id=sending, now=now)
    yesterday = today - dt.timedelta(days=1)
    Substitution.objects.filter(pk=cover.pk).update(first_date=yesterday, last_date=yesterday)
    with pytest.raises(ApplicationError) as refused:
        sending_undo(actor=cast.substitute, sending=sending, now=now)
    assert refused.value.status == 404
    Substitution.objects.filter(pk=cover.pk).update(first_date=today, last_date=today)
    assert sending_undo(actor=cast.substitute, sending=sending, now=now).sessions == 1


def test_the_districts_limit_of_days_holds(cast: Cast, session: PlannedSession) -> None:
    """As for a correction: a coordinator is asked then."""
    sending = log(cast.teacher, session)
    with pytest.raises(ValidationError, match="Ask the coordinator"):
        sending_undo(actor=cast.teacher, sending=sending, now=EVENING + dt.timedelta(days=400))
    assert DeliveryVersion.objects.count() == 3


def test_the_audit_says_who_took_back_what(cast: Cast, session: PlannedSession) -> None:
    """One entry with the ids, without a name or a note."""
    sending = log(cast.teacher, session)
    done = undo(cast.teacher, sending)
    undo(cast.teacher, sending)
    row = AuditEntry.objects.get(action="log_undo")
    assert row.actor == cast.teacher
    assert row.changes == {"entries": [[one.pk for one in done.entries], None]}


# ---- pages and the API: they ask the clock ---------------------------------------------------------------


@pytest.fixture
def today(cast: Cast) -> dt.date:
    """The clock's day, in a school year around it."""
    day = timezone.localdate()
    bring_to_now(cast, day)
    return day


def browser_of(person: Person) -> Client:
    """A browser in which the person has signed in."""
    browser = Client()
    browser.force_login(person)
    return browser


def button(page: str, words: str) -> tuple[str, dict[str, str]]:
    """Where the form with this button leads, and what it sends."""
    (form,) = [one for one in re.findall(r"<form.*?</form>", page, re.DOTALL) if words in one]
    action = re.search(r'action="([^"]+)"', form)
    assert action is not None
    return unescape(action[1]), dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))


def test_the_page_undoes_a_session_and_asks_where_it_was_changed(
    cast: Cast, lines: list[ServiceLine], today: dt.date
) -> None:
    """Log, undo; log again, somebody changes one: the page names the student, and the others are taken back."""
    session = publish_session(today, lines)
    browser, log_page = browser_of(cast.teacher), reverse("log")
    for _ in range(2):
        browser.post(reverse("log_session"), {"uid": session.uid, "client_id": uuid.uuid4()})
        address, sent = button(browser.get(log_page).content.decode(), "Undo logging")
        if not DeliveryVersion.objects.filter(number=2).exists():
            page = browser.post(address, sent, follow=True).content.decode()
            assert "Taken back: 1 session, 3 entries" in page
            assert "Undo logging" not in page
    entry = DeliveryEntry.objects.get(service_line=lines[1])
    delivery_correct(actor=cast.coordinator, entry=entry, outcome=ABSENT, expected_revision=entry.revision)
    asked = browser.post(address, sent)
    assert asked.status_code == 409
    page = asked.content.decode()
    assert Student.objects.get(code="S12").full_name in page
    assert Student.objects.get(code="S11").full_name not in page
    address, sent = button(page, "Take back the others")
    page = browser.post(address, sent, follow=True).content.decode()
    assert "Taken back: 1 session, 2 entries" in page
    assert "1 changed since was left" in page
    assert DeliveryVersion.objects.current().filter(delivered_minutes__isnull=False).count() == 1


def test_the_page_undoes_a_whole_day(cast: Cast, lines: list[ServiceLine], today: dt.date) -> None:
    """Marked with one tap, taken back with one, also by a coordinator who looks at another teacher's day."""
    for line, start, end in zip(lines, ("8:30", "9:30", "10:30"), ("9:00", "10:00", "11:00"), strict=True):
        publish_session(today, [line], start, end)
    browser = browser_of(cast.coordinator)
    CalendarEntry.objects.create(district=cast.district, first_date=today, last_date=today, kind="closed")
    sent = {"date": today, "building": cast.north.pk, "client_id": uuid.uuid4()}
    page = browser.post(reverse("day_mark"), sent, follow=True).content.decode()
    assert "You marked 3 sessions with one tap" in page
    address, values = button(page, "Undo all 3")
    page = browser.post(address, values, follow=True).content.decode()
    assert "Taken back: 3 sessions, 3 entries" in page
    assert not DeliveryVersion.objects.current().filter(delivered_minutes__isnull=False).exists()
    assert ">Undo" not in browser_of(cast.teacher).get(reverse("log")).content.decode()


def test_the_address_of_an_undo_holds_no_name(cast: Cast, lines: list[ServiceLine], today: dt.date) -> None:
    """What is no id finds nothing, and a link can't take anything back."""
    publish_session(today, lines)
    browser = browser_of(cast.teacher)
    assert browser.post(reverse("log_undo"), {"sending": "x"}).status_code == 404
    assert browser.get(reverse("log_undo")).status_code == 405


def test_the_api_does_the_same(cast: Cast, lines: list[ServiceLine], today: dt.date) -> None:
    """By the client id that was sent; minutes that nobody planned can be taken back so as well."""
    session, api = publish_session(today, lines), Api(cast.teacher)
    sending = str(uuid.uuid4())
    api.post("session-logs/", session=str(session.uid), client_id=sending)
    entry = DeliveryEntry.objects.get(service_line=lines[0])
    delivery_correct(actor=cast.coordinator, entry=entry, outcome=ABSENT, expected_revision=1)
    refused = api.post("log-undos/", expect=409, client_id=sending)
    assert (refused["code"], "S11" in refused["message"]) == ("changed_since", True)
    answer = api.post("log-undos/", client_id=sending, keep_changed=True)
    assert [[one["delivered_minutes"] for one in row["versions"]] for row in answer] == [[30, None]] * 2
    assert (
        api.post("session-logs/", expect=409, session=str(session.uid), client_id=sending)["code"] == "taken_back"
    )
    own = str(uuid.uuid4())
    values: dict[str, Any] = {
        "service_line": lines[0].pk,
        "date": str(today),
        "planned_minutes": 0,
        "delivered_minutes": 20,
    }
    api.post("log-entries/", client_id=own, **values)
    (taken,) = api.post("log-undos/", client_id=own)
    assert [one["delivered_minutes"] for one in taken["versions"]] == [20, None]
    assert Api(cast.mate).post("log-undos/", expect=404, client_id=own)["code"] == "not_found"
