"""Ends: a school that closes for good, a teacher and a student who leave; published weeks lose those sessions."""

import datetime as dt
from collections.abc import Callable
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import Substitution
from accounts.people.services import person_active_set, person_save
from caseload.delivery.told import AS_PLANNED
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import Student
from caseload.plans.services import (
    caseload_hand_over,
    caseload_hand_over_undo,
    enrollment_take_back,
    student_move,
    student_save,
)
from schedule.attention.selectors.attention import attention
from schedule.attention.selectors.rows import Kind
from schedule.calendar.models import SchoolYear
from schedule.calendar.selectors.school_days import load_calendars
from schedule.log.selectors.ledger import student_ledger
from schedule.log.selectors.sessions import day_sessions, unlogged_sessions
from schedule.log.services import session_log
from schedule.weeks.models import PlannedSession
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.others.elsewhere import by_student, held_by_others, of_students
from schedule.weeks.selectors.detail import build_detail
from schedule.weeks.selectors.gaps import week_against_owed
from schedule.weeks.selectors.leaving import days_after_leaving, gone_from
from schedule.weeks.selectors.seen.marks import week_marks
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line
from tests.schedule.log_builders import evening_of, publish_session
from travel.places.services import building_save

TUESDAY, WEDNESDAY, SATURDAY, SUNDAY = date(1), date(2), date(5), date(6)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """A school year, the teacher's rules and hours."""
    make_ground(cast)
    return cast


def sessions(cast: Cast) -> tuple[PlannedSession, PlannedSession]:
    """One on Monday and one on Wednesday of a published week."""
    return publish_session(MONDAY, [cast.line]), publish_session(WEDNESDAY, [cast.line])


def told(*rows: PlannedSession) -> list[str]:
    """What the week says of each session; empty where it takes place."""
    marks = week_marks(rows[0].week)
    return [marks.off_session(str(one.uid)) for one in rows]


def teacher_leaves(cast: Cast, last: dt.date) -> None:
    """After a last day of work."""
    person_save(actor=cast.coordinator, row=cast.teacher, values={"last_day": last})


def test_sessions_after_a_teachers_last_day_are_off(ground: Cast) -> None:
    """The last day is worked; what was before waits for its log still, what comes after doesn't."""
    monday, wednesday = sessions(ground)
    teacher_leaves(ground, MONDAY)
    assert told(monday, wednesday) == ["", "the teacher has left"]
    assert week_marks(monday.week).is_off(WEDNESDAY)
    assert not week_marks(monday.week).is_off(MONDAY)
    waiting = unlogged_sessions(ground.coordinator, ground.teacher, SATURDAY)
    assert [one.uid for one in waiting] == [monday.uid]


def test_minutes_that_nobody_gives_anymore_stay_owed(ground: Cast) -> None:
    """The ledger counts the sessions of before alone as planned, and owes the week as before."""
    sessions(ground)
    before = student_ledger(ground.coordinator, ground.student, SUNDAY).lines[0].figures
    teacher_leaves(ground, MONDAY)
    after = student_ledger(ground.coordinator, ground.student, SUNDAY).lines[0].figures
    assert (before.unlogged, after.unlogged) == (60, 30)
    assert (before.owed, after.owed) == (60, 60)


def test_who_is_covered_has_not_left_those_days(ground: Cast) -> None:
    """A substitute stands in until the caseload is handed over: the sessions take place."""
    monday, wednesday = sessions(ground)
    teacher_leaves(ground, MONDAY)
    Substitution.objects.create(
        teacher=ground.teacher, substitute=ground.substitute, first_date=TUESDAY, last_date=WEDNESDAY
    )
    assert told(monday, wednesday) == ["", ""]
    dates = [MONDAY, TUESDAY, WEDNESDAY, date(3)]
    assert days_after_leaving(ground.teacher, dates) == {date(3)}
    assert len(unlogged_sessions(ground.coordinator, ground.teacher, SATURDAY)) == 2
    busy = by_student(held_by_others(ground.mate, of_students([ground.student.pk]), MONDAY, SUNDAY))
    assert [one.date for one in busy[ground.student.pk]] == [MONDAY, WEDNESDAY]


