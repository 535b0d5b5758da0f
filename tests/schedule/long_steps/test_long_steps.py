"""Steps that are done whole in the background: once, by whoever may, or not at all.

What is asserted are the rules of docs/background-work.md and docs/next-year.md; no outside source.
"""

import pytest
from django.test import Client
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.models import Enrollment, Plan, ServiceLine
from jobs.models import Job
from jobs.runner import run_claimed
from jobs.services import job_claim
from schedule.long_steps.models import LongStep
from schedule.long_steps.selectors import step_get, step_view
from schedule.long_steps.services import StepAsked, step_ask, step_stop
from schedule.next_year.models import NextYear
from schedule.next_year.services.asked import next_year_start_ask, next_year_take_back_ask
from schedule.next_year.services.drafting import next_year_delete, next_year_save
from tests.conftest import Cast, make_person
from tests.schedule.long_steps.work import steps_done
from tests.schedule.next_year.ground import FIRST, LAST, begin, make_spring, say_all


@pytest.fixture
def lines(cast: Cast) -> dict[str, ServiceLine]:
    """The district in spring; the tests' clock is before the first day of the coming year."""
    return make_spring(cast)


@pytest.fixture
def row(cast: Cast, lines: dict[str, ServiceLine]) -> NextYear:
    """A draft in which everything that it needs is said."""
    draft = begin(cast)
    say_all(cast, draft, lines)
    return draft


def asked(cast: Cast, row: NextYear) -> LongStep:
    return next_year_start_ask(actor=cast.coordinator, row=row)


def state_of(cast: Cast, step: LongStep) -> str:
    return step_view(cast.coordinator, step_get(cast.coordinator, step.pk)).state


def written() -> int:
    """How many records of the coming year there are."""
    return Enrollment.objects.filter(first_day=FIRST).count()


def test_a_step_is_asked_for_done_and_told(cast: Cast, row: NextYear, client: Client) -> None:
    client.force_login(cast.coordinator)
    answer = client.post(f"/next-year/{row.pk}/start/")
    step = LongStep.objects.get()
    assert answer["Location"] == f"/steps/{step.pk}/"
    assert written() == 0
    assert "Waiting for a free worker" in client.get(answer["Location"]).text
    assert "See how far it is" in client.get(f"/next-year/{row.pk}/").text
    steps_done()
    assert written() == 4
    assert "<strong>Done.</strong> Everything holds from its first day on." in client.get(answer["Location"]).text
    assert state_of(cast, step) == "done"


def test_pressed_twice_is_once(cast: Cast, row: NextYear) -> None:
    assert asked(cast, row) == asked(cast, row)
    steps_done()
    assert written() == 4
    row.refresh_from_db()
    with pytest.raises(ApplicationError) as caught:
        asked(cast, row)
    assert caught.value.code == "not_ready"


def test_what_refuses_it_is_told_by_name_and_nothing_is_written(
    cast: Cast, row: NextYear, lines: dict[str, ServiceLine], client: Client
) -> None:
    """A service that is pushed into a class needs one at the new school."""
    line = lines["fifth"]
    Plan.objects.filter(pk=line.plan_id).update(end=LAST)
    ServiceLine.objects.filter(pk=line.pk).update(setting="push_in", pushed_into=cast.room4, end=LAST)
    step = asked(cast, row)
    steps_done()
    assert (written(), state_of(cast, step)) == (0, "refused")
    step.refresh_from_db()
    assert list(step.refused["students"]) == [str(line.plan.student_id)]
    assert "Quernmore" not in str(step.refused)
    assert not Job.objects.filter(broke_off=True).exists(), "it would be refused again"
    client.force_login(cast.coordinator)
    page = client.get(f"/steps/{step.pk}/").text
    assert "Quernmore-T5" in page
    assert "is pushed into a class of the building before" in page


@pytest.mark.parametrize("lost", ["sign-in", "role"])
def test_whether_it_may_be_done_is_asked_again(cast: Cast, row: NextYear, lost: str) -> None:
    """By who asked: a coordinator whose sign-in or role has ended meanwhile starts no year."""
    actor = make_person(cast.district, "leaving", Person.Role.COORDINATOR)
    step = next_year_start_ask(actor=actor, row=row)
    if lost == "sign-in":
        Person.objects.filter(pk=actor.pk).update(is_active=False)
    else:
        actor.roles.update(last_day="2020-01-01")
    steps_done()
    assert (written(), state_of(cast, step)) == (0, "refused")
    assert asked(cast, row).pk != step.pk
    steps_done()
    assert written() == 4


def test_a_worker_that_lost_the_job_leaves_nothing(cast: Cast, row: NextYear) -> None:
    """Its lease ran out and another has the job: whatever the first one wrote goes with its transaction."""
    step = asked(cast, row)
    first = job_claim(job_id=step.job_id)
    Job.objects.filter(pk=step.job_id).update(state=Job.State.WAITING, lease_token=None, lease_until=None)
    second = job_claim(job_id=step.job_id)
    assert first is not None
    assert second is not None
    run_claimed(first)
    assert written() == 0
    assert NextYear.objects.filter(started_at=None).exists()
    run_claimed(second)
    assert (written(), state_of(cast, step)) == (4, "done")


@pytest.mark.parametrize("when", ["waits", "at work"])
def test_stopped_leaves_everything_as_it_was(cast: Cast, row: NextYear, when: str) -> None:
    step = asked(cast, row)
    claim = job_claim(job_id=step.job_id) if when == "at work" else None
    step_stop(actor=cast.coordinator, row=step_get(cast.coordinator, step.pk))
    if claim is not None:
        run_claimed(claim)
    assert (written(), state_of(cast, step)) == (0, "stopped")
    next_year_save(actor=cast.coordinator, row=row, values={"name": "27"})


def test_the_draft_stays_as_it_was_seen_meanwhile(cast: Cast, row: NextYear) -> None:
    asked(cast, row)
    for change in (
        lambda: next_year_save(actor=cast.coordinator, row=row, values={"name": "27"}),
        lambda: next_year_delete(actor=cast.coordinator, row=row),
    ):
        with pytest.raises(ApplicationError) as caught:
            change()
        assert caught.value.code == "under_way"


def test_one_step_of_a_district_at_a_time(cast: Cast, row: NextYear) -> None:
    asked(cast, row)
    other = StepAsked(LongStep.Kind.TAKE_OVER, 1, "Least driving", 2)
    with pytest.raises(ApplicationError) as caught:
        step_ask(actor=cast.coordinator, asked=other)
    assert caught.value.code == "under_way"
    steps_done()
    assert step_ask(actor=cast.coordinator, asked=other).title == "Least driving"


def test_what_was_asked_about_is_gone(cast: Cast, row: NextYear) -> None:
    step = asked(cast, row)
    NextYear.objects.all().delete()
    steps_done()
    assert state_of(cast, step) == "refused"


def test_only_what_is_started_is_taken_back(cast: Cast, row: NextYear) -> None:
    with pytest.raises(ApplicationError) as caught:
        next_year_take_back_ask(actor=cast.coordinator, row=row)
    assert caught.value.code == "nothing_to_undo"
    NextYear.objects.filter(pk=row.pk).update(started_at=timezone.now())
    row.refresh_from_db()
    with pytest.raises(ApplicationError) as caught:
        next_year_take_back_ask(actor=cast.teacher, row=row)
    assert caught.value.code == "not_for_your_role"
