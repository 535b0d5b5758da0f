"""Goals on pages and in the API: typed, asked about, ended and reopened; data by plain forms and by a phone."""

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from caseload.progress.models import DataPoint, GoalRules, StudentGoal
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast
from travel.drives.models import DriveLog

TODAY = dt.datetime.now(dt.UTC).date()
NOW = {"start": TODAY - dt.timedelta(days=60), "end": TODAY + dt.timedelta(days=90)}


@pytest.fixture
def cast_now(cast: Cast) -> Cast:
    """The clock's own zone, for pages ask the clock."""
    cast.district.time_zone = "UTC"
    cast.district.save()
    return cast


def signed_in(cast: Cast, who: str = "teacher") -> Client:
    """A client of one of the cast."""
    client = Client()
    client.force_login(getattr(cast, who))
    return client


def test_a_goal_is_added_from_its_text_alone(cast_now: Cast) -> None:
    """The page says what it was read as."""
    client = signed_in(cast_now)
    assert b"No goal holds today" in client.get(reverse("goal_list", args=[cast_now.student.pk])).content
    sent = {"text": "Will walk 40 steps.", **NOW}
    answer = client.post(reverse("goal_new", args=[cast_now.student.pk]), sent, follow=True)
    assert b"Read as: at least 40 steps." in answer.content
    goal = StudentGoal.objects.get()
    assert (goal.measure, goal.criterion) == ("steps", Decimal(40))
    assert b"Will walk 40 steps." in client.get(reverse("goal_list", args=[cast_now.student.pk])).content


def test_two_readings_are_asked_about_on_the_form(cast_now: Cast) -> None:
    """Nothing is saved until one is chosen."""
    client, address = signed_in(cast_now), reverse("goal_new", args=[cast_now.student.pk])
    sent: dict[str, Any] = {"text": "run 400 meters in 3 minutes", **NOW}
    asked = client.post(address, sent)
    assert (asked.status_code, StudentGoal.objects.count()) == (422, 0)
    assert b"at most 180 seconds" in asked.content
    client.post(address, {**sent, "reading": "at least 400 m"})
    assert StudentGoal.objects.get().measure == "distance"


def test_a_goal_that_can_not_be_read_asks_on_its_page(cast_now: Cast) -> None:
    """Kept as typed, and the way to say how it is measured."""
    client = signed_in(cast_now)
    sent = {"text": "Will enjoy moving with others.", **NOW}
    answer = client.post(reverse("goal_new", args=[cast_now.student.pk]), sent, follow=True)
    assert b"How is this goal measured?" in answer.content
    goal = StudentGoal.objects.get()
    told = {"text": goal.text, **NOW, "measure": "count", "wanted": "more", "criterion": "5", "position": "100"}
    answer = client.post(reverse("goal_change", args=[goal.pk]), told, follow=True)
    assert b"Read as: at least 5 times." in answer.content


def test_a_goal_ends_and_its_end_is_taken_back(cast_now: Cast) -> None:
    """In one press."""
    client, goal = signed_in(cast_now), make_goal(cast_now.student, **NOW)
    client.post(reverse("goal_end", args=[goal.pk]), {"ended_on": TODAY, "ended_why": "Replaced"})
    assert StudentGoal.objects.get().ended_on == TODAY
    page = client.get(reverse("goal_detail", args=[goal.pk])).content.decode()
    assert "Take the end back" in page
    client.post(reverse("goal_reopen", args=[goal.pk]))
    assert StudentGoal.objects.get().ended_on is None


def test_a_form_of_something_saved_begins_with_what_is_saved(cast_now: Cast) -> None:
    """Only a new one begins with today: saving a changed text must not move a goal's or a drive's day."""
    client, day = signed_in(cast_now), TODAY - dt.timedelta(days=9)
    goal = make_goal(cast_now.student, start=day, end=NOW["end"])
    drive = DriveLog.objects.create(
        district=cast_now.district,
        teacher=cast_now.teacher,
        origin=cast_now.north,
        destination=cast_now.south,
        date=day,
        odometer_before="10.0",
    )
    for address in (reverse("goal_change", args=[goal.pk]), reverse("drive_log_change", args=[drive.pk])):
        page = client.get(address).content.decode()
        assert f'value="{day}"' in page
        assert f'value="{TODAY}"' not in page
    assert f'value="{TODAY}"' in client.get(reverse("goal_new", args=[cast_now.student.pk])).content.decode()


def test_data_are_taken_by_a_plain_form_and_taken_back(cast_now: Cast) -> None:
    """Without scripts; a form sent twice is one point."""
    client, goal = signed_in(cast_now), make_goal(cast_now.student, **NOW)
    address = f"{reverse('data_take')}?student={cast_now.student.pk}"
    assert goal.text in client.get(address).content.decode()
    sent = {"goal": goal.pk, "client_id": uuid.uuid4(), "day": TODAY, "value": "3", "tried": "5"}
    for _ in range(2):
        answer = client.post(address, sent, follow=True)
        assert b"Saved: 3 of 5 trials." in answer.content
    point = DataPoint.objects.get()
    client.post(reverse("data_undo", args=[point.pk]))
    assert not DataPoint.objects.counted().exists()
    page = client.get(reverse("goal_detail", args=[goal.pk])).content.decode()
    assert "Taken back (1)" in page
    client.post(reverse("data_restore", args=[point.pk]))
    assert DataPoint.objects.counted().exists()


