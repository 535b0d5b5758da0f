"""A make-up is booked for the session that was missed, for a group as a group, and drafts keep it."""

import datetime as dt
import html

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from schedule.make_ups.selectors.needs import booked_sessions, group_needs, make_up_need, make_up_needs
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.make_ups.services.booking import make_up_book, make_up_cancel
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_pin
from schedule.weeks.versions.content import content_from_json, content_read, content_to_json
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_ground, make_line, make_week
from tests.schedule.log_builders import log_session, publish_session
from tests.schedule.runs import plan_now

SUNDAY = date(6)
NEXT = date(7)


@pytest.fixture
def lines(cast: Cast) -> list[ServiceLine]:
    """Three lines of 2 x 30 at North. Two sessions of all three were missed; the next week is in force."""
    make_ground(cast)
    cast.line.delete()
    made = [
        make_line(cast, code, statement="2 x 30 min/week", times=2, days_apart=0) for code in ("A1", "A2", "A3")
    ]
    for offset in (0, 2):
        away = {line.pk: Outcome(reason="assembly") for line in made}
        log_session(cast.teacher, publish_session(date(offset), made, "8:30", "9:00"), away)
    clocks = zip(made, ("8:30", "9:20", "10:10"), strict=True)
    week = make_week(cast, [(f"line-{line.pk}", NEXT, clock) for line, clock in clocks], monday=NEXT)
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    return made


def others(lines: list[ServiceLine]) -> tuple[int, ...]:
    """All but the first, as a booking for the group names them."""
    return tuple(line.pk for line in lines[1:])


def test_a_missed_group_is_offered_again_as_a_group_and_student_by_student(
    cast: Cast, lines: list[ServiceLine]
) -> None:
    """Two sessions, each of three students and 30 minutes; beside that each student has 60 open."""
    needs = make_up_needs(cast.teacher, cast.teacher, SUNDAY)
    groups = group_needs(needs)
    assert [(one.missed, one.minutes, len(one.members)) for one in groups] == [(date(0), 30, 3), (date(2), 30, 3)]
    assert {one.line.pk: one.minutes for one in needs} == {line.pk: 60 for line in lines}


