"""Pages and API of who serves whom."""

import datetime as dt

import pytest
from django.urls import reverse

from caseload.plans.models import Student
from jobs.models import Job
from schedule.assigning.models import AssigningProposal, AssigningRun, TeacherPost
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast, date_there
from tests.schedule.assigning.ground import DAY, first_of, make_crossed, proposed
from tests.schedule.assigning.test_by_hand import unit_of
from tests.schedule.long_steps.work import steps_done
from tests.schedule.weeks.test_week_pages import page


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Each teacher has students at the other's end of the road."""
    return make_crossed(cast)


@pytest.fixture
def least(ground: Cast) -> AssigningProposal:
    """The proposal without driving: the north with the teacher, the south with the mate."""
    return first_of(proposed(ground))


def test_proposals_stand_side_by_side(ground: Cast, least: AssigningProposal) -> None:
    text = page(ground.coordinator, "assigning_run", least.run_id)
    for words in ("As today", "Least driving", "Minutes that fit", "Miles a week", "Students who change teacher"):
        assert words in text
    page(ground.teacher, "assigning_run", least.run_id, status=403)
    assert "All students anew" in page(ground.coordinator, "assigning")


def test_a_run_under_way_asks_again_by_itself(ground: Cast, least: AssigningProposal) -> None:
    Job.objects.filter(pk=least.run.job_id).update(state=Job.State.RUNNING)
    assert "Stop and keep what there is" in page(ground.coordinator, "assigning_run", least.run_id)


def test_students_are_moved_and_moved_back_on_the_page(ground: Cast, least: AssigningProposal) -> None:
    client, address = signed_in(ground.coordinator), reverse("proposal_move", args=[least.pk])
    values = {"unit": [unit_of(least, "S1")], "to": str(ground.teacher.pk), "revision": "1"}
    answer = client.post(address, values, follow=True)
    assert "1 change by hand." in answer.content.decode()
    answer = client.post(address, values, follow=True)
    assert "Somebody changed this proposal since you opened it." in answer.content.decode()
    answer = client.post(address, {"undo": "1", "revision": "2"}, follow=True)
    assert "by hand." not in answer.content.decode()


def test_taking_over_is_shown_by_name_first(ground: Cast, least: AssigningProposal) -> None:
    AssigningRun.objects.update(first_day=_ahead())
    text = page(ground.coordinator, "proposal_take_over", least.pk)
    assert "Mate Vey to Teacher Vey" in text
    assert "Ilsabet Quernmore-N2" in text
    assert "Nothing is handed over yet." in text
    client = signed_in(ground.coordinator)
    answer = client.post(reverse("proposal_take_over", args=[least.pk]), follow=True)
    assert "Waiting for a free worker" in answer.content.decode()
    assert "See how far it is" in page(ground.coordinator, "assigning_proposal", least.pk)
    steps_done()
    assert "Take it back" in page(ground.coordinator, "assigning_proposal", least.pk)
    client.post(reverse("proposal_take_back", args=[least.pk]))
    steps_done()
    assert "Take it over" in page(ground.coordinator, "assigning_proposal", least.pk)


def _ahead() -> dt.date:
    """A day that is ahead, whenever the test runs, and in the services' time."""
    return max(DAY, date_there() + dt.timedelta(days=3))


def test_why_it_cant_be_taken_over_stands_on_the_page(ground: Cast, least: AssigningProposal) -> None:
    AssigningRun.objects.update(first_day=date_there())
    assert "It can’t be taken over." in page(ground.coordinator, "proposal_take_over", least.pk)  # noqa: RUF001 -- as the page writes it


def test_students_who_stay_come_when_they_are_looked_for(ground: Cast) -> None:
    """They are most of a large district's page: htmx asks for them alone, and without scripts a link does."""
    address, box = reverse("assigning"), 'name="staying"'
    client = signed_in(ground.coordinator)
    assert box not in client.get(address).content.decode()
    part = client.get(address, {"students": "1"}, headers={"HX-Request": "true"}).content.decode()
    assert part.count(box) == 5
    assert "<html" not in part
    assert client.get(address, {"students": "1"}).content.decode().count(box) == 5
    student = Student.objects.get(code="N1")
    again = client.post(address, {"question": "who", "staying": [student.pk]})
    assert again.status_code == 422
    [told] = [one for one in again.content.decode().split("<input") if f'{box} value="{student.pk}"' in one]
    assert " checked" in told


def test_posts_are_entered_from_a_day_on(ground: Cast) -> None:
    assert "Nothing entered: taken as a full post in any field." in page(ground.coordinator, "posts")
    client = signed_in(ground.coordinator)
    address = reverse("post_new", args=[ground.mate.pk])
    values = {"first_day": "2026-09-01", "share": "60", "field": "Vision", "base": str(ground.south.pk)}
    assert "60 % of a full post" in client.post(address, values, follow=True).content.decode()
    again = client.post(address, values)
    assert again.status_code == 422
    assert "This post already changes on this day." in again.content.decode()
    post = TeacherPost.objects.get()
    client.post(reverse("post_delete", args=[post.pk]))
    assert not TeacherPost.objects.exists()


def test_the_api_does_what_the_pages_do(ground: Cast, least: AssigningProposal) -> None:
    api = Api(ground.coordinator)
    assert [one["title"] for one in api.get(f"assigning-runs/{least.run_id}/")["proposals"]][:2] == [
        "As today", "Least driving"
    ]  # fmt: skip
    seen = api.get(f"assigning-proposals/{least.pk}/")
    assert [one["figures"]["teacher"] for one in seen["teachers"]] == ["Mate Vey", "Teacher Vey"]
    moved = api.post(
        f"assigning-proposals/{least.pk}/move/", expect=200, units=[unit_of(least, "S1")], to=str(ground.teacher.pk)
    )
    assert moved["figures"]["moves"] == 1
    assert api.post(f"assigning-proposals/{least.pk}/undo-move/", expect=200)["figures"]["moves"] == 0
    AssigningRun.objects.update(first_day=_ahead())
    effects = api.post(f"assigning-proposals/{least.pk}/effects/", expect=200)
    assert {(one["giver"], one["receiver"]) for one in effects} == {
        (ground.mate.pk, ground.teacher.pk),
        (ground.teacher.pk, ground.mate.pk),
    }
    assert api.post(f"assigning-proposals/{least.pk}/take-over/", expect=202)["kind"] == "take_over"
    steps_done()
    assert api.get(f"assigning-proposals/{least.pk}/")["figures"]["taken_at"]
    assert api.post(f"assigning-proposals/{least.pk}/take-back/", expect=202)["parts"] == 2
    steps_done()
    assert api.get(f"assigning-proposals/{least.pk}/")["figures"]["taken_at"] is None
    made = api.post("posts/", teacher=ground.mate.pk, first_day="2026-09-01", share=60)
    assert api.get(f"posts/{made['id']}/")["share"] == 60


def test_the_api_asks_in_the_services_words(ground: Cast) -> None:
    answer = Api(ground.coordinator).post(
        "assigning-runs/", expect=409, teachers=[ground.teacher.pk, ground.mate.pk], first_day="2026-09-01"
    )
    assert answer["code"] == "first_day_over"
