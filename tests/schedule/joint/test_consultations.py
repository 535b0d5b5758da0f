"""Two teachers who meet about a student: both consultations at one time, counted for each.

What is said of them is docs/together.md's; no outside source.
"""

import datetime as dt
import uuid

import pytest
from django.test import Client

from accounts.models import Person
from caseload.plans.models import ServiceLine
from schedule.joint.models import JointService
from schedule.log.selectors.ledger import student_ledger
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.planning.load import load_week
from schedule.weeks.selectors.told.joint import joint_seen
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_week
from tests.schedule.joint.test_joint_planned import planned
from tests.schedule.together.test_joint_together import planned_together
from tests.schedule.weeks.planning.two_teachers import make_two_teachers, publish


def consults(cast: Cast, teacher: Person) -> ServiceLine:
    """Fifteen minutes a week about the cast's student."""
    return ServiceLine.objects.create(
        plan=cast.plan,
        provider=teacher,
        statement="1 x 15 min/week",
        times=1,
        minutes=15,
        setting=ServiceLine.Setting.ONE_TO_ONE,
        service_type=ServiceLine.Type.CONSULTATION,
        start=cast.plan.start,
        end=cast.plan.end,
    )


@pytest.fixture
def lines(cast: Cast) -> tuple[ServiceLine, ServiceLine]:
    """The teacher's and the mate's consultation, said to be one."""
    make_two_teachers(cast)
    mine, theirs = consults(cast, cast.teacher), consults(cast, cast.mate)
    JointService.objects.create(service=mine.service, partner=theirs.service, first_day=MONDAY)
    return mine, theirs


def held(week: WeekPlan, line: ServiceLine) -> list[tuple[dt.date, dt.time, str]]:
    """When and where a week holds it."""
    rows = PlannedSession.objects.filter(week=week, attendees__service_line=line).select_related("building")
    return [(one.date, one.start, one.building.code) for one in rows]


def test_whoever_is_planned_second_meets_the_other(cast: Cast, lines: tuple[ServiceLine, ServiceLine]) -> None:
    mine, theirs = lines
    publish(make_week(cast, [(f"line-{theirs.pk}", date(3), "10:10")], teacher=cast.mate))
    starts = load_week(cast.teacher, MONDAY).problem.unit(f"line-{mine.pk}").starts
    assert len(starts) > 1, "by itself it may be held at many times"
    week = planned(cast.teacher)
    assert held(week, mine) == [(date(3), at("10:10"), cast.north.code)]
    assert publish(week).status == "published"
    [[with_whom]] = joint_seen(week).beside.values()
    assert with_whom == "Mate Vey"


def test_planned_together_they_are_one(cast: Cast, lines: tuple[ServiceLine, ServiceLine]) -> None:
    mine, theirs = lines
    planned_together(cast)
    one, other = (WeekPlan.objects.get(teacher=who, status="draft") for who in (cast.teacher, cast.mate))
    assert held(one, mine) == held(other, theirs)
    assert len(held(one, mine)) == 1
    assert joint_seen(one).apart == ()


def test_the_day_says_what_it_is_and_with_whom(cast: Cast, lines: tuple[ServiceLine, ServiceLine]) -> None:
    mine, theirs = lines
    for teacher, line in ((cast.teacher, mine), (cast.mate, theirs)):
        publish(make_week(cast, [(f"line-{line.pk}", date(3), "10:10")], teacher=teacher))
    client = Client()
    client.force_login(cast.teacher)
    shown = client.get(f"/day/{date(3)}/").text
    assert "Consultation" in shown
    assert "Together with</span> Mate Vey" in shown
    week = client.get(f"/week/?week={MONDAY}").text
    assert "Consultation" in week
    assert "together with Mate Vey" in week


def test_each_logs_the_minutes_of_the_own_service(cast: Cast, lines: tuple[ServiceLine, ServiceLine]) -> None:
    mine, theirs = lines
    day, sending = date(3).isoformat(), str(uuid.uuid4())
    Api(cast.coordinator).post(
        "log-entries/", service_line=mine.pk, date=day, planned_minutes=15, client_id=sending
    )
    found = {one.line.pk: one.figures for one in student_ledger(cast.teacher, cast.student, date(4)).lines}
    assert found[mine.pk].delivered == 15
    assert found[theirs.pk].delivered == 0


def test_only_services_of_one_type_go_together(cast: Cast, lines: tuple[ServiceLine, ServiceLine]) -> None:
    """On the student's page the consultations are offered for each other."""
    mine, theirs = lines
    JointService.objects.all().delete()
    client = Client()
    client.force_login(cast.teacher)
    form = client.get(f"/services/{mine.pk}/together/new/").text
    assert f'<option value="{theirs.service_id}"' in form
    assert form.count('<option value="') == 2, "none chosen, and the mate's consultation"
