"""Teachers who share a caseload: what each sees and logs of the others', on which days, and what is recorded of it.

That records of who obtained a student's record are kept, and whom they needn't name: 34 CFR 99.32(a) and (d); that
a school official sees only records in which they have a legitimate educational interest: 34 CFR 99.31(a)(1). People
are invented.
"""

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person, PersonRole
from accounts.roles.services import role_save
from caseload.access.models import Access
from caseload.access.watching import MATE
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.plans.models import Student, StudentHold
from caseload.progress.models import DataPoint
from caseload.teams.models import Team, mates_of
from caseload.teams.services import team_save
from schedule.calendar.models import CalendarEntry
from schedule.feeds.services.feeds import feed_add
from schedule.weeks.models import PlannedSession
from tests.accounts.test_sendings import carry, client_of
from tests.api import Api
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast, date_there, make_person
from tests.schedule.log_builders import publish_session

DAY = dt.timedelta(days=1)
SEE, LOG = Team.Shares.SEE, Team.Shares.LOG


def make_team(cast: Cast, *members: Person, shares: str = SEE, **days: Any) -> Team:
    """Of the teacher and the mate, from yesterday until tomorrow, if nothing else is said."""
    today = date_there()
    values = {
        "name": "North PE",
        "members": list(members) or [cast.teacher, cast.mate],
        "shares": shares,
        "first_day": today - DAY,
        "last_day": today + DAY,
        **days,
    }
    return team_save(actor=cast.coordinator, row=Team(), values=values)


def browser_of(person: Person) -> Client:
    """A signed-in browser."""
    client = Client()
    client.force_login(person)
    return client


def codes(person: Person) -> set[str]:
    """Which students the API lists."""
    return {one["code"] for one in Api(person).get("students/")["results"]}


def school_day(back: int = 0) -> dt.date:
    """Today, or a day before: sessions of tests lie on any weekday."""
    return date_there() - back * DAY


def a_session(cast: Cast, day: dt.date | None = None) -> PlannedSession:
    """A session of the teacher's, today."""
    return publish_session(day or date_there(), [cast.line])


# ---- what is seen, and on which days ---------------------------------------------------------------------


def test_mates_see_each_others_students_and_others_dont(cast: Cast) -> None:
    """Both see both, a third teacher neither; each list says whose a student is."""
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    assert codes(cast.mate) == {"S02"}
    make_team(cast)
    assert (codes(cast.teacher), codes(cast.mate), codes(third)) == ({"S01", "S02"}, {"S01", "S02"}, set())
    page = browser_of(cast.mate).get(reverse("student_list"))
    assert page.context["mates"] == {cast.teacher.pk}
    assert f'<span class="badge info">{cast.teacher}</span>' in page.content.decode()
    assert f'<span class="badge info">{cast.mate}</span>' not in page.content.decode()


@pytest.mark.parametrize(
    ("first", "last", "seen"),
    [(0, 0, True), (-9, 0, True), (0, 9, True), (1, 9, False), (-9, -1, False)],
    ids=["today alone", "until today", "from today", "from tomorrow", "until yesterday"],
)
def test_a_team_opens_and_ends_on_its_days(cast: Cast, first: int, last: int, seen: bool) -> None:
    """Both days are included; before and after nothing of it is seen."""
    make_team(cast, first_day=date_there() + first * DAY, last_day=date_there() + last * DAY)
    browser = browser_of(cast.mate)
    assert (codes(cast.mate) == {"S01", "S02"}) is seen
    page = browser.get(reverse("student_detail", args=[cast.student.pk]))
    assert (page.status_code == 200) is seen


def test_nobody_sees_by_a_mates_other_team(cast: Cast) -> None:
    """The mate shares with the teacher and with a third: those two don't share with each other."""
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    make_team(cast)
    make_team(cast, cast.mate, third)
    assert codes(third) == {"S02"}
    assert codes(cast.teacher) == {"S01", "S02"}


def test_who_works_in_another_role_has_no_mates(cast: Cast) -> None:
    """A teacher who is a coordinator as well sees by the team only while teaching (docs/security.md)."""
    make_team(cast)
    values = {"role": Person.Role.COORDINATOR, "first_day": date_there()}
    role_save(actor=cast.coordinator, row=PersonRole(person=cast.mate), values=values)
    person = Person.objects.get(pk=cast.mate.pk)
    assert [one.person_id for one in mates_of(person, date_there())] == [cast.teacher.pk]
    assert mates_of(person.act_as(Person.Role.COORDINATOR), date_there()) == ()
    assert mates_of(cast.substitute, date_there()) == ()


