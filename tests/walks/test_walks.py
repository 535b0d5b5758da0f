"""The walks that docs/house.md describes, watched: none calls upwards, but for what is handed down by name."""

import datetime as dt
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import resolve, reverse
from django.utils import timezone

from accounts.models import Person
from caseload.delivery.models import DeliveryEntry
from caseload.plans.models import Plan, ServiceLine, Student
from jobs.runner import run_job
from schedule.calendar.models import SchoolYear
from schedule.feeds.models import Feed
from schedule.feeds.services.feeds import feed_add
from schedule.imports.models import ImportBatch
from schedule.weeks.models import PlanRun, WeekPlan
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground, make_line
from tests.schedule.log_builders import bring_to_now, publish_session
from tests.walks.tracing import Call, Walk, walking

pytestmark = pytest.mark.django_db

# What calls upwards by name, and why: a pattern of "caller -> callee".
HOOKS = {
    r"accounts\.models\.scope\.\S+ -> \S+QuerySet\.narrowed_for": "each table narrows its own rows to who asks",
    r"accounts\.models\.sql_once\._maker\S* -> \S+\.from_db": "each table makes its own row of what was read",
    r"accounts\.validation\._full_clean -> \S+\.models\.\S+\.clean": "each table checks its own row",
    r"accounts\.validation\.rules_check -> \S+\.rules\.\w+": "rules that a floor registers for rows of another",
    r"accounts\.idempotency\.shared\.\S+ -> \S+": "what several sendings share is read by whoever asks for it",
    r"accounts\.guards\.guards_ask -> \S+\.services\.closed\.\w+": "what closed months hold against a row's change",
    r"schedule\.imports\.rows\.context\.TableRun\.save -> \S+\.rows\.people\.\w+": "how a table's rows are saved",
    r"\S+ -> schedule\.feeds\.signals\.\w+": "Django's word that a row was saved: feeds mark themselves",
    r"schedule\.weeks\.services\.weeks\.week_put_in_force -> schedule\.happenings\.services\.following\.\w+": (
        "the word that a week came into force: what was logged of what fell out follows it"
    ),
    r"\S+Middleware\.__call__ -> \S+": ("Django's chain of middleware: a request is handed on to its page"),
    r"\S+ -> config\.running\.steady\.Writes\.__call__": "Django's instrumentation: has the request written yet",
    r"jobs\.runner\._handle -> schedule\.job_handlers\.\w+": "the handler of a kind of job, registered at start",
    r"jobs\.runner\.\w+ -> config\.running\.(redaction|logs)\.\S+": "filters of the log, which settings name",
    r"\S+ -> config\.phone\.shell\.VersionedStorage\.url": "the storage of static files, which settings name",
    r"\S+ -> config\.templatetags\.manual\.page_help": "the help of each page, which its template asks for",
    r"schedule\.planner\.\S+ -> schedule\.weeks\.services\.progress\.\S+": "how far a search is, told as it runs",
    r"schedule\.planner\.\S+ -> schedule\.weeks\.services\.kept\.\S+": "what a search has found so far, kept",
}


def unexplained(walk: Walk) -> list[str]:
    """Calls upwards that no hook explains."""
    return [str(call) for call in walk.upward if hook_of(call) is None]


def hook_of(call: Call) -> str | None:
    """The hook that a call upwards goes by."""
    return next((pattern for pattern in HOOKS if re.fullmatch(pattern, str(call))), None)


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


@contextmanager
def from_page(address: str) -> Iterator[Walk]:
    """Watch from the page of an address on."""
    page = resolve(address).func
    with walking(f"{page.__module__}.{page.__qualname__}") as walk:
        yield walk
    assert walk.calls, "the page was never reached"


def upload(cast: Cast) -> Walk:
    """A table is uploaded and shown: nothing is saved."""
    table = "Student code,First name,Last name,Grade,Building code\nK01,Ola,Tarn,2,NORTH\n"
    file = SimpleUploadedFile("students.csv", table.encode())
    address = reverse("import_upload", args=["students"])
    browser = signed_in(cast.teacher)
    with from_page(address) as walk:
        assert browser.post(address, {"file": file}).status_code == 302
    return walk


def save_upload(cast: Cast) -> Walk:
    """What was shown is saved."""
    upload(cast)
    address = reverse("import_commit", args=[ImportBatch.objects.get().pk])
    browser = signed_in(cast.teacher)
    with from_page(address) as walk:
        assert browser.post(address).status_code == 302
    assert Student.objects.filter(code="K01").exists()
    return walk


def plan(cast: Cast) -> Walk:
    """The week is planned: the button, and the job that it starts."""
    make_ground(cast)
    sent = {"first_date": MONDAY, "last_date": MONDAY + dt.timedelta(days=4), "time_limit": 10}
    browser, address = signed_in(cast.teacher), reverse("plan")
    with from_page(address) as walk:
        answer = browser.post(address, {**sent, "keep_pins": "on", "aim": "usual_times"})
        assert answer.status_code == 302
        run_job(PlanRun.objects.get().job_id)
    assert WeekPlan.objects.get().status == WeekPlan.Status.DRAFT
    return walk