def test_nothing_is_planned_after_a_last_day(ground: Cast) -> None:
    teacher_leaves(ground, TUESDAY)
    assert {day.id for day in load_week(ground.teacher, MONDAY).problem.days} == {
        MONDAY.isoformat(),
        TUESDAY.isoformat(),
    }
    with pytest.raises(ApplicationError):
        load_week(ground.teacher, MONDAY + dt.timedelta(days=7))


def test_services_that_nobody_gives_any_more_are_listed_until_somebody_has_them(ground: Cast) -> None:
    """For the coordinator, who hands them over; the teacher who leaves can't."""
    teacher_leaves(ground, TUESDAY)
    found = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.UNSERVED)
    assert [(row.line_id, row.due) for row in found] == [(ground.line.pk, WEDNESDAY)]
    assert "nobody gives it after September 15, 2026" in found[0].words
    assert attention(ground.teacher, ground.teacher, MONDAY).of(Kind.UNSERVED) == ()
    caseload_hand_over(
        actor=ground.coordinator,
        giver=ground.teacher,
        receiver=ground.mate,
        students=[ground.student],
        from_day=WEDNESDAY,
    )
    assert attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.UNSERVED) == ()


def test_whoever_is_stopped_gets_a_last_day_and_loses_it_when_let_in_again(ground: Cast) -> None:
    known = []
    for active in (False, True):
        person_active_set(actor=ground.coordinator, row=ground.teacher, active=active)
        known.append(ground.teacher.last_day is not None)
    assert known == [True, False]
    teacher_leaves(ground, MONDAY)
    person_active_set(actor=ground.coordinator, row=ground.teacher, active=False)
    assert ground.teacher.last_day == MONDAY


def test_sessions_of_a_student_who_left_are_off(ground: Cast) -> None:
    monday, wednesday = sessions(ground)
    student_save(actor=ground.coordinator, row=ground.student, values={"last_day": TUESDAY})
    assert told(monday, wednesday) == ["", "its students have left North Hollow School"]
    assert [one.uid for one in unlogged_sessions(ground.coordinator, ground.teacher, SATURDAY)] == [monday.uid]


def test_sessions_at_the_school_that_a_student_moved_away_from_are_off(ground: Cast) -> None:
    """They say so until the week is planned again; what was before the move stands, and waits for its log."""
    monday, wednesday = sessions(ground)
    moved = student_move(
        actor=ground.coordinator, student=ground.student, from_day=TUESDAY, values={"building": ground.south}
    )
    assert told(monday, wednesday) == ["", "its students have left North Hollow School"]
    assert [one.uid for one in unlogged_sessions(ground.coordinator, ground.teacher, SATURDAY)] == [monday.uid]
    rows = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.ENDED)
    assert "Students have left North Hollow School" in rows[0].words
    enrollment_take_back(actor=ground.coordinator, row=moved)
    assert told(monday, wednesday) == ["", ""]


def test_sessions_that_were_handed_over_leave_the_week_of_the_teacher_before(ground: Cast) -> None:
    """They are the other teacher's to plan; what was before stays, and taken back all stand again."""
    monday, wednesday = sessions(ground)
    entry = caseload_hand_over(
        actor=ground.coordinator,
        giver=ground.teacher,
        receiver=ground.mate,
        students=[ground.student],
        from_day=TUESDAY,
    )
    assert told(monday, wednesday) == ["", "another teacher gives it now"]
    busy = by_student(held_by_others(ground.mate, of_students([ground.student.pk]), MONDAY, SUNDAY))
    assert [one.date for one in busy[ground.student.pk]] == [MONDAY]
    assert [one.uid for one in unlogged_sessions(ground.coordinator, ground.teacher, SATURDAY)] == [monday.uid]
    rows = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.ENDED)
    assert rows[0].words.startswith("Another teacher gives them now: 1 planned session")
    caseload_hand_over_undo(actor=ground.coordinator, entry=entry)
    assert told(monday, wednesday) == ["", ""]


def test_a_group_meets_until_its_last_student_has_left(ground: Cast) -> None:
    other = make_line(ground, "B1")
    both = publish_session(WEDNESDAY, [ground.line, other])
    student_save(actor=ground.coordinator, row=ground.student, values={"last_day": TUESDAY})
    assert gone_from([both.uid]).sessions == frozenset()
    student_save(actor=ground.coordinator, row=other.student, values={"last_day": TUESDAY})
    assert gone_from([both.uid]).sessions == {str(both.uid)}