def test_a_mates_student_is_shown_without_a_way_to_change(cast: Cast) -> None:
    """No link and no form of the page, its panels, the goals and the minutes leads to what changes something."""
    goal = make_goal(cast.student)
    make_team(cast, shares=LOG)
    mates, own = browser_of(cast.mate), browser_of(cast.teacher)
    for address in (
        reverse("student_detail", args=[cast.student.pk]),
        reverse("goal_list", args=[cast.student.pk]),
        reverse("goal_detail", args=[goal.pk]),
        reverse("student_ledger", args=[cast.student.pk]),
    ):
        seen = mates.get(address).content.decode()
        ways = ("/change/", "/new/", "/take-back/", "/minutes/log/", "/reports/", "/data/")
        main = seen[seen.index("<main") : seen.index("</main")]
        assert [one for one in ways if one in main] == [], address
        assert '<form method="post"' not in main, address
        whole = own.get(address).content.decode()
        assert any(one in whole[whole.index("<main") :] for one in ways), address


def test_a_mates_published_week_is_seen_on_the_teams_days(cast: Cast) -> None:
    """Sessions of other days of the same week aren't in it; nor is it offered to plan or to change."""
    today = date_there()
    monday = today - today.weekday() * DAY
    there, before = a_session(cast, today), None
    if today > monday:
        before = publish_session(monday, [cast.line], "10:00", "10:30")
    make_team(cast, first_day=today, last_day=today)
    browser = browser_of(cast.mate)
    page = browser.get(reverse("week"), {"teacher": str(cast.teacher.pk), "week": monday.isoformat()})
    assert page.status_code == 200
    uids = {one.uid for day in page.context["detail"].days for one in day.sessions}
    assert str(there.uid) in {str(one) for one in uids}
    assert before is None or str(before.uid) not in {str(one) for one in uids}
    assert page.context["may_change"] is False
    assert reverse("week_edit", args=[there.week_id]) not in page.content.decode()
    assert browser.get(reverse("week_edit", args=[there.week_id])).status_code == 404
    assert browser.get(reverse("day_of", args=[today]), {"teacher": cast.teacher.pk}).status_code == 404


# ---- logging for each other ------------------------------------------------------------------------------


def send(browser: Client, session: PlannedSession) -> int:
    """One tap on the log's page: as planned."""
    return browser.post(reverse("log_session"), {"uid": str(session.uid)}).status_code


def test_who_only_sees_doesnt_log(cast: Cast) -> None:
    """The session isn't there for the mate, on the page and in the API, and the log doesn't offer the teacher."""
    session = a_session(cast)
    make_team(cast, shares=SEE)
    browser = browser_of(cast.mate)
    assert send(browser, session) == 404
    Api(cast.mate).post("session-logs/", 404, session=str(session.uid), client_id=str(uuid.uuid4()))
    assert browser.get(reverse("log"), {"teacher": cast.teacher.pk}).status_code == 404
    assert not DeliveryEntry.objects.exists()


def test_a_mate_logs_and_the_log_says_who(cast: Cast) -> None:
    """The minutes are the teacher's session's; the version carries the mate; who tapped it takes it back."""
    session = a_session(cast)
    make_team(cast, shares=LOG)
    browser = browser_of(cast.mate)
    page = browser.get(reverse("log"), {"teacher": str(cast.teacher.pk), "date": date_there().isoformat()})
    assert [one.uid for one, _, _ in page.context["sessions"]] == [session.uid]
    assert send(browser, session) == 302
    version = DeliveryVersion.objects.get()
    assert version.logged_by == cast.mate
    assert version.entry.provider == cast.teacher
    entry = browser.get(reverse("log_entry", args=[version.entry_id])).content.decode()
    assert str(cast.mate) in entry
    assert reverse("log_correct", args=[version.entry_id]) in entry
    # Not the teacher's tap: only whoever sent it takes it back.
    sending = {"sending": str(version.sending)}
    assert browser_of(cast.teacher).post(reverse("log_undo"), sending).status_code == 404
    assert browser.post(reverse("log_undo"), sending).status_code == 302
    assert DeliveryEntry.objects.get().versions.current().get().delivered_minutes is None


def test_only_sessions_of_the_teams_days_are_logged(cast: Cast) -> None:
    """A session of the day before the team's first is the teacher's alone."""
    old = a_session(cast, school_day(back=1))
    make_team(cast, shares=LOG, first_day=date_there())
    assert send(browser_of(cast.mate), old) == 404
    make_team(cast, shares=LOG)
    assert send(browser_of(cast.mate), old) == 302


def test_what_a_plans_team_decides_isnt_a_mates_to_record(cast: Cast) -> None:
    """Logging for each other goes no further than what happened in a session."""
    session = a_session(cast)
    make_team(cast, shares=LOG)
    assert send(browser_of(cast.mate), session) == 302
    entry = DeliveryEntry.objects.get()
    browser = browser_of(cast.mate)
    assert browser.post(reverse("log_decide", args=[entry.pk])).status_code == 404
    body = {"effect": "owed", "decided_by": "Team", "decided_on": date_there().isoformat(), "expected_revision": 1}
    Api(cast.mate).post(f"log-entries/{entry.pk}/decide/", 404, **body)


