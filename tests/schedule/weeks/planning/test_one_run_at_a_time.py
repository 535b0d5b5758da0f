"""One run at a time of a teacher, however it was asked for: weeks, a term, make-ups."""

from collections.abc import Callable

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks
from pytest_django.fixtures import Settings

from accounts.errors import ApplicationError
from caseload.delivery.told import Outcome
from caseload.plans.models import ServiceLine
from jobs.models import Job
from schedule.calendar.models import BusyCalendar
from schedule.make_ups.selectors.which import Which
from schedule.make_ups.services.together import make_ups_plan
from schedule.terms.services.plans import term_plan_start
from schedule.weeks.models import PlanRun
from schedule.weeks.services.runs import plan_run_start
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.log_builders import log_session, publish_session

type Ask = Callable[[Cast], PlanRun]

SUNDAY = date(6)


@pytest.fixture(autouse=True)
def lines(cast: Cast) -> list[ServiceLine]:
    """Two services that a week or a term can be planned for; each has missed a session."""
    make_ground(cast)
    found = [make_line(cast, "U1"), make_line(cast, "U2")]
    for number, line in enumerate(found):
        session = publish_session(date(0), [line], f"{9 + number}:00", f"{9 + number}:30")
        log_session(cast.teacher, session, {line.pk: Outcome(reason="assembly")})
    return found


def weeks(cast: Cast, first: int = 7) -> PlanRun:
    return plan_run_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=date(first), last_date=date(first + 4)
    )


def term(cast: Cast, first: int = 7) -> PlanRun:
    return term_plan_start(
        actor=cast.teacher, teacher=cast.teacher, first_date=date(first), last_date=date(first + 4)
    ).run


def make_ups(cast: Cast, which: Which | None = None) -> PlanRun:
    return make_ups_plan(actor=cast.teacher, teacher=cast.teacher, today=SUNDAY, weeks=1, which=which)


EVERY = (weeks, term, make_ups)
of_every_kind = pytest.mark.parametrize("ask", EVERY)


@of_every_kind
def test_pressing_twice_gives_the_run_under_way(cast: Cast, ask: Ask) -> None:
    assert ask(cast) == ask(cast)
    assert PlanRun.objects.count() == 1


@of_every_kind
def test_of_the_same_dates_another_kind_is_refused(cast: Cast, ask: Ask) -> None:
    """A term of these dates isn't the week of these dates, nor the other way round."""
    ask(cast)
    for other in EVERY:
        if other is not ask:
            with pytest.raises(ApplicationError) as refused:
                other(cast)
            assert refused.value.code == "run_under_way"
    assert PlanRun.objects.count() == 1


def test_make_ups_of_one_service_are_not_those_of_another(cast: Cast, lines: list[ServiceLine]) -> None:
    one, other = (Which((line.pk,)) for line in lines)
    run = make_ups(cast, one)
    assert make_ups(cast, one) == run
    with pytest.raises(ApplicationError) as refused:
        make_ups(cast, other)
    assert refused.value.code == "run_under_way"


@of_every_kind
def test_one_that_no_worker_has_heard_of_makes_way(cast: Cast, ask: Ask, settings: Settings) -> None:
    """Nobody commits here, so nothing was sent to Redis."""
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    first, second = ask(cast), weeks(cast, 14)
    assert first != second
    assert [Job.objects.get(pk=one.job_id).state for one in (first, second)] == ["stopped", "waiting"]


@of_every_kind
def test_one_that_no_worker_has_heard_of_is_sent_again(
    cast: Cast,
    ask: Ask,
    settings: Settings,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    run = ask(cast)
    with django_capture_on_commit_callbacks() as after:
        assert ask(cast) == run
    assert len(after) == 1


@of_every_kind
def test_the_calendars_are_asked_first(cast: Cast, ask: Ask) -> None:
    """The plan is to find what is in them now; of two jobs the older is worked first."""
    BusyCalendar.objects.create(
        district=cast.district, teacher=cast.teacher, address="https://calendar.example/own.ics"
    )
    run = ask(cast)
    assert [job.kind for job in Job.objects.order_by("created_at")] == ["read_busy_calendar", run.job.kind]


@of_every_kind
def test_an_interruption_costs_little_so_several_are_allowed(cast: Cast, ask: Ask) -> None:
    assert ask(cast).job.attempts_allowed == 6
