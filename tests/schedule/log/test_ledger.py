"""A student's ledger from rows: plans, calendar, published weeks and the log put together."""

import datetime as dt
import uuid
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase as DatabaseCase

from accounts.errors import ApplicationError
from caseload.delivery.models import DeliveryEntry, LedgerSettings
from caseload.delivery.rows import LineLedger
from caseload.delivery.services.log import decision_record, delivery_correct, delivery_log
from caseload.delivery.services.rules import ledger_settings_save, reasons_save
from caseload.delivery.told import AS_PLANNED, LogItem, Outcome
from caseload.delivery.words import numbers_of
from caseload.ledger.figures import MinuteFigures
from caseload.ledger.terms import LedgerRules
from caseload.plans.models import Plan, ServiceLine, Student
from caseload.plans.services import service_line_save
from schedule.calendar.models import MarkingPeriod, SchoolYear
from schedule.log.selectors.ledger import student_ledger, student_ledgers
from schedule.log.selectors.sessions import day_sessions, unlogged_sessions
from tests.conftest import Cast, make_cast
from tests.schedule.builders import MONDAY, YEAR_START, date, make_cycle, make_entry, make_ground, make_line
from tests.schedule.log_builders import evening_of, log_line, log_session, publish_session

FRIDAY = date(4)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The cast with a school year and bells; S01 owes 2 x 30 a week from September 1, 2026."""
    make_ground(cast)
    return cast


def line_of(cast: Cast, as_of: dt.date, line: ServiceLine | None = None) -> LineLedger:
    """The ledger of a line, the cast's if none is named."""
    wanted = line or cast.line
    ledger = student_ledger(cast.teacher, wanted.plan.student, as_of)
    return next(one for one in ledger.lines if one.line == wanted)


def figures(cast: Cast, as_of: dt.date = FRIDAY, line: ServiceLine | None = None) -> MinuteFigures:
    """Its figures."""
    found = line_of(cast, as_of, line)
    assert found.problem == ""
    return found.figures


def two_sessions(cast: Cast, monday: dt.date = MONDAY) -> list[Any]:
    """Monday and Wednesday, 30 minutes each."""
    return [publish_session(monday + dt.timedelta(days=n), [cast.line]) for n in (0, 2)]


def test_a_week_as_planned(ground: Cast) -> None:
    """2 x 30 owed, 60 delivered, nothing behind; the reasoning says so."""
    for session in two_sessions(ground):
        log_session(ground.teacher, session)
    assert figures(ground) == MinuteFigures(owed=60, delivered=60)
    (period,) = line_of(ground, FRIDAY).ledger.periods  # type: ignore[union-attr]  # there is one: no problem
    assert period.reasoning[0] == (
        "week of September 14, 2026: 2 x 30 min/week is 60 minutes; 5 of 5 days in session, "
        "district rule “what is scheduled on the days in session”: 60 minutes owed."
    )


def test_what_is_missed_follows_the_districts_table_at_once(ground: Cast) -> None:
    """Not owed as shipped; the district makes it owed, and the ledger follows back in time."""
    first, second = two_sessions(ground)
    log_session(ground.teacher, first)
    log_session(ground.teacher, second, {ground.line.pk: Outcome(reason="student_absent")})
    assert figures(ground) == MinuteFigures(owed=60, delivered=30, not_owed=30, missed={"student_absent": 30})
    reasons_save(actor=ground.coordinator, values={"student_absent": {"effect": "owed"}})
    assert figures(ground) == MinuteFigures(owed=60, delivered=30, behind=30, missed={"student_absent": 30})


def test_what_the_team_decides_stays_open_until_it_has(ground: Cast) -> None:
    """Undecided minutes are neither behind nor forgiven; the decision settles them."""
    first, second = two_sessions(ground)
    log_session(ground.teacher, first)
    (entry,) = log_session(ground.teacher, second, {ground.line.pk: Outcome(10, "behaviour")})
    assert figures(ground) == MinuteFigures(owed=60, delivered=40, undecided=20, missed={"behaviour": 20})
    decision_record(
        actor=ground.teacher,
        entry=entry,
        effect="owed",
        decided_by="Plan team",
        decided_on=FRIDAY,
        expected_revision=1,
        now=evening_of(FRIDAY),
    )
    assert figures(ground) == MinuteFigures(owed=60, delivered=40, behind=20, missed={"behaviour": 20})


