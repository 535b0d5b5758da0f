"""A week or month in which a service changes: its versions owe it together, whoever gives them.

Figures by hand: days' shares of whole sessions, halves up, rounded once (common practice, no source). The ledger's
figures of the same cases stand in tests/schedule/log/test_service_changes.py.
"""

import datetime as dt
from collections.abc import Collection

import pytest

from accounts.models import Person
from caseload.plans.frequency import FrequencyUnit
from caseload.plans.models import ServiceLine
from caseload.plans.services import plan_renew, service_change, service_line_save
from schedule.calendar.models import ContractDay, TeacherRules
from schedule.log.selectors.ledger import student_ledger
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.shared_periods import VersionPart, owed_together, part_of_week
from schedule.weeks.versions.content import sessions_read
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground
from tests.schedule.log_builders import publish_session

SHARED_MONDAY, THURSDAY = date(21), date(24)
WEEK = tuple(SHARED_MONDAY + dt.timedelta(days=n) for n in range(5))


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The cast with a school year and bells, all weeks since MONDAY in use; S01 owes 2 x 30 a week."""
    make_ground(cast)
    publish_session(MONDAY, [cast.line])
    return cast


def sessions(teacher: Person, monday: dt.date = SHARED_MONDAY) -> dict[int, int]:
    """Sessions that a teacher's week owes, by line."""
    return {pk: one.owed.sessions for pk, one in load_week(teacher, monday).lines.items()}


def change(cast: Cast, day: dt.date = THURSDAY, **values: object) -> ServiceLine:
    """The cast's service from a day on."""
    return service_change(actor=cast.coordinator, row=cast.line, from_day=day, values=values, seen=None)


@pytest.mark.parametrize(
    ("before", "after", "together", "first", "second"),
    [
        # The same 2: all 2, whichever days; 2 x 3/5 = 1.2 of them before.
        (2, 2, 2, 1, 1),
        # 2 x 3/5 + 4 x 2/5 = 2.8; of these 3, 6/14 before: 1.3.
        (2, 4, 3, 1, 2),
        (4, 2, 3, 2, 1),
        (1, 1, 1, 1, 0),
        (5, 5, 5, 3, 2),
        # 3 x 3/5 = 1.8.
        (3, 0, 2, 2, 0),
    ],
)
def test_a_week_is_shared_by_days(before: int, after: int, together: int, first: int, second: int) -> None:
    """Monday to Wednesday by the terms before, Thursday and Friday by those after."""
    parts = [VersionPart(before, WEEK[:3], WEEK[:3]), VersionPart(after, WEEK[3:], WEEK[3:])]
    assert owed_together(parts, WEEK[0]) == together
    assert [part_of_week(together, parts, own) for own in (0, 1)] == [first, second]


def test_a_month_s_first_days_before_anything_was_known_are_not_owed() -> None:
    """20 days, 4 sessions by the same terms: known from the 11th on, half of them."""
    days = tuple(dt.date(2026, 10, 1) + dt.timedelta(days=n) for n in range(20))
    parts = [VersionPart(4, days[:5], ()), VersionPart(4, days[5:], ())]
    assert owed_together(parts, days[10]) == 2


def test_a_service_handed_over_on_a_thursday_is_planned_once(ground: Cast) -> None:
    """Two teachers' weeks owe 2 x 30 between them: one session each; the week after is all the new teacher's."""
    _works(ground, ground.mate, weekdays=range(5))
    new = change(ground, provider=ground.mate)
    assert (sessions(ground.teacher), sessions(ground.mate)) == ({ground.line.pk: 1}, {new.pk: 1})
    assert sessions(ground.mate, date(28)) == {new.pk: 2}


def test_days_on_which_one_of_them_does_not_work_do_not_count_twice(ground: Cast) -> None:
    """The new teacher works on Thursdays and Fridays alone: still one session each."""
    _works(ground, ground.mate, weekdays=(3, 4))
    new = change(ground, provider=ground.mate)
    assert (sessions(ground.teacher), sessions(ground.mate)) == ({ground.line.pk: 1}, {new.pk: 1})