def test_one_sending_of_many_opens_no_other(cast: Cast) -> None:
    """What one operation reads with a team isn't handed on to another of the same request that teams don't open."""
    session, goal = a_session(cast), make_goal(cast.student)
    make_team(cast, shares=LOG)
    hold = {"student": cast.student.pk, "start": "10:00:00", "end": "10:30:00"}
    point = {"goal": goal.pk, "client_id": str(uuid.uuid4()), "day": date_there().isoformat(), "value": 1}
    sendings = [
        {
            "key": "sending-number-one-of-three",
            "url": "/api/1/session-logs/",
            "body": {"session": str(session.uid), "client_id": str(uuid.uuid4())},
        },
        {"key": "sending-number-two-of-three", "url": "/api/1/holds/", "body": hold},
        {"key": "sending-number-three-of-three", "url": "/api/1/data-points/", "body": point},
    ]
    told = carry(client_of(cast.mate), *sendings).json()["answers"]
    assert [one["status"] for one in told] == [201, 400, 201]
    assert not StudentHold.objects.exists()
    assert DataPoint.objects.get(goal=goal).taken_by == cast.mate


# ---- what is recorded, kept on a phone, and in a calendar ------------------------------------------------


def test_a_look_at_a_mates_student_is_recorded(cast: Cast) -> None:
    """Under who saw what, with the reason; the own students beside it aren't, nor without a team's part."""
    make_team(cast)
    browser = browser_of(cast.mate)
    browser.get(reverse("student_detail", args=[cast.mates_student.pk]))
    assert not Access.objects.filter(kind=Access.Kind.VIEW).exists()
    browser.get(reverse("student_list"))
    browser.get(reverse("student_detail", args=[cast.student.pk]))
    rows = Access.objects.filter(kind=Access.Kind.VIEW).order_by("pk")
    assert [(one.page, one.person, one.why) for one in rows] == [
        ("student_list", cast.mate, MATE),
        ("student_detail", cast.mate, MATE),
    ]
    assert [set(one.students.all()) for one in rows] == [{cast.student}, {cast.student}]


@pytest.mark.parametrize("kept", ["names", "initials"])
def test_a_phone_keeps_nothing_of_a_mates(cast: Cast, kept: str) -> None:
    """A page that is asked for to be kept knows no team, encrypted or not (docs/offline.md)."""
    make_team(cast, shares=LOG)
    browser = browser_of(cast.mate)
    headers = {"Kept-Page": kept}
    assert browser.get(reverse("student_detail", args=[cast.student.pk]), headers=headers).status_code == 404
    page = browser.get(reverse("student_list"), headers=headers)
    assert [one.code for one, *_ in page.context["students"]] == ["S02"]
    assert browser.get(reverse("log"), {"teacher": cast.teacher.pk}, headers=headers).status_code == 404


def test_a_calendar_knows_no_team(cast: Cast) -> None:
    """The bytes of a mate's feed are those from before the team."""
    a_session(cast)
    _, address = feed_add(actor=cast.mate, kind="teacher", site="http://testserver", values={"label": "phone"})
    path = address.removeprefix("http://testserver")
    before = Client().get(path)
    make_team(cast, shares=LOG)
    after = Client().get(path)
    assert before.status_code == after.status_code == 200
    assert before.content == after.content
    assert b"S01" not in after.content


def test_pages_that_arent_opened_know_no_team(cast: Cast) -> None:
    """What needs attention, reports, make-ups: the own students alone."""
    make_goal(cast.student)
    make_team(cast, shares=LOG)
    browser = browser_of(cast.mate)
    for name in ("attention", "report_home", "progress_reports", "make_ups", "team_decisions"):
        page = browser.get(reverse(name))
        assert page.status_code == 200, name
        assert cast.student.full_name not in page.content.decode(), name
    for name in ("report_student", "student_archive", "minutes_log", "student_progress_reports"):
        assert browser.get(reverse(name, args=[cast.student.pk])).status_code == 404, name
    assert Student.objects.visible_to(Person.objects.get(pk=cast.mate.pk)).get() == cast.mates_student


# ---- a mate's day, and the data on goals -----------------------------------------------------------------


def the_day(cast: Cast, day: dt.date | None = None) -> tuple[str, dict[str, int]]:
    """Address of the teacher's day sheet."""
    return reverse("day_of", args=[day or date_there()]), {"teacher": cast.teacher.pk}