def test_a_make_up_answers_the_oldest_shortfall_and_a_missed_one_leaves_it(ground: Cast) -> None:
    """Delivered: made up. Missed: still owed, whatever the reason. Not logged: still owed."""
    first, second = two_sessions(ground)
    log_session(ground.teacher, first)
    log_session(ground.teacher, second, {ground.line.pk: Outcome(reason="no_space")})
    makeup = publish_session(FRIDAY, [ground.line], makes_up=True)
    assert figures(ground).behind == 30
    (entry,) = log_session(ground.teacher, makeup, {ground.line.pk: Outcome(reason="student_absent")})
    assert entry.makes_up
    assert figures(ground).behind == 30
    delivery_correct(
        actor=ground.teacher, entry=entry, outcome=AS_PLANNED, expected_revision=1, now=evening_of(FRIDAY)
    )
    found = figures(ground)
    assert (found.made_up, found.behind, found.delivered) == (30, 0, 30)


def test_minutes_above_what_is_owed_are_shown_and_not_carried_unless_the_district_says_so(ground: Cast) -> None:
    """Twenty minutes more on Monday do not excuse the next week's shortfall."""
    log_line(ground, MONDAY, 30, Outcome(80))
    publish_session(date(9), [ground.line])
    as_of = date(13)
    found = figures(ground, as_of)
    assert (found.owed, found.delivered, found.ahead, found.behind) == (120, 80, 20, 60)
    ledger_settings_save(actor=ground.coordinator, values={"carry_ahead": True})
    found = figures(ground, as_of)
    assert (found.carried, found.behind) == (20, 40)


def test_a_short_week_is_the_districts_rule(ground: Cast) -> None:
    """N.J.S.A. 18A:35-8, "proportionately less when holidays fall within the week": 150 minutes, four days, 120."""
    line = make_line(ground, "S31", statement="150 min/week", times=None, minutes=None, minutes_total=150)
    make_entry(ground, MONDAY, "closed")
    publish_session(date(1), [line], "9:00", "9:30")
    owed = {}
    for rule in LedgerSettings.ShortWeek.values:
        ledger_settings_save(actor=ground.coordinator, values={"short_week": rule})
        owed[rule] = figures(ground, date(6), line).owed
    assert owed == {"whole": 150, "proportion": 120, "as_scheduled": 30}


def test_a_plan_amended_back_to_an_earlier_date_moves_what_was_logged(ground: Cast) -> None:
    """The team changes the service from the Wednesday before on: the ledger is recomputed, and says so."""
    first, second = two_sessions(ground)
    for session in (first, second):
        log_session(ground.teacher, session)
    service_line_save(actor=ground.teacher, row=ground.line, values={"end": date(1)})
    later = service_line_save(
        actor=ground.teacher,
        row=ServiceLine(plan=ground.plan),
        values={"statement": "1 x 30 min/week", "start": date(2), "setting": ServiceLine.Setting.SMALL_GROUP},
    )
    # In another setting it doesn't go on with the service before.
    # Two of five weekdays of 60 minutes are 24, three of five of 30 are 18 (computed).
    assert figures(ground) == MinuteFigures(owed=24, delivered=30, ahead=6)
    found = line_of(ground, FRIDAY, later)
    assert found.figures == MinuteFigures(owed=18, delivered=30, ahead=12)
    assert [(row.line_id, row.record.day) for row in found.rows] == [(ground.line.pk, date(2))]
    changes = student_ledger(ground.teacher, ground.student, FRIDAY).changes
    assert [change.what for change in changes] == ["Service: last day from June 18, 2027 to September 15, 2026"]


def test_what_lies_outside_of_every_service_is_shown_and_never_lost(ground: Cast) -> None:
    """The service ended a week before the log; no other took its place."""
    log_line(ground, date(7))
    ground.line.end = date(4)
    ground.line.save()
    found = line_of(ground, date(11))
    assert [row.record.delivered for row in found.outside] == [30]
    assert found.figures.delivered == 0