@pytest.fixture
def group(ground: Cast) -> PlannedSession:
    """Two students of one session on Wednesday, of whom the second stays; the first is there on Monday, too."""
    publish_session(MONDAY, [ground.line])
    return publish_session(WEDNESDAY, [ground.line, make_line(ground, "B1")])


def moves(cast: Cast) -> None:
    """To the other school, from Tuesday on."""
    student_move(actor=cast.coordinator, student=cast.student, from_day=TUESDAY, values={"building": cast.south})


def is_handed_over(cast: Cast) -> None:
    """To the mate, from Tuesday on."""
    caseload_hand_over(
        actor=cast.coordinator,
        giver=cast.teacher,
        receiver=cast.mate,
        students=[cast.student],
        from_day=TUESDAY,
    )


def leaves(cast: Cast) -> None:
    """Tuesday is the last day."""
    student_save(actor=cast.coordinator, row=cast.student, values={"last_day": TUESDAY})


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (moves, "has left North Hollow School"),
        (leaves, "has left North Hollow School"),
        (is_handed_over, "another teacher serves"),
    ],
)
def test_a_group_goes_on_without_the_student_who_is_gone(
    ground: Cast, group: PlannedSession, act: Callable[[Cast], None], why: str
) -> None:
    """Week, log, ledger and attention; a student who is gone from one session isn't kept busy by it either."""
    act(ground)
    detail = build_detail(ground.coordinator, group.week)
    [seen] = [one for day in detail.days for one in day.sessions if one.uid == str(group.uid)]
    assert [one.code for one in seen.attendees] == ["B1"]
    assert (seen.off, len(seen.without)) == ("", 1)
    assert why in seen.without[0]
    [to_log] = day_sessions(ground.coordinator, ground.teacher, WEDNESDAY)
    assert [one.code for one in to_log.attendees] == ["B1"]
    assert not to_log.off
    figures = student_ledger(ground.coordinator, ground.student, SUNDAY).lines[0].figures
    assert figures.unlogged == 30
    [row] = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.ENDED)
    assert "1 planned session goes on without them" in row.words
    busy = by_student(held_by_others(ground.mate, of_students([ground.student.pk]), MONDAY, SUNDAY))
    assert [one.date for one in busy[ground.student.pk]] == [MONDAY]


def test_nobody_is_logged_by_a_tap_in_a_session_after_they_left(ground: Cast, group: PlannedSession) -> None:
    """The tap logs those who are there; what was logged before the change was told stays to be seen."""
    leaves(ground)
    entries = session_log(actor=ground.teacher, session=group, client_id=uuid4(), now=evening_of(WEDNESDAY))
    assert [one.student.code for one in entries] == ["B1"]
    with pytest.raises(ValidationError):
        session_log(
            actor=ground.teacher,
            session=group,
            client_id=uuid4(),
            exceptions={ground.line.pk: AS_PLANNED},
            now=evening_of(WEDNESDAY),
        )


def test_a_log_that_was_made_before_a_hand_over_was_told_stays(ground: Cast, group: PlannedSession) -> None:
    session_log(actor=ground.teacher, session=group, client_id=uuid4(), now=evening_of(WEDNESDAY))
    is_handed_over(ground)
    [found] = day_sessions(ground.coordinator, ground.teacher, WEDNESDAY)
    assert {one.code for one in found.attendees} == {ground.student.code, "B1"}
    assert found.is_logged


def test_a_session_that_is_off_for_good_says_so_in_the_log_and_takes_no_tap(ground: Cast) -> None:
    _, wednesday = sessions(ground)
    is_handed_over(ground)
    [found] = day_sessions(ground.coordinator, ground.teacher, WEDNESDAY)
    assert (found.off, found.waiting, found.is_logged) == ("another teacher gives it now", (), False)
    with pytest.raises(ApplicationError, match="another teacher gives it now") as refused:
        session_log(actor=ground.teacher, session=wednesday, client_id=uuid4(), now=evening_of(WEDNESDAY))
    assert refused.value.code == "not_held"