def test_more_lessons_from_thursday_are_planned_by_days(ground: Cast) -> None:
    """2 x 30 before and 4 x 30 after, one teacher: one session on the first three days, two on the others."""
    new = change(ground, statement="4 x 30 min/week")
    assert sessions(ground.teacher) == {ground.line.pk: 1, new.pk: 2}
    assert sessions(ground.teacher, date(28)) == {new.pk: 4}
    loaded = load_week(ground.teacher, SHARED_MONDAY)
    assert "The service changes in this period" in loaded.lines[new.pk].owed.reason


def test_what_was_placed_under_other_terms_of_the_month_counts(ground: Cast) -> None:
    """4 x 30 a month, changed on October 8 to another setting: two were placed in its first week, two are left."""
    ground.line.statement, ground.line.unit, ground.line.times = "4 x 30 min/month", "month", 4
    ground.line.save()
    for day in (dt.date(2026, 10, 1), dt.date(2026, 10, 2)):
        publish_session(day, [ground.line])
    new = change(ground, setting="small_group", largest_group=3)
    weeks = [sessions(ground.teacher, date(21 + 7 * week)).get(new.pk, 0) for week in range(4)]
    # Nothing of these weeks is published, so each is asked as if it were the next: never more than the two left.
    assert max(weeks) <= 2
    assert sessions(ground.teacher, dt.date(2026, 10, 26))[new.pk] == 2


def test_a_session_planned_before_the_change_stands_under_the_terms_of_its_day(ground: Cast) -> None:
    """What drafts, plans and make-ups read of a published week."""
    early, late = (publish_session(day, [ground.line]) for day in (date(23), date(25)))
    new = change(ground, setting="small_group", largest_group=3)
    found = {one.uid: one.lines for one in sessions_read([late.week_id])[late.week_id]}
    assert found == {str(early.uid): (ground.line.pk,), str(late.uid): (new.pk,)}


def _works(cast: Cast, teacher: Person, weekdays: Collection[int]) -> None:
    """Rules and contract days of another teacher, as the cast's teacher has them."""
    rules = TeacherRules.objects.get(teacher=cast.teacher)
    TeacherRules.objects.create(
        district=cast.district, teacher=teacher, start_place=rules.start_place, end_place=rules.end_place
    )
    for day in ContractDay.objects.filter(teacher=cast.teacher, weekday__in=weekdays):
        ContractDay.objects.create(
            district=cast.district, teacher=teacher, weekday=day.weekday, start=day.start, end=day.end
        )


TURNS = [
    # North has no rotation: turns of six school days since the service began, on Tuesday, September 1.
    ("1 x 6-day cycle, 30 min", FrequencyUnit.CYCLE),
    ("3 of 4 weeks, 30 min", FrequencyUnit.WEEK),
    ("3 x 30 min every 2 weeks", FrequencyUnit.WEEK),
    ("20 x 30 min in total", FrequencyUnit.TOTAL),
]


@pytest.mark.parametrize(("statement", "unit"), TURNS)
@pytest.mark.parametrize("day", [date(7), date(9), date(14), date(17)])
def test_a_renewal_begins_no_turn_anew(ground: Cast, statement: str, unit: FrequencyUnit, day: dt.date) -> None:
    """The same terms in a new plan: ledger and planner count in the same turns, and owe the same week by week.

    Minutes in all are of one plan (34 CFR 300.320(a)(7)): those of the next plan begin with it.
    """
    line = service_line_save(actor=ground.coordinator, row=ground.line, values={"statement": statement})
    assert line.unit == unit
    mondays = [date(7 * n) for n in range(5)]
    spans, planned = _spans(ground), [sum(sessions(ground.teacher, one).values()) for one in mondays]
    plan_renew(actor=ground.coordinator, row=ground.plan, values={"start": day})
    if unit is FrequencyUnit.TOTAL:
        assert _spans(ground)[1:] == [(day, day.replace(year=2027) - dt.timedelta(days=1), 600)]
        return
    assert _spans(ground) == spans
    assert [sum(sessions(ground.teacher, one).values()) for one in mondays] == planned


def _spans(cast: Cast) -> list[tuple[dt.date, dt.date, int]]:
    """Each period of the ledger with what it owes."""
    (found,) = student_ledger(cast.coordinator, cast.student, date(34)).lines
    assert found.ledger is not None
    return [(one.span.first, one.span.last, one.owed) for one in found.ledger.periods]