def test_a_later_version_of_the_week_keeps_the_log(ground: Cast) -> None:
    """The session got another uid at the same place in the week: its entry is found by line, day and time."""
    session = publish_session(MONDAY, [ground.line])
    log_session(ground.teacher, session)
    publish_session(date(2), [ground.line])
    session.delete()
    publish_session(MONDAY, [ground.line])
    assert figures(ground) == MinuteFigures(owed=60, delivered=30, unlogged=30, behind=30)
    now = evening_of(FRIDAY)
    assert [one.date for one in unlogged_sessions(ground.teacher, ground.teacher, FRIDAY, now)] == [date(2)]
    assert day_sessions(ground.teacher, ground.teacher, MONDAY)[0].is_logged


def test_nothing_counts_before_the_first_published_week_unless_the_district_says_so(ground: Cast) -> None:
    """The program came in the third week: the two before are no shortfall, unless the district counts them."""
    two_sessions(ground)
    assert figures(ground).owed == 60
    ledger_settings_save(actor=ground.coordinator, values={"counts_from": YEAR_START})
    # Tuesday September 1: of a week without its Monday one session at the least, then two whole weeks (computed).
    assert figures(ground).owed == 30 + 60 + 60
    ledger_settings_save(actor=ground.coordinator, values={"short_week": "proportion"})
    # In proportion: four of five days of the first week, 48 of 60 (computed).
    assert figures(ground).owed == 48 + 60 + 60


def test_before_anything_is_planned_nothing_is_behind(ground: Cast) -> None:
    """A district's first day with the program."""
    assert figures(ground, date(2)) == MinuteFigures()


def test_turns_of_a_rotation_and_marking_periods(ground: Cast) -> None:
    """A cycle of 6 days counts in the building's turns; without marking periods the remedy is named."""
    make_cycle(ground.north)
    line = make_line(
        ground, "S32", statement="1 x 45 min/6-day cycle", unit="cycle", cycle_days=6, times=1, minutes=45
    )
    quarter = make_line(ground, "S33", statement="x", unit="marking_period", times=1, minutes=45)
    publish_session(MONDAY, [line], "8:30", "9:15")
    publish_session(MONDAY, [quarter], "9:30", "10:15")
    # Day 1 is Monday the 14th, so the turn ends on Monday the 21st and the next on Tuesday the 29th.
    assert [line_of(ground, day, line).figures.owed for day in (date(6), date(7), date(15))] == [45, 45, 90]
    assert "no marking periods" in line_of(ground, FRIDAY, quarter).problem
    year = SchoolYear.objects.get()
    MarkingPeriod.objects.create(
        district=ground.district, school_year=year, name="MP1", first_day=MONDAY, last_day=date(60)
    )
    assert [figures(ground, day, quarter).owed for day in (date(-1), FRIDAY, date(60))] == [0, 45, 45]


def test_who_leaves_owes_a_share_of_the_whole_service(ground: Cast) -> None:
    """20 x 30 in four weeks, one of which the student was here: 5 of 20 weekdays are 150 minutes, not 600."""
    line = make_line(
        ground, "S34", statement="20 x 30 min in all", unit="total", times=20, start=MONDAY, end=date(25)
    )
    publish_session(MONDAY, [line])
    assert [figures(ground, day, line).owed for day in (FRIDAY, date(25))] == [30, 600]
    Student.objects.filter(pk=line.plan.student_id).update(last_day=FRIDAY)
    line = ServiceLine.objects.get(pk=line.pk)
    assert [figures(ground, day, line).owed for day in (FRIDAY, date(25))] == [150, 150]