def test_a_mates_day_sheet_is_for_who_logs_for_each_other(cast: Cast) -> None:
    """With its sessions, and no way to its drives, packet and messages; who only sees hasn't got it."""
    session, goal = a_session(cast), make_goal(cast.student)
    team = make_team(cast, shares=SEE)
    browser, own = browser_of(cast.mate), browser_of(cast.teacher)
    address, whose = the_day(cast)
    assert browser.get(address, whose).status_code == 404
    Api(cast.mate).get(f"days/{date_there()}/", 404, teacher=cast.teacher.pk)
    team_save(actor=cast.coordinator, row=team, values={"shares": LOG})
    page = browser.get(address, whose)
    assert [str(one.session.uid) for one in page.context["sheet"].sessions] == [str(session.uid)]
    seen, whole = page.content.decode(), own.get(address).content.decode()
    assert f"student={goal.student_id}" in seen
    assert reverse("log_session") in seen
    for way in ("/packet/", "/happenings/", "/run/", "/set-up/", "/seen/"):
        assert way not in seen[seen.index("<main") :], way
    assert "/packet/" in whole
    told = Api(cast.mate).get(f"days/{date_there()}/", teacher=cast.teacher.pk)
    assert [one["session"]["uid"] for one in told["lines"] if one["session"]] == [str(session.uid)]
    assert Access.objects.filter(page="day_of", person=cast.mate, why=MATE).get().students.get() == cast.student
    headers = {"Kept-Page": "names"}
    assert browser.get(address, whose, headers=headers).status_code == 404


def test_a_mates_day_sheet_is_empty_on_other_days(cast: Cast) -> None:
    """The day before the team's first: its sessions aren't there."""
    yesterday = school_day(back=1)
    a_session(cast, yesterday)
    make_team(cast, shares=LOG, first_day=date_there())
    address, whose = the_day(cast, yesterday)
    page = browser_of(cast.mate).get(address, whose)
    assert page.context["sheet"].sessions == ()
    assert cast.student.full_name not in page.content.decode()


def test_what_falls_out_of_a_mates_day_is_logged_at_once(cast: Cast) -> None:
    """Only where the mate is named: the own press logs the own sessions alone."""
    session = a_session(cast)
    CalendarEntry.objects.create(
        district=cast.district, kind="closed", first_date=date_there(), last_date=date_there(), title="Snow"
    )
    make_team(cast, shares=LOG)
    body = {"date": date_there().isoformat(), "client_id": str(uuid.uuid4())}
    Api(cast.mate).post("day-marks/", 409, **body)
    assert not DeliveryEntry.objects.exists()
    press = {**body, "teacher": str(cast.teacher.pk), "building": ""}
    assert browser_of(cast.mate).post(reverse("day_mark"), press).status_code == 302
    version = DeliveryVersion.objects.get()
    assert (version.logged_by, version.entry.session_uid) == (cast.mate, session.uid)


def test_data_of_a_mates_student_are_taken_on_the_teams_days(cast: Cast) -> None:
    """By page and API, with who took them; taken back by who took them, of the others' by nobody else."""
    goal = make_goal(cast.student)
    kept = make_point(goal, date_there(), 3, cast.teacher)
    team = make_team(cast, shares=SEE)
    browser, take = browser_of(cast.mate), reverse("data_take")
    form: dict[str, Any] = {
        "goal": goal.pk,
        "client_id": str(uuid.uuid4()),
        "day": date_there().isoformat(),
        "value": "4",
    }
    here = f"{take}?student={cast.student.pk}"
    assert cast.student.full_name not in browser.get(here).content.decode()
    assert browser.post(here, form).status_code == 404
    sent: dict[str, Any] = {**form, "client_id": str(uuid.uuid4())}
    Api(cast.mate).post("data-points/", 404, **sent)
    team_save(actor=cast.coordinator, row=team, values={"shares": LOG})
    assert browser.post(here, form).status_code == 302
    Api(cast.mate).post("data-points/", **sent)
    assert {one.taken_by for one in goal.data.exclude(pk=kept.pk)} == {cast.mate}
    page = browser.get(here).content.decode()
    mine = goal.data.get(client_id=form["client_id"])
    assert reverse("data_undo", args=[mine.pk]) in page
    assert reverse("data_undo", args=[kept.pk]) not in page
    assert browser.post(reverse("data_undo", args=[kept.pk])).status_code == 404
    assert browser.post(reverse("data_undo", args=[mine.pk])).status_code == 302
    mine.refresh_from_db()
    assert mine.undone_by == cast.mate
    before = {**sent, "client_id": str(uuid.uuid4()), "day": (date_there() - 5 * DAY).isoformat()}
    Api(cast.mate).post("data-points/", 404, **before)
    assert browser.post(reverse("data_restore", args=[mine.pk])).status_code == 302
    team_save(actor=cast.coordinator, row=team, values={"shares": SEE})
    assert browser.post(reverse("data_undo", args=[mine.pk])).status_code == 404
