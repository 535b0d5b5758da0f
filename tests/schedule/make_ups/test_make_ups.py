"""Make-ups in real weeks: slots, booking, taking back, missing again, many together."""

import datetime as dt

import pytest

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine, StudentHold
from caseload.plans.naming import unmarked
from schedule.calendar.models import Meeting
from schedule.log.selectors.ledger import student_ledger
from schedule.make_ups.selectors.needs import make_up_need, make_up_needs
from schedule.make_ups.selectors.places import NOT_PLANNED
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.make_ups.services.booking import make_up_book, make_up_cancel
from schedule.make_ups.services.together import make_ups_plan
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.detail import build_detail
from schedule.weeks.selectors.runs import run_detail
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import at, date, make_entry, make_ground, make_line, make_week
from tests.schedule.log_builders import log_session
from tests.schedule.runs import plan_now, worked

SUNDAY = date(6)
NEXT = date(7)


@pytest.fixture
def line(cast: Cast) -> ServiceLine:
    """A line of 1 x 30 at North, its first session missed for a trip; the next week is in force."""
    make_ground(cast)
    cast.line.delete()
    mine, other = make_line(cast, "A1"), make_line(cast, "B1", building=cast.south)
    for monday, start in ((0, "8:30"), (7, "8:30")):
        week = make_week(
            cast,
            [(f"line-{mine.pk}", date(monday), start), (f"line-{other.pk}", date(monday + 1), start)],
            monday=date(monday),
        )
        week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    for session in PlannedSession.objects.filter(date__lt=NEXT):
        attendee = session.attendees.get()
        missed = {attendee.service_line_id: Outcome(reason="assembly")} if session.date == date(0) else None
        log_session(cast.teacher, session, missed)
    return mine


def behind(cast: Cast, line: ServiceLine, day: dt.date) -> int:
    """Minutes behind in the ledger on a date."""
    return student_ledger(cast.teacher, line.plan.student, day).direct.behind


def in_force(cast: Cast, monday: dt.date = NEXT) -> WeekPlan:
    """The published version of a week."""
    return WeekPlan.objects.get(teacher=cast.teacher, monday=monday, status="published")


def test_slots_stand_by_date_at_the_whole_length_with_their_miles(cast: Cast, line: ServiceLine) -> None:
    """30 minutes were missed, so 30 are offered, each moment once; where it takes a drive, with the miles."""
    found = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13)))
    assert (found.need.minutes, found.minutes, found.is_part) == (30, 30, False)
    assert found.need.due == date(0) + dt.timedelta(days=30)
    moments = [(one.date, one.start) for one in found.slots]
    assert moments == sorted(set(moments))
    assert {one.minutes for one in found.slots} == {30}
    # Its own session stands on that Monday, and the line keeps its sessions on different days.
    assert NEXT not in {one.date for one in found.slots}
    at_south = [one for one in found.slots if one.date == date(8)]
    assert all(one.added_drive_minutes > 0 and one.added_miles > 0 and "drive" in one.words for one in at_south)


def test_slots_of_one_weekday(cast: Cast, line: ServiceLine) -> None:
    """Wednesdays only: all of them, and nothing else."""
    every = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(20))).slots
    found = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(20), weekday=2)).slots
    assert found == tuple(one for one in every if one.date.weekday() == 2)
    assert len({one.date for one in found}) == 2


def test_less_is_offered_only_where_the_whole_fits_nowhere(cast: Cast, line: ServiceLine) -> None:
    """A hold leaves the student 20 minutes of each day: half of the session fits."""
    for start, end in (("8:00", "9:20"), ("9:40", "15:00")):
        StudentHold.objects.create(student=line.plan.student, start=at(start), end=at(end), reason="core")
    found = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13)))
    assert (found.minutes, found.is_part) == (15, True)
    assert {one.minutes for one in found.slots} == {15}


