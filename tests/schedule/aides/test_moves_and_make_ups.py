"""An aide's hours are asked where a session is moved by hand and where make-ups are offered, too."""

from functools import partial

from accounts.models import Person
from caseload.care.models import Contact, Support
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from caseload.plans.naming import unmarked
from schedule.aides.models import AideHours
from schedule.make_ups.selectors.slots import SlotChoice, make_up_slots
from schedule.weeks.models import PlannedSession
from schedule.weeks.services.weeks import week_publish, week_session_move
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_line, make_week, minute
from tests.schedule.log_builders import log_session


def with_aide(line: ServiceLine, times: str) -> None:
    """The line's student needs Ms. Orel, who is there at these times."""
    student = line.plan.student
    orel = Contact.objects.create(student=student, role="aide", name="Ms. Orel", phone="555 0142")
    AideHours.objects.create(contact=orel, first_day=MONDAY, times=times)
    Support.objects.create(student=student, kind="aide", text="One aide")


def test_a_session_that_is_moved_out_of_the_hours_breaks_a_rule(cast: Cast) -> None:
    make_ground(cast)
    own = f"line-{cast.line.pk}"
    with_aide(cast.line, "8:00 to 11:00")
    week = make_week(cast, [(own, date(0), "9:20"), (own, date(2), "9:20")])
    assert week.figures["broken"] == []
    session = week.sessions.get(date=date(0))
    move = partial(week_session_move, date=date(0), uid=session.uid, actor=cast.teacher)
    inside = move(week=week, start=at("10:10"), expected_revision=week.revision)
    assert inside.figures["broken"] == []
    outside = move(week=inside, start=at("12:25"), expected_revision=inside.revision)
    assert any("12:25" in unmarked(one) for one in outside.figures["broken"])


def test_make_ups_are_offered_while_the_aide_is_there(cast: Cast) -> None:
    """Missed on Monday; from the next week on the aide comes on two mornings only."""
    make_ground(cast)
    cast.line.delete()
    line = make_line(cast, "A1")
    for monday in (0, 7):
        week = make_week(cast, [(f"line-{line.pk}", date(monday), "8:30")], monday=date(monday))
        week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    missed = PlannedSession.objects.get(date=date(0))
    log_session(cast.teacher, missed, {line.pk: Outcome(reason="assembly")})
    assert {day for day, _ in offered(cast.teacher, line)} >= {1, 3, 4}
    with_aide(line, "Tue,Thu 9:00 to 11:00")
    found = offered(cast.teacher, line)
    assert {day for day, _ in found} == {1, 3}
    assert all(minute("9:00") <= start and start + 30 <= minute("11:00") for _, start in found)


def offered(teacher: Person, line: ServiceLine) -> set[tuple[int, int]]:
    """Weekday and minute of each slot in the week after."""
    found = make_up_slots(teacher, line, date(6), SlotChoice(until=date(13)))
    return {(one.date.weekday(), one.start) for one in found.slots}