def test_two_settings_a_provisional_line_and_consultation_apart(ground: Cast) -> None:
    """Each line has its ledger; consultation counts apart from direct service."""
    push_in = ServiceLine.objects.create(
        plan=ground.plan,
        provider=ground.teacher,
        statement="1 x 20 min/week",
        times=1,
        minutes=20,
        setting=ServiceLine.Setting.SMALL_GROUP,
        largest_group=4,
        start=ground.plan.start,
        end=ground.plan.end,
    )
    talk = ServiceLine.objects.create(
        plan=ground.plan,
        provider=ground.teacher,
        statement="1 x 15 min/month",
        times=1,
        minutes=15,
        unit="month",
        service_type=ServiceLine.Type.CONSULTATION,
        start=ground.plan.start,
        end=ground.plan.end,
    )
    two_sessions(ground)
    log_session(ground.teacher, publish_session(date(1), [push_in], "10:00", "10:20"))
    log_session(ground.teacher, publish_session(date(3), [talk], "14:00", "14:15"))
    Plan.objects.update(status=Plan.Status.PROVISIONAL)
    ledger = student_ledger(ground.teacher, ground.student, FRIDAY)
    assert ledger.direct == MinuteFigures(owed=80, delivered=20, unlogged=60, behind=60)
    # Known from the 14th on: 13 of September's 22 weekdays of 15 minutes are 9 (computed).
    assert ledger.consultation == MinuteFigures(owed=9, delivered=15, ahead=6)
    assert all(one.ledger is not None and one.ledger.line.provisional for one in ledger.lines)


def test_what_a_year_left_open_is_kept_apart_in_the_next_until_it_is_made_up(ground: Cast) -> None:
    """30 of May are no part of what September owes; a make-up in September for that day of May pays them."""
    line = ground.line
    ServiceLine.objects.filter(pk=line.pk).update(start=dt.date(2027, 6, 7), end=dt.date(2027, 10, 1))
    Plan.objects.update(start=dt.date(2027, 6, 7), end=dt.date(2027, 10, 1))
    line.refresh_from_db()
    year = SchoolYear.objects.get()
    SchoolYear.objects.create(
        district=ground.district, name="2027-28", first_day=dt.date(2027, 9, 1), last_day=dt.date(2028, 6, 16)
    )
    missed, september = dt.date(2027, 6, 9), dt.date(2027, 9, 6)
    for day in (dt.date(2027, 6, 7), missed, dt.date(2027, 6, 14), dt.date(2027, 6, 16)):
        outcome = Outcome(reason="no_space") if day == missed else AS_PLANNED
        log_session(ground.coordinator, publish_session(day, [line]), {line.pk: outcome})
    for number in (0, 2):
        day = september + dt.timedelta(days=number)
        log_session(ground.coordinator, publish_session(day, [line]), {line.pk: AS_PLANNED})
    as_of = dt.date(2027, 9, 12)
    assert figures(ground, year.last_day) == MinuteFigures(
        owed=120, delivered=90, behind=30, missed={"no_space": 30}
    )
    found = figures(ground, as_of, line)
    assert (found.opening, found.delivered) == (30, 60)
    before = found.behind
    found_line = line_of(ground, as_of, line)
    assert [row.record.day for row in found_line.rows] == [september, september + dt.timedelta(days=2)]
    told = {number.name: number for number in numbers_of(found_line, LedgerRules())}
    assert told["Open from 2026-27"].minutes == 30
    delivery_log(
        actor=ground.coordinator,
        item=LogItem(
            client_id=uuid.uuid4(),
            service_line=line,
            date=september + dt.timedelta(days=3),
            planned_minutes=30,
            outcome=Outcome(30),
            makes_up=True,
            makes_up_for=missed,
        ),
        now=evening_of(as_of),
    )
    found = figures(ground, as_of, line)
    assert (found.opening, found.made_up, found.behind) == (0, 0, before)


def test_others_see_no_ledger(ground: Cast) -> None:
    """A mate and a stranger find no student; what they may not see among many is left out."""
    for viewer in (ground.mate, ground.stranger, ground.office, ground.substitute):
        with pytest.raises(ApplicationError) as refused:
            student_ledger(viewer, ground.student, FRIDAY)
        assert refused.value.status == 404
        assert student_ledgers(viewer, [ground.student.pk], FRIDAY) == ()