def test_a_booking_is_in_the_week_and_its_minutes_are_no_longer_open(cast: Cast, line: ServiceLine) -> None:
    """It comes by a new version; what the week owed is as it was."""
    slot = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(13))).slots[0]
    before = in_force(cast)
    start = dt.time(slot.start // 60, slot.start % 60)
    week = make_up_book(
        actor=cast.teacher, line=line, date=slot.date, start=start, minutes=slot.minutes, today=SUNDAY
    )
    assert (week.version, in_force(cast).pk) == (2, week.pk)
    booked = week.sessions.get(makes_up=True)
    assert (booked.date, booked.start) == (slot.date, start)
    assert [one.service_line_id for one in booked.attendees.all()] == [line.pk]
    assert week.figures["broken"] == []
    assert not week.unplaced.exists()
    assert {one.uid for one in before.sessions.all()} == {one.uid for one in week.sessions.filter(makes_up=False)}
    need = make_up_need(cast.teacher, line, SUNDAY)
    assert need.minutes == 30 - slot.minutes
    assert [one.minutes for one in need.booked] == [slot.minutes]
    assert AuditEntry.objects.filter(action="make_up_book").count() == 1
    assert any(one.makes_up for one in build_detail(cast.teacher, week).days[slot.date.weekday()].sessions)


def book(cast: Cast, line: ServiceLine, day: dt.date | None = None) -> WeekPlan:
    """Thirty minutes at 9:20, on the Wednesday of the next week if no other day is given."""
    return make_up_book(
        actor=cast.teacher, line=line, date=day or date(9), start=at("9:20"), minutes=30, today=SUNDAY
    )


def test_the_same_booking_twice_is_one(cast: Cast, line: ServiceLine) -> None:
    """A second tap."""
    assert book(cast, line).pk == book(cast, line).pk
    assert in_force(cast).sessions.filter(makes_up=True).count() == 1


def test_a_make_up_that_took_place_answers_the_old_week(cast: Cast, line: ServiceLine) -> None:
    """The shortfall of the first week is made up, and the week of the make-up owes what it owed."""
    book(cast, line)
    assert behind(cast, line, SUNDAY) == 30
    for session in in_force(cast).sessions.filter(attendees__service_line=line):
        log_session(cast.teacher, session)
    assert behind(cast, line, date(13)) == 0
    assert make_up_need(cast.teacher, line, date(13)).minutes == 0


def test_a_missed_make_up_stays_owed(cast: Cast, line: ServiceLine) -> None:
    """Its minutes are open again."""
    book(cast, line)
    for session in in_force(cast).sessions.filter(attendees__service_line=line):
        log_session(cast.teacher, session, {line.pk: Outcome(reason="testing")} if session.makes_up else None)
    assert make_up_need(cast.teacher, line, date(13)).minutes == 30


def test_a_booking_can_be_taken_back_until_it_is_logged(cast: Cast, line: ServiceLine) -> None:
    """Then its minutes wait again; after that the log is corrected instead."""
    week = book(cast, line)
    uid = str(week.sessions.get(makes_up=True).uid)
    undone = make_up_cancel(actor=cast.teacher, week=week, uid=uid)
    assert not in_force(cast).sessions.filter(makes_up=True).exists()
    assert undone.version == 3
    assert make_up_need(cast.teacher, line, SUNDAY).minutes == 30
    again = book(cast, line)
    session = again.sessions.get(makes_up=True)
    log_session(cast.teacher, session)
    with pytest.raises(ApplicationError) as refused:
        make_up_cancel(actor=cast.teacher, week=again, uid=str(session.uid))
    assert refused.value.code == "logged"


def test_what_cannot_be_booked_is_refused_and_nothing_changes(cast: Cast, line: ServiceLine) -> None:
    """More than is open, a time that is taken, today."""
    cases = [
        (date(9), "9:20", 60, "nothing_open"),
        (date(9), "9:20", 20, "bad_length"),
        (date(8), "8:30", 30, "slot_taken"),
        (date(9), "10:58", 30, "slot_taken"),
        (SUNDAY, "9:20", 30, "too_soon"),
    ]
    for day, start, minutes, code in cases:
        with pytest.raises(ApplicationError) as refused:
            make_up_book(actor=cast.teacher, line=line, date=day, start=at(start), minutes=minutes, today=SUNDAY)
        assert refused.value.code == code
    assert in_force(cast).version == 1


def test_a_week_not_in_force_gets_a_draft_from_the_pattern(cast: Cast, line: ServiceLine) -> None:
    """Nobody's week is published behind their back."""
    slots = make_up_slots(cast.teacher, line, SUNDAY, SlotChoice(until=date(20))).slots
    assert {one.in_force for one in slots if one.date >= date(14)} == {False}
    week = book(cast, line, date(16))
    assert week.status == "draft"
    assert week.sessions.filter(makes_up=False).count() == 2
    assert make_up_need(cast.teacher, line, SUNDAY).minutes == 0
    assert week_publish(actor=cast.teacher, week=week, expected_revision=week.revision).figures["broken"] == []


def test_a_draft_from_the_pattern_leaves_out_what_a_meeting_is_in_the_way_of(cast: Cast, line: ServiceLine) -> None:
    """It once held both at once, and no such draft could be published; what is left out isn't said to be a deed."""
    Meeting.objects.create(
        district=cast.district, teacher=cast.teacher, title="Team", date=date(14), start=at("8:15"), end=at("9:15")
    )
    week = book(cast, line, date(16))
    assert [one.date for one in week.sessions.filter(makes_up=False)] == [date(15)]
    assert [one.reasons for one in week.unplaced.all()] == [[NOT_PLANNED]]
    assert week_publish(actor=cast.teacher, week=week, expected_revision=week.revision).figures["broken"] == []


def test_a_draft_from_the_pattern_holds_no_more_than_is_owed(cast: Cast, line: ServiceLine) -> None:
    """Held twice in the week before and owed once in the next (as a rotation of days does): once in the draft."""
    week = make_week(cast, [(f"line-{line.pk}", NEXT, "8:30"), (f"line-{line.pk}", date(8), "10:10")], monday=NEXT)
    WeekPlan.objects.filter(status="published", monday=NEXT).update(status="replaced")
    WeekPlan.objects.filter(pk=week.pk).update(status="published")
    draft = book(cast, line, date(16))
    assert draft.sessions.filter(makes_up=False, attendees__service_line=line).count() == 1
    assert draft.figures["broken"] == []


def test_planning_the_week_again_keeps_a_booked_make_up(cast: Cast, line: ServiceLine) -> None:
    """Whether or not pins are kept; and the pattern of the next week doesn't take it over."""
    week = book(cast, line)
    run = plan_now(cast.teacher, NEXT, date(18), seconds=2, keep_pins=False)
    first, second = run.weeks.order_by("monday")
    kept = first.sessions.get(makes_up=True)
    booked = week.sessions.get(makes_up=True)
    assert (kept.uid, kept.date, kept.start) == (booked.uid, booked.date, booked.start)
    assert first.sessions.filter(attendees__service_line=line).count() == 2
    assert not second.sessions.filter(makes_up=True).exists()
    assert second.sessions.filter(attendees__service_line=line).count() == 1


def test_many_are_placed_together_as_drafts(cast: Cast, line: ServiceLine) -> None:
    """The drafts hold no broken rule, and name the version that they are based on."""
    run = worked(make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=2))
    assert run.job.state == "done", run.job.error
    assert run.summary["make_ups"] == 1
    # Nothing moves, so neither usual times nor little driving comes first.
    view = run_detail(cast.teacher, run)
    assert (run.aim, view.aim_label, view.aims) == ("", "", ())
    draft = run.weeks.get()
    assert draft.based_on == in_force(cast)
    assert draft.figures["broken"] == []
    published = week_publish(actor=cast.teacher, week=draft, expected_revision=draft.revision)
    assert published.sessions.filter(makes_up=True).count() == 1
    with pytest.raises(ApplicationError) as refused:
        make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY)
    assert refused.value.code == "nothing_open"


def test_what_finds_no_place_is_said(cast: Cast, line: ServiceLine) -> None:
    """Both schools are closed but on the day of the line's own session."""
    for offset in range(8, 12):
        make_entry(cast, date(offset), "closed")
    run = worked(make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=1))
    assert run.summary["make_ups"] == 0
    assert not run.weeks.exists()
    assert any("A1: 30 minutes" in unmarked(note) for note in run.summary["notes"])


def test_others_cannot_see_or_book(cast: Cast, line: ServiceLine) -> None:
    """A mate and a stranger find nothing; the coordinator may."""
    for person in (cast.mate, cast.stranger, cast.office):
        with pytest.raises(ApplicationError) as refused:
            make_up_slots(person, line, SUNDAY)
        assert refused.value.status == 404
        with pytest.raises(ApplicationError):
            make_up_needs(person, cast.teacher, SUNDAY)
    assert make_up_slots(cast.coordinator, line, SUNDAY, SlotChoice(until=date(13))).slots
