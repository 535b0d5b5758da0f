"""Today's own log, without scripts: one tap, who was absent, the way back, and the screen of a running session."""

import re

import pytest
from django.test import Client
from django.urls import reverse

from caseload.delivery.models import DeliveryVersion
from schedule.weeks.models import SessionAttendee
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day

pytestmark = pytest.mark.django_db
TODAY = "2026-09-14"


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday, at 10:05: one session is over, the second, of two students, runs."""
    made = make_day(cast, monkeypatch)
    made.clock("10:05")
    return made


@pytest.fixture
def browser(day: Day) -> Client:
    """The teacher's."""
    client = Client()
    client.force_login(day.cast.teacher)
    return client


def form_of(page: str, day: Day, number: int) -> str:
    """The form that logs a session, as it stands on a page."""
    return page.split(f'id="log-{day.sessions[number].uid}"')[1].split("</form>")[0]


def sent(form: str) -> dict[str, str]:
    """Its hidden fields."""
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))


def lines(day: Day, number: int) -> list[int]:
    """The services in a session."""
    rows = SessionAttendee.objects.filter(session=day.sessions[number])
    return list(rows.order_by("student__code").values_list("service_line_id", flat=True))


def outcomes() -> list[tuple[int | None, str]]:
    """What stands, by student's code."""
    rows = DeliveryVersion.objects.current().order_by("entry__student__code")
    return [(one.delivered_minutes, one.reason.code if one.reason else "") for one in rows]


def test_what_is_over_is_folded_and_the_mark_stands_at_the_next(browser: Client) -> None:
    page = browser.get(reverse("day")).content.decode()
    earlier, rest = page.split('class="earlier"')[1].split("data-rest")
    assert re.findall(r"<span data-count>(\d)</span>", earlier) == ["2"]
    assert "<span>1</span> to log" in earlier
    assert earlier.count('<li class="day-line') == 2
    assert rest.index("day-now") < rest.index('<li class="day-line')
    assert "10:05 AM" in rest
    tomorrow = browser.get(reverse("day_of", args=["2026-09-15"])).content.decode()
    assert "day-now " not in tomorrow


def test_one_tap_logs_and_says_before_what_it_logs(browser: Client, day: Day) -> None:
    """Back on Today at its session, where it can be undone; only what has begun is offered."""
    page = browser.get(reverse("day")).content.decode()
    form = form_of(page, day, 1)
    assert "As planned<span data-says>: 2 present</span>" in form
    later = page.split(f'id="log-{day.sessions[2].uid}"')[0].rsplit("<div", 1)[1]
    assert "hidden" in later
    assert "hidden" not in page.split(f'id="log-{day.sessions[1].uid}"')[0].rsplit("<div", 1)[1]
    absent = lines(day, 1)[1]
    assert f'form="log-{day.sessions[1].uid}" name="absent" value="{absent}"' in page
    answer = browser.post(f"{reverse('log_session')}?back=day", {**sent(form), "absent": absent})
    assert answer.headers["Location"] == f"/day/{TODAY}/#s-{day.sessions[1].uid}"
    assert outcomes() == [(45, ""), (0, "student_absent")]
    page = browser.get(reverse("day")).content.decode()
    assert f'id="log-{day.sessions[1].uid}"' not in page
    undo = page.split('class="undo-tap')[1].split("</form>")[0]
    address = re.findall(r'action="([^"]*)"', undo)[0].replace("&amp;", "&")
    answer = browser.post(address, sent(undo))
    assert answer.headers["Location"] == f"/day/{TODAY}/#s-{day.sessions[1].uid}"
    assert outcomes() == [(None, "")] * 2


def test_the_form_sent_twice_logs_once(browser: Client, day: Day) -> None:
    form = form_of(browser.get(reverse("day")).content.decode(), day, 1)
    for _ in range(2):
        assert browser.post(f"{reverse('log_session')}?back=day", sent(form)).status_code == 302
    assert outcomes() == [(45, "")] * 2


def test_a_session_without_a_routine_runs_and_is_logged_there(browser: Client, day: Day) -> None:
    """Its screen has who comes, the time left and the log; the tap leads back to it."""
    run = reverse("class_hour_run", args=[MONDAY, day.sessions[1].uid])
    assert f'href="{run}"' in browser.get(reverse("day")).content.decode()
    page = browser.get(run).content.decode()
    form = form_of(page, day, 1)
    assert page.count('name="absent"') == 2
    assert '"usual": 45' in page
    answer = browser.post(f"{reverse('log_session')}?back=run", sent(form))
    assert answer.headers["Location"] == run
    page = browser.get(run).content.decode()
    assert 'name="absent"' not in page
    assert page.count("45 minutes</span>") == 2
    undo = page.split('class="undo-tap')[1].split("</form>")[0]
    answer = browser.post(re.findall(r'action="([^"]*)"', undo)[0].replace("&amp;", "&"), sent(undo))
    assert answer.headers["Location"] == run


def test_who_does_not_log_sees_no_log_on_it(day: Day) -> None:
    """An office sees no class hour; the coordinator logs, since the log is the district's."""
    client = Client()
    client.force_login(day.cast.office)
    assert client.get(reverse("class_hour_run", args=[MONDAY, day.sessions[1].uid])).status_code in {403, 404}
    page = client.get(reverse("day"), {"teacher": day.cast.teacher.pk}).content.decode()
    assert "As planned" not in page


@pytest.mark.parametrize(("asked", "to"), [("", "/log/"), ("?back=elsewhere", "/log/")])
def test_a_way_back_that_nobody_knows_leads_to_the_log(browser: Client, day: Day, asked: str, to: str) -> None:
    form = form_of(browser.get(reverse("day")).content.decode(), day, 1)
    assert browser.post(reverse("log_session") + asked, sent(form)).headers["Location"].startswith(to)