def test_the_last_of_a_group_who_leaves_after_a_hand_over_takes_the_session_off(
    ground: Cast, group: PlannedSession
) -> None:
    """One was handed over, the other has left: nobody is in it any more, though neither reason took all."""
    is_handed_over(ground)
    other = Student.objects.get(code="B1")
    student_save(actor=ground.coordinator, row=other, values={"last_day": TUESDAY})
    assert told(group) == ["another teacher gives it now"]


def test_a_week_says_what_it_owes_at_the_new_school(ground: Cast, group: PlannedSession) -> None:
    """Two of 2 x 30 were placed; after the move one of them is off, and the week owes it."""
    ground.line.statement, ground.line.times = "2 x 30 min/week", 2
    ground.line.save()
    assert [one.sessions for one in week_against_owed(ground.teacher, group.week, MONDAY).left_out] == []
    moves(ground)
    [gap] = week_against_owed(ground.teacher, group.week, MONDAY).left_out
    assert (gap.name, gap.sessions) == (ground.student.full_name, 1)


def test_a_school_that_closed_for_good_is_closed_every_day_after(ground: Cast) -> None:
    """No class, no drive, no day in session: the same answer as any closing, without an entry in the calendar."""
    monday, wednesday = sessions(ground)
    building_save(actor=ground.coordinator, row=ground.north, values={"last_day": TUESDAY})
    assert told(monday, wednesday) == ["", "North Hollow School is closed"]
    year = SchoolYear.objects.get()
    days = load_calendars(ground.district, [ground.north], year)[ground.north.pk].open_dates
    assert max(days) == TUESDAY


def test_attention_says_each_end_once(ground: Cast) -> None:
    """With how many sessions it takes, the earliest first, and what to do."""
    sessions(ground)
    publish_session(date(3), [ground.line])
    building_save(actor=ground.coordinator, row=ground.north, values={"last_day": TUESDAY})
    [row] = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.ENDED)
    assert row.words.startswith("North Hollow School closes for good after September 15, 2026: 2 planned sessions")
    assert (row.due, row.minutes) == (WEDNESDAY, 60)
    teacher_leaves(ground, WEDNESDAY)
    rows = attention(ground.coordinator, ground.teacher, MONDAY).of(Kind.ENDED)
    assert [one.words.partition(":")[0] for one in rows] == [
        "North Hollow School closes for good after September 15, 2026",
        "The teacher has left",
    ]


def test_the_page_says_that_figures_and_notes_are_those_of_the_planning(
    ground: Cast, group: PlannedSession
) -> None:
    """“All placed” beside a session that is off would be no longer true."""
    client = signed_in(ground.coordinator)
    address = f"/week/?teacher={ground.teacher.pk}&week={MONDAY.isoformat()}"
    assert "Minutes placed</dt>" in client.get(address).content.decode()
    is_handed_over(ground)
    page = client.get(address).content.decode()
    assert "Minutes placed when planned</dt>" in page
    assert f"another teacher serves {ground.student.full_name} now" in page


def test_who_leaves_and_what_closes_is_said_where_it_is_listed(ground: Cast) -> None:
    """Beside the name, with the day."""
    teacher_leaves(ground, MONDAY)
    building_save(actor=ground.coordinator, row=ground.north, values={"last_day": TUESDAY})
    client = signed_in(ground.coordinator)
    assert "Last day September 14, 2026" in client.get("/people/").content.decode()
    for address in ("/buildings/", f"/buildings/{ground.north.pk}/"):
        assert "Closes for good after September 15, 2026" in client.get(address).content.decode()


@pytest.mark.parametrize(
    ("planned", "told_before"),
    [
        (1, "1 published session wouldn't take place anymore: Wednesday, September 16, 2026 at 9:00 AM."),
        (2, "1 published session would go on without the student: Wednesday, September 16, 2026 at 9:00 AM."),
    ],
)
def test_a_move_tells_first_which_published_sessions_go_off(ground: Cast, planned: int, told_before: str) -> None:
    """Monday is before the move and stays; a group goes on without the student. Nothing of it is saved."""
    publish_session(MONDAY, [ground.line])
    wednesday = publish_session(WEDNESDAY, [ground.line, make_line(ground, "B1")][:planned], "9:00", "9:30")
    told_first = effects_foreseen(ground.coordinator, ground.student, lambda: moves(ground))
    assert [one for one in told_first if "published" in one] == [told_before]
    assert gone_from([wednesday.uid]).attending == {}