def publish(cast: Cast) -> Walk:
    """The planned week is put in force."""
    plan(cast)
    return publish_planned(cast)


def publish_planned(cast: Cast) -> Walk:
    """The week that was planned before is."""
    week = WeekPlan.objects.get()
    browser, address = signed_in(cast.teacher), reverse("week_publish", args=[week.pk])
    with from_page(address) as walk:
        assert browser.post(address, {"revision": week.revision}).status_code == 302
    week.refresh_from_db()
    assert week.status == WeekPlan.Status.PUBLISHED
    return walk


def tap_absent(cast: Cast) -> Walk:
    """A student is tapped absent."""
    today = timezone.localdate()
    bring_to_now(cast, today)
    line = make_line(cast, "S11")
    year = SchoolYear.objects.get()
    Plan.objects.update(start=year.first_day, end=year.last_day)
    ServiceLine.objects.update(start=year.first_day, end=year.last_day)
    session = publish_session(today, [line])
    browser, address = signed_in(cast.teacher), reverse("log_session")
    client_id = re.search(r'name="client_id" value="([^"]+)"', browser.get(reverse("log")).content.decode())
    assert client_id is not None
    sent = {"uid": session.uid, "client_id": client_id[1], "absent": [line.pk]}
    with from_page(address) as walk:
        assert browser.post(address, sent).status_code == 302
    assert DeliveryEntry.objects.filter(service_line=line).exists()
    return walk


def attention(cast: Cast) -> Walk:
    """The number on the attention page."""
    tap_absent(cast)
    return attention_shown(cast)


def attention_shown(cast: Cast) -> Walk:
    """The page as it stands."""
    browser, address = signed_in(cast.teacher), reverse("attention")
    with from_page(address) as walk:
        assert browser.get(address).status_code == 200
    return walk


def first_fetch(cast: Cast) -> Walk:
    """A program asks for a feed that was changed."""
    feed_of_week(cast)
    _, address = feed_add(actor=cast.teacher, kind=Feed.Kind.TEACHER, values={"label": "phone"}, site="")
    with from_page(address) as walk:
        assert b"BEGIN:VEVENT" in Client().get(address).content
    return walk


def later_fetch(cast: Cast) -> Walk:
    """A program asks for a feed that stands as it was."""
    feed_of_week(cast)
    _, address = feed_add(actor=cast.teacher, kind=Feed.Kind.TEACHER, values={"label": "phone"}, site="")
    assert Client().get(address).status_code == 200
    with from_page(address) as walk:
        assert b"BEGIN:VEVENT" in Client().get(address).content
    return walk


def feed_of_week(cast: Cast) -> None:
    """A session of today is in force."""
    today = timezone.localdate()
    bring_to_now(cast, today)
    publish_session(today, [make_line(cast, "S11")])


WALKS = (upload, save_upload, plan, publish, tap_absent, attention, first_fetch, later_fetch)


@pytest.mark.parametrize("walk", WALKS, ids=lambda walk: walk.__name__)
def test_no_call_goes_upwards(cast: Cast, walk: Callable[[Cast], Walk]) -> None:
    """But by a hook that is named above."""
    assert unexplained(walk(cast)) == []


def test_each_hook_is_one_of_a_walk(cast: Cast) -> None:
    """Nothing is excused that isn't there; planning, publishing and a page go by what a table doesn't."""
    calls = [
        *upload(cast).upward, *plan(cast).upward, *publish_planned(cast).upward, *attention_shown(cast).upward,
    ]  # fmt: skip
    assert {hook_of(call) for call in calls} == set(HOOKS)


@pytest.mark.parametrize(
    ("caller", "callee", "upward"),
    [
        ("travel.drives.selectors", "schedule.weeks.planning.assemble", True),
        ("schedule.weeks.selectors.weeks", "schedule.weeks.services.weeks", True),
        ("schedule.weeks.services.weeks", "schedule.log.services", True),
        ("schedule.imports.rows.context", "schedule.imports.rows.people", True),
        ("schedule.weeks.services.weeks", "schedule.weeks.selectors.weeks", False),
        ("schedule.log.services", "caseload.delivery.services.log", False),
    ],
)
def test_what_goes_upwards(caller: str, callee: str, upward: bool) -> None:
    """By floors, by the furniture of a room, by rooms, and by who imports whom."""
    assert Call(caller, "one", callee, "other").is_upward is upward


def test_a_function_handed_down_is_seen() -> None:
    """`looked_up` calls what it is given: from the rows of people that is a call upwards, from the codes none."""
    from_people = Call("schedule.imports.rows.schools", "looked_up", "schedule.imports.rows.people", "_teacher")
    from_codes = Call("schedule.imports.rows.schools", "looked_up", "schedule.imports.rows.lookups", "grade_of")
    assert from_people.is_upward
    assert not from_codes.is_upward