def test_a_group_is_booked_as_one_session_for_all(cast: Cast, lines: list[ServiceLine]) -> None:
    """One session with three students on a free day; each has the session of that day made up, the other not."""
    choice = SlotChoice(missed=date(2), others=others(lines), until=date(13))
    found = make_up_slots(cast.teacher, lines[0], SUNDAY, choice)
    slot = found.slots[0]
    start = dt.time(slot.start // 60, slot.start % 60)
    week = make_up_book(
        actor=cast.teacher, line=lines[0], date=slot.date, start=start, minutes=30, today=SUNDAY,
        makes_up_for=date(2), others=others(lines),
    )  # fmt: skip
    session = week.sessions.get(makes_up=True)
    assert {one.service_line_id for one in session.attendees.all()} == {line.pk for line in lines}
    assert (session.makes_up_for, week.figures["broken"]) == (date(2), [])
    for line in lines:
        need = make_up_need(cast.teacher, line, SUNDAY)
        assert [(one.missed, one.minutes) for one in need.open] == [(date(0), 30)]
        assert [(one.minutes, one.makes_up_for) for one in need.booked] == [(30, date(2))]
    assert [one.missed for one in group_needs(make_up_needs(cast.teacher, cast.teacher, SUNDAY))] == [date(0)]


def test_one_student_of_a_group_is_booked_alone(cast: Cast, lines: list[ServiceLine]) -> None:
    """The other two are offered together still."""
    book(cast, lines[0], makes_up_for=date(0))
    [first, second] = group_needs(make_up_needs(cast.teacher, cast.teacher, SUNDAY))
    assert [one.line.pk for one in first.members] == [line.pk for line in lines[1:]]
    assert len(second.members) == 3


def book(cast: Cast, line: ServiceLine, makes_up_for: dt.date | None = None) -> WeekPlan:
    """Thirty minutes at 9:20 on the Wednesday of the next week."""
    return make_up_book(
        actor=cast.teacher, line=line, date=date(9), start=at("9:20"), minutes=30, today=SUNDAY,
        makes_up_for=makes_up_for,
    )  # fmt: skip


def test_what_was_booked_for_a_session_is_logged_for_it(cast: Cast, lines: list[ServiceLine]) -> None:
    """The entry of the log names the day; without a choice it is the oldest missed session."""
    week = book(cast, lines[0], makes_up_for=date(2))
    for session in week.sessions.filter(makes_up=True):
        log_session(cast.teacher, session)
    assert DeliveryEntry.objects.get(makes_up=True).makes_up_for == date(2)
    assert book_oldest(cast, lines[1]) == date(0)


def book_oldest(cast: Cast, line: ServiceLine) -> dt.date | None:
    """For which missed session a booking is that names none."""
    week = make_up_book(actor=cast.teacher, line=line, date=date(10), start=at("9:20"), minutes=30, today=SUNDAY)
    return week.sessions.get(makes_up=True, date=date(10)).makes_up_for


def test_a_session_that_is_made_up_already_is_refused(cast: Cast, lines: list[ServiceLine]) -> None:
    """By name of the day; nothing changes."""
    book(cast, lines[0], makes_up_for=date(2))
    with pytest.raises(ApplicationError) as refused:
        make_up_book(
            actor=cast.teacher, line=lines[0], date=date(10), start=at("9:20"), minutes=30, today=SUNDAY,
            makes_up_for=date(2),
        )  # fmt: skip
    assert (refused.value.code, "September 16" in refused.value.message) == ("nothing_open", True)


def draft_with(cast: Cast, lines: list[ServiceLine], day: dt.date) -> WeekPlan:
    """A draft of the next week that holds the first line's session on a day at 9:20."""
    return make_week(cast, [(f"line-{lines[0].pk}", day, "9:20")], monday=NEXT)


def test_a_draft_published_after_a_booking_keeps_it(cast: Cast, lines: list[ServiceLine]) -> None:
    """One that was made before it, without knowing of it: published, it holds the make-up for the same session."""
    draft = draft_with(cast, lines, date(8))
    booked = book(cast, lines[0], makes_up_for=date(2)).sessions.get(makes_up=True)
    draft.refresh_from_db()
    published = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    kept = published.sessions.get(makes_up=True)
    assert (kept.uid, kept.date, kept.makes_up_for) == (booked.uid, date(9), date(2))


def test_a_draft_of_the_week_in_force_is_not_stale_after_a_booking(cast: Cast, lines: list[ServiceLine]) -> None:
    """It was made by an edit before the booking: it follows the new version, and keeps its edit and the make-up."""
    week = WeekPlan.objects.get(monday=NEXT, status="published")
    uid = str(week.sessions.get(start=at("10:10")).uid)
    draft = week_session_pin(actor=cast.teacher, week=week, uid=uid, pinned=True, expected_revision=week.revision)
    book(cast, lines[0])
    draft.refresh_from_db()
    published = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    assert published.sessions.filter(makes_up=True).count() == 1
    assert published.sessions.filter(pinned=True).count() == 1


def test_a_draft_in_which_a_booking_has_no_room_says_so(cast: Cast, lines: list[ServiceLine]) -> None:
    """Something else stands there at that time: it can't be published, and the make-up isn't lost."""
    draft = draft_with(cast, lines, date(9))
    book(cast, lines[1])
    draft.refresh_from_db()
    with pytest.raises(ApplicationError) as refused:
        week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    assert refused.value.code == "rules_broken"
    assert WeekPlan.objects.get(monday=NEXT, status="published").sessions.filter(makes_up=True).count() == 1


def test_a_booking_taken_back_leaves_the_drafts_too(cast: Cast, lines: list[ServiceLine]) -> None:
    """Else publishing one would book it again."""
    run = plan_now(cast.teacher, NEXT, date(11), seconds=1)
    week = book(cast, lines[0])
    make_up_cancel(actor=cast.teacher, week=week, uid=str(week.sessions.get(makes_up=True).uid))
    assert not run.weeks.get().sessions.filter(makes_up=True).exists()


def test_planning_again_keeps_whom_and_what_it_is_for(cast: Cast, lines: list[ServiceLine]) -> None:
    """A group's make-up comes into the new draft with all of them and the same missed day."""
    slots = make_up_slots(cast.teacher, lines[0], SUNDAY, SlotChoice(date(0), others(lines), date(13))).slots
    start = dt.time(slots[0].start // 60, slots[0].start % 60)
    make_up_book(
        actor=cast.teacher, line=lines[0], date=slots[0].date, start=start, minutes=30, today=SUNDAY,
        makes_up_for=date(0), others=others(lines),
    )  # fmt: skip
    run = plan_now(cast.teacher, NEXT, date(11), seconds=1)
    kept = run.weeks.get().sessions.get(makes_up=True)
    assert (kept.date, kept.makes_up_for, kept.attendees.count()) == (slots[0].date, date(0), 3)


def test_a_content_kept_for_undo_holds_what_it_is_for(cast: Cast, lines: list[ServiceLine]) -> None:
    """To JSON and back; what was kept before there was such a day is read as before."""
    content = content_read(book(cast, lines[0]))
    plain = content_to_json(content)
    assert content_from_json(plain).sessions == content.sessions
    for one in plain["sessions"]:
        del one["makes_up_for"]
    assert {one.makes_up_for for one in content_from_json(plain).sessions} == {None}


def test_the_page_and_the_api_book_a_group(
    cast: Cast, lines: list[ServiceLine], client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the list to the group's slots, and one tap; the API lists the group and takes the same."""
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SUNDAY)
    client.force_login(cast.teacher)
    page = html.unescape(client.get(reverse("make_ups")).content.decode())
    address = reverse("make_up_slots", args=[lines[0].pk])
    joined = ",".join(str(one) for one in others(lines))
    assert f"{address}?makes_up_for=2026-09-14&others={joined.replace(',', '%2C')}" in page
    asked: dict[str, str | list[str]] = {"makes_up_for": "2026-09-14", "others": joined, "until": "2026-09-25"}
    listed = client.get(address, asked).content.decode()
    assert "missed 30 minutes together on Monday, September 14" in " ".join(listed.split())
    groups = client.get(reverse("api:make_up_groups")).json()
    assert [(one["makes_up_for"], len(one["line_ids"])) for one in groups] == [("2026-09-14", 3), ("2026-09-16", 3)]
    api = reverse("api:make_up_slots", args=[lines[0].pk])
    slot = client.get(api, {**asked, "others": [str(one) for one in others(lines)]}).json()[0]
    sent = {name: slot[name] for name in ("date", "start", "minutes")}
    sent |= {"makes_up_for": "2026-09-14", "others": list(others(lines))}
    assert client.post(api, sent, content_type="application/json").status_code == 201
    session = PlannedSession.objects.get(makes_up=True, week__status="published")
    assert (session.attendees.count(), session.makes_up_for) == (3, date(0))
    second = {**sent, "makes_up_for": "2026-09-16", "others": joined, "start": "13:15"}
    booked = client.post(reverse("make_up_book", args=[lines[0].pk]), second, follow=True).content.decode()
    assert "It is in the week." in booked


def test_others_out_of_sight_are_not_there(cast: Cast, lines: list[ServiceLine]) -> None:
    """A line of another teacher's can't be taken into a group."""
    foreign = make_line(cast, "M1", teacher=cast.mate)
    with pytest.raises(ApplicationError) as refused:
        make_up_slots(cast.teacher, lines[0], SUNDAY, SlotChoice(date(0), (foreign.pk,)))
    assert refused.value.status == 404


def test_a_booking_says_which_session_it_is_for(
    cast: Cast, lines: list[ServiceLine], client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it is listed, with its time."""
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SUNDAY)
    book(cast, lines[0], makes_up_for=date(2))
    client.force_login(cast.teacher)
    page = client.get(reverse("make_ups"), {"teacher": cast.teacher.pk}).content.decode()
    assert "30 minutes, for September 16" in page


def test_a_groups_booking_stands_once_with_everyone_in_it(
    cast: Cast, lines: list[ServiceLine], client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Taking it back is for all of them: three rows of one student each once hid that."""
    make_up_book(
        actor=cast.teacher, line=lines[0], date=date(9), start=dt.time(8, 30), minutes=30, today=SUNDAY,
        makes_up_for=date(2), others=others(lines),
    )  # fmt: skip
    [(members, booked)] = booked_sessions(make_up_needs(cast.teacher, cast.teacher, SUNDAY))
    assert ({one.line.pk for one in members}, booked.date) == ({line.pk for line in lines}, date(9))
    # The clock, not our own code: pages ask what day it is in one place.
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_, **__: SUNDAY)
    client.force_login(cast.teacher)
    page = client.get(reverse("make_ups")).content.decode()
    assert page.count("Take back") == 1
    assert "8:30 AM" in page
