"""Plans that could not be handed to a worker: the page answers, the run waits, and it bars no other."""

from collections.abc import Callable, Iterator
from html import unescape

import pytest
from celery import Celery
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import Settings

from caseload.plans.models import ServiceLine
from config.celery import app as project_app
from jobs.models import Job
from jobs.services import job_claim
from schedule.weeks.models import PlanRun
from schedule.weeks.selectors.runs import UNSENT
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line
from tests.services import RedisServer, free_port

# Sending is done after the commit, so there must be one.
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def line(cast: Cast) -> ServiceLine:
    """A service that a week can be planned for."""
    make_ground(cast)
    return make_line(cast, "U1")


@pytest.fixture
def use_redis(settings: Settings) -> Iterator[Callable[[str], None]]:
    """Sends background work to an address, by a Celery application of the project's own settings."""

    def use(url: str) -> None:
        settings.REDIS_URL = settings.CELERY_BROKER_URL = url
        Celery("tests", set_as_current=True).config_from_object("django.conf:settings", namespace="CELERY")

    yield use
    project_app.set_current()


@pytest.fixture
def nobody() -> str:
    """An address of Redis at which nobody listens."""
    return f"redis://127.0.0.1:{free_port()}/0"


def ask(cast: Cast, week: int = 0) -> tuple[int, str, str]:
    """Send the teacher's form for a week: the answer's status, where it leads, and its text."""
    client = Client(raise_request_exception=False)
    client.force_login(cast.teacher)
    dates = {"first_date": date(7 * week), "last_date": date(7 * week + 4)}
    answer = client.post(reverse("plan"), {**dates, "time_limit": 10, "keep_pins": "on", "aim": "usual_times"})
    return answer.status_code, answer.headers.get("Location", ""), answer.content.decode()


def press(cast: Cast, week: int = 0) -> PlanRun:
    """The run to whose page the form led."""
    status, location, _text = ask(cast, week)
    assert status == 302
    return PlanRun.objects.get(pk=int(location.rstrip("/").rpartition("/")[2]))


def page_of(cast: Cast, run: PlanRun) -> str:
    """The run's page."""
    client = Client()
    client.force_login(cast.teacher)
    return unescape(client.get(reverse("plan_run", args=[run.pk])).content.decode())


def state(run: PlanRun) -> tuple[str, bool]:
    """The state of a run's job, and whether it was sent."""
    job = Job.objects.get(pk=run.job_id)
    return job.state, job.sent_at is not None


def test_with_redis_down_the_plan_is_saved_and_says_that_it_waits(
    cast: Cast, line: ServiceLine, use_redis: Callable[[str], None], nobody: str
) -> None:
    use_redis(nobody)
    run = press(cast)
    assert state(run) == ("waiting", False)
    assert UNSENT in page_of(cast, run)


def test_a_fault_in_the_sending_itself_does_not_reach_the_page(
    cast: Cast, line: ServiceLine, use_redis: Callable[[str], None]
) -> None:
    """Such as a package that is missing, or an address that Celery has no transport for."""
    use_redis("tin-cans://two.cans.example")
    assert state(press(cast)) == ("waiting", False)


def test_an_unsent_run_makes_way_for_other_dates(
    cast: Cast, line: ServiceLine, use_redis: Callable[[str], None], nobody: str
) -> None:
    use_redis(nobody)
    first, second = press(cast), press(cast, week=1)
    assert second != first
    assert [state(one) for one in (first, second)] == [("stopped", False), ("waiting", False)]


def test_a_run_that_a_worker_has_begun_does_not(
    cast: Cast, line: ServiceLine, use_redis: Callable[[str], None], nobody: str
) -> None:
    use_redis(nobody)
    run = press(cast)
    assert job_claim(job_id=run.job_id) is not None
    assert UNSENT not in page_of(cast, run)
    status, _location, text = ask(cast, week=1)
    assert status == 422
    assert "are being planned right now" in text
    assert state(run) == ("running", False)


@pytest.mark.redis
def test_pressing_again_for_the_same_dates_sends_it(
    cast: Cast, line: ServiceLine, use_redis: Callable[[str], None], redis_server: RedisServer
) -> None:
    use_redis(redis_server.url)
    run = press(cast)
    assert state(run) == ("waiting", False)
    redis_server.start()
    assert press(cast) == run
    assert state(run) == ("waiting", True)
    assert UNSENT not in page_of(cast, run)