def test_what_is_refused_is_said_on_the_page(cast_now: Cast) -> None:
    """An ended goal, and a figure that is none."""
    client = signed_in(cast_now)
    goal = make_goal(cast_now.student, **NOW, ended_on=TODAY - dt.timedelta(days=1))
    address = f"{reverse('data_take')}?student={cast_now.student.pk}"
    sent = {"goal": goal.pk, "client_id": uuid.uuid4(), "day": TODAY, "value": "3"}
    refused = client.post(address, sent)
    assert refused.status_code == 409
    assert "This goal ended on" in refused.content.decode()
    assert client.post(address, {**sent, "value": "many"}).status_code == 422
    assert not DataPoint.objects.exists()


def test_students_of_others_are_not_on_the_page(cast_now: Cast) -> None:
    """Whatever the address names."""
    make_goal(cast_now.mates_student, text="Hop 5 times.", **NOW)
    both = f"?student={cast_now.student.pk}&student={cast_now.mates_student.pk}&student=x&day=never&session=none"
    page = signed_in(cast_now).get(reverse("data_take") + both)
    assert page.status_code == 200
    assert "Hop 5 times." not in page.content.decode()
    assert "No goal to take data on." in page.content.decode()


def test_the_chart_has_a_table_beside_it(cast_now: Cast) -> None:
    """Each point of the drawing is a row, and the drawing says what it shows."""
    goal = make_goal(cast_now.student, **NOW)
    for day in range(6):
        make_point(goal, TODAY - dt.timedelta(days=7 * day), day % 5, cast_now.teacher)
    page = signed_in(cast_now).get(reverse("goal_detail", args=[goal.pk])).content.decode()
    assert page.count('class="point" cx="') == 6 + 1, "six points, and one in the key"
    assert page.count("<tr id=") == 6
    assert 'role="img" aria-label="Chart of 6 data points' in page


def test_a_phone_sends_points_under_its_own_ids(cast_now: Cast) -> None:
    """The same one twice is one; the API takes it back, and says what the data say."""
    client, goal = signed_in(cast_now), make_goal(cast_now.student, **NOW)
    sent = {"client_id": str(uuid.uuid4()), "goal": goal.pk, "day": str(TODAY), "value": "3", "marks": "11100"}
    first, again = (client.post("/api/1/data-points/", sent, content_type="application/json") for _ in range(2))
    assert (first.status_code, first.json()["id"]) == (201, again.json()["id"])
    assert first.json()["tried"] == 5
    client.post(f"/api/1/data-points/{first.json()['id']}/undo/")
    assert not DataPoint.objects.counted().exists()
    says = client.get(f"/api/1/goals/{goal.pk}/says/").json()
    assert "Too few data to say: 5 more days with data are wanted." in says["sentences"]
    ended = {"ended_on": str(TODAY - dt.timedelta(days=1))}
    assert client.post(f"/api/1/goals/{goal.pk}/end/", ended, content_type="application/json").status_code == 200
    late = client.post(
        "/api/1/data-points/", {**sent, "client_id": str(uuid.uuid4())}, content_type="application/json"
    )
    assert (late.status_code, late.json()["code"]) == (409, "goal_ended")


def test_the_api_reads_goals_as_they_are_typed(cast_now: Cast) -> None:
    """And says what an unread one can mean."""
    client = signed_in(cast_now)
    body = {"student": cast_now.student.pk, "text": "run 400 meters in 3 minutes", **NOW}
    made = client.post("/api/1/goals/", body, content_type="application/json").json()
    assert set(made["readings"]) == {"at most 180 seconds", "at least 400 m"}
    chosen = {"text": made["text"], "reading": "at least 400 m"}
    read = client.patch(f"/api/1/goals/{made['id']}/", chosen, content_type="application/json").json()
    assert (read["read_as"], read["readings"]) == ("at least 400 m", [])


def test_the_coordinator_sets_the_rules_by_date(cast_now: Cast) -> None:
    """Teachers read them."""
    client = signed_in(cast_now, "coordinator")
    sent = {"first_day": TODAY, "decision_rule": "three_days", "days_without_data": "21"}
    client.post(reverse("goal_rules_new"), sent)
    assert GoalRules.objects.get().decision_rule == "three_days"
    assert "Three days in a row" in signed_in(cast_now).get(reverse("goal_rules")).content.decode()


def test_a_goals_text_is_taken_back(cast_now: Cast) -> None:
    """With what it was read as; not where data were taken on the new reading."""
    client = signed_in(cast_now)
    client.post(reverse("goal_new", args=[cast_now.student.pk]), {"text": "Will walk 40 steps.", **NOW})
    goal = StudentGoal.objects.get()
    page = reverse("goal_detail", args=[goal.pk])
    assert "Take it back" not in client.get(page).text
    sent = {"text": "Will hop 5 times.", **NOW, "position": 1}
    client.post(reverse("goal_change", args=[goal.pk]), sent)
    goal.refresh_from_db()
    assert goal.text == "Will hop 5 times."
    seen = client.get(page).context["last"].entry.pk
    back = reverse("goal_take_back", args=[goal.pk])
    assert "Taken back." in client.post(back, {"seen": seen}, follow=True).text
    goal.refresh_from_db()
    assert (goal.text, goal.measure, goal.criterion) == ("Will walk 40 steps.", "steps", Decimal(40))
    assert "no change to take back" in client.post(back, {"seen": seen}, follow=True).text

    client.post(reverse("goal_change", args=[goal.pk]), sent)
    goal.refresh_from_db()
    make_point(goal, TODAY, 4, cast_now.teacher)
    assert "Data were taken on this goal" in client.post(back, follow=True).text