def test_the_queries_do_not_grow(ground: Cast, django_assert_num_queries: Any) -> None:
    """One student or a whole caseload beside a district: the same number of queries."""

    def ledgers(students: list[int]) -> None:
        with django_assert_num_queries(20):
            student_ledgers(ground.teacher, students, FRIDAY)

    for session in two_sessions(ground):
        log_session(ground.teacher, session)
    ledgers([ground.student.pk])
    students = [ground.student.pk]
    for number in range(8):
        for teacher in (ground.teacher, ground.mate):
            line = make_line(ground, f"Q{number}{teacher.pk}", teacher=teacher)
            session = publish_session(date(number % 5), [line], f"{9 + number % 3}:00", f"{9 + number % 3}:30")
            log_session(teacher, session)
            students.append(line.plan.student_id)
    ledgers(students)


def test_the_queries_of_a_day_and_of_what_waits_do_not_grow(ground: Cast, django_assert_num_queries: Any) -> None:
    """With sessions, students, weeks and teachers."""

    def look() -> None:
        # Each of the two asks once for names, which say whom the viewer may see, twice for care (supports,
        # cautions), once whether the teacher's role ends, once what is given together, and what became of the
        # sessions: calendar, log, who left, what happened.
        with django_assert_num_queries(34):
            day_sessions(ground.teacher, ground.teacher, MONDAY, evening_of(FRIDAY))
            unlogged_sessions(ground.teacher, ground.teacher, FRIDAY, evening_of(FRIDAY))

    two_sessions(ground)
    look()
    for number in range(6):
        lines = [make_line(ground, f"Q{number}{part}") for part in range(3)]
        publish_session(MONDAY, lines, f"{9 + number}:10", f"{9 + number}:40")
        publish_session(date(1), [make_line(ground, f"M{number}", teacher=ground.mate)])
    look()


OUTCOMES = st.one_of(
    st.just(AS_PLANNED),
    st.builds(
        Outcome,
        st.integers(0, 29),
        st.sampled_from(["student_absent", "no_space", "behaviour", "teacher_absent", "medical"]),
    ),
    st.builds(Outcome, st.integers(31, 60)),
)


class TestThroughTheDatabase(DatabaseCase):
    """Properties of the log and the ledger together, on real rows."""

    @settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow], deadline=None)
    @given(first=OUTCOMES, corrections=st.lists(st.one_of(st.none(), OUTCOMES), max_size=3))
    def test_corrections_and_their_reversal_leave_the_ledger_as_it_was(
        self, first: Outcome, corrections: list[Outcome | None]
    ) -> None:
        """Whatever was said in between: said again as it was, the ledger is as it was."""
        cast = make_cast()
        make_ground(cast)
        for session in two_sessions(cast):
            log_session(cast.teacher, session, {cast.line.pk: first})
        before = figures(cast)
        entry = DeliveryEntry.objects.order_by("date")[0]
        said: Outcome | None = first
        for outcome in [*corrections, first]:
            if outcome != said:
                delivery_correct(
                    actor=cast.teacher,
                    entry=entry,
                    outcome=outcome,
                    expected_revision=entry.revision,
                    now=evening_of(FRIDAY),
                )
            said = outcome
        assert figures(cast) == before

    @settings(max_examples=15, suppress_health_check=[HealthCheck.too_slow], deadline=None)
    @given(outcomes=st.lists(OUTCOMES, min_size=4, max_size=4), order=st.permutations(range(4)))
    def test_every_minute_is_somewhere_and_the_order_of_logging_does_not_matter(
        self, outcomes: list[Outcome], order: list[int]
    ) -> None:
        """Delivered within plan + missed + unlogged + future = scheduled, and log order changes nothing."""
        cast = make_cast()
        make_ground(cast)
        days = [date(0), date(1), date(2), date(3)]
        sessions = [publish_session(day, [cast.line]) for day in days]
        publish_session(date(9), [cast.line])
        found = []
        for order_now in (range(4), order):
            DeliveryEntry.objects.all().delete()
            for at in order_now:
                log_session(cast.teacher, sessions[at], {cast.line.pk: outcomes[at]})
            ledger = line_of(cast, date(7)).ledger
            assert ledger is not None
            for period in ledger.periods:
                parts = period.delivered - period.extra + sum(period.missed.values())
                assert parts + period.unlogged + period.future == period.scheduled
            found.append([(one.owed, one.delivered, one.missed, one.shortfall) for one in ledger.periods])
        assert found[0] == found[1]
