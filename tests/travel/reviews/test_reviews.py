"""Reviews: a reviewer sees what lies in named buildings and dates, while the review is open, and changes nothing.

34 CFR 99.31(a)(1) and (a)(3) let school officials and auditors see records; 99.32 asks for a record of it.
"""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.selectors import today_of
from caseload.access.models import Access
from caseload.care.models import Caution
from caseload.delivery.models import DeliveryEntry, DeliveryVersion
from caseload.plans.models import Enrollment, Plan, ServiceLine, Student
from schedule.reports.selectors.people import student_report
from schedule.reports.selectors.places import building_report
from schedule.weeks.models import PlannedSession, WeekPlan
from tests.api import Api
from tests.conftest import Cast, make_person
from tests.schedule.builders import MONDAY, make_ground
from tests.schedule.log_builders import log_line, publish_session
from tests.travel.reviews.builders import FIRST, LAST, WEEK, make_review
from travel.places.models import Building, BuildingReview
from travel.reviews.services import review_delete, review_effects, review_save

DAY = dt.timedelta(days=1)


def values(cast: Cast, reviewer: Person, **more: Any) -> dict[str, Any]:
    """A review that can be saved."""
    today = today_of(cast.coordinator)
    days = {"first_date": FIRST, "last_date": LAST, "opens_on": today, "ends_on": today + WEEK}
    return {"reviewer": reviewer, "buildings": [cast.north], **days, **more}


@pytest.fixture
def reviewer(cast: Cast) -> Person:
    """A reviewer to whom nothing is given yet."""
    return make_person(cast.district, "reviewer", Person.Role.REVIEWER)


def test_a_coordinator_gives_a_review_and_takes_it_back(cast: Cast, reviewer: Person) -> None:
    """Both are in the audit; nobody else can."""
    for actor in (cast.teacher, cast.office, cast.substitute, reviewer):
        with pytest.raises(ApplicationError) as refused:
            review_save(actor=actor, row=BuildingReview(), values=values(cast, reviewer))
        assert refused.value.status == 403
    row = review_save(actor=cast.coordinator, row=BuildingReview(), values=values(cast, reviewer))
    assert list(Student.objects.visible_to(reviewer)) == [cast.student]
    review_delete(actor=cast.coordinator, row=row)
    assert not Student.objects.visible_to(reviewer).exists()
    assert list(AuditEntry.objects.order_by("pk").values_list("action", flat=True)) == [
        "review_save",
        "review_delete",
    ]


def test_what_can_not_be_a_review(cast: Cast, reviewer: Person) -> None:
    """Said at the field: no building, somebody with another role, dates the wrong way around, another district."""
    wrong: dict[str, Any] = {"buildings": [], "reviewer": cast.teacher}
    for name, part in wrong.items():
        with pytest.raises(ValidationError) as refused:
            review_save(actor=cast.coordinator, row=BuildingReview(), values=values(cast, reviewer) | {name: part})
        assert set(refused.value.message_dict) == {name}
    for part in ({"last_date": FIRST - DAY}, {"ends_on": today_of(cast.coordinator) - DAY}):
        with pytest.raises(ValidationError):
            review_save(actor=cast.coordinator, row=BuildingReview(), values=values(cast, reviewer, **part))
    far = Building.objects.create(district=cast.other_district, code="FAR", name="Far School")
    with pytest.raises(ValidationError):
        review_save(actor=cast.coordinator, row=BuildingReview(), values=values(cast, reviewer, buildings=[far]))
    assert not BuildingReview.objects.exists()


def test_it_is_told_before_what_will_be_seen(cast: Cast, reviewer: Person) -> None:
    """With the number of students, and without saving anything."""
    told = " ".join(review_effects(actor=cast.coordinator, row=BuildingReview(), values=values(cast, reviewer)))
    assert "1 student with names" in told
    assert "North Hollow School" in told
    assert not BuildingReview.objects.exists()


@pytest.mark.parametrize(("opens", "ends"), [(-14, -1), (1, 14)])
def test_nothing_is_seen_before_and_after(cast: Cast, opens: int, ends: int) -> None:
    """Of students, buildings and weeks."""
    today = today_of(cast.coordinator)
    row = make_review(cast, opens_on=today + opens * DAY, ends_on=today + ends * DAY)
    for model in (Student, Plan, ServiceLine, DeliveryEntry, WeekPlan, Building):
        assert not model.objects.visible_to(row.reviewer).exists()


def test_students_are_seen_where_and_while_they_were_there(cast: Cast) -> None:
    """Who moved away before the dates isn't, who came within them is; of others only the school's own."""
    reviewer = make_review(cast).reviewer
    assert list(Student.objects.visible_to(reviewer)) == [cast.student]
    Enrollment.objects.create(student=cast.student, building=cast.north, grade="3", last_day=FIRST - DAY)
    Enrollment.objects.create(student=cast.student, building=cast.south, grade="3", first_day=FIRST)
    Enrollment.objects.create(student=cast.mates_student, building=cast.north, grade="3", first_day=LAST)
    assert list(Student.objects.visible_to(reviewer)) == [cast.mates_student]


def test_plans_and_services_of_the_dates_alone(cast: Cast) -> None:
    """A plan that ended the day before, and its service, aren't seen."""
    reviewer = make_review(cast).reviewer
    old = Plan.objects.create(student=cast.student, start=dt.date(2025, 9, 1), end=FIRST - DAY)
    assert list(Plan.objects.visible_to(reviewer)) == [cast.plan]
    ServiceLine.objects.filter(pk=cast.line.pk).update(start=old.start, end=old.end)
    assert not ServiceLine.objects.visible_to(reviewer).exists()


def test_the_log_of_the_dates_and_buildings_alone(cast: Cast) -> None:
    """Of a student who moves on within the dates, what was logged before."""
    make_ground(cast)
    before, after = log_line(cast, MONDAY), log_line(cast, MONDAY + WEEK)
    row = make_review(cast)
    seen = DeliveryEntry.objects.visible_to(row.reviewer)
    assert set(seen) == {before, after}
    Enrollment.objects.create(student=cast.student, building=cast.north, grade="3", last_day=MONDAY + DAY)
    Enrollment.objects.create(student=cast.student, building=cast.south, grade="3", first_day=MONDAY + 2 * DAY)
    assert list(seen.all()) == [before]
    assert {one.entry for one in DeliveryVersion.objects.visible_to(row.reviewer)} == {before}
    BuildingReview.objects.update(first_date=MONDAY + DAY)
    assert not seen.all().exists()


def test_weeks_as_an_office_sees_them_on_the_dates_alone(cast: Cast) -> None:
    """Published sessions in the building, without who is in them."""
    make_ground(cast)
    inside, later = (publish_session(day, [cast.line]) for day in (MONDAY, MONDAY + DAY))
    reviewer = make_review(cast, last_date=MONDAY).reviewer
    assert list(PlannedSession.objects.visible_to(reviewer)) == [inside]
    week = Api(reviewer).get(f"weeks/{inside.week_id}/")
    assert [one["uid"] for day in week["days"] for one in day["sessions"]] == [str(inside.uid)]
    assert "Tarn" not in str(week)
    assert cast.student.code not in str(week)
    PlannedSession.objects.filter(pk=inside.pk).update(building=cast.south)
    assert not WeekPlan.objects.visible_to(reviewer).exists()
    assert later.week_id == inside.week_id


def test_reports_within_the_dates(cast: Cast) -> None:
    """A service record or a building's figures beyond them are refused with the dates that are seen."""
    make_ground(cast)
    log_line(cast, MONDAY)
    reviewer = make_review(cast).reviewer
    told = student_report(reviewer, cast.student, FIRST, LAST, LAST)
    assert told.tables
    assert building_report(reviewer, cast.north, LAST, LAST).tables[0].rows
    acts: list[Callable[[], object]] = [
        lambda: student_report(reviewer, cast.student, FIRST - DAY, LAST, LAST),
        lambda: student_report(reviewer, cast.student, FIRST, LAST + DAY, LAST),
        lambda: building_report(reviewer, cast.north, LAST + DAY, LAST),
    ]
    for act in acts:
        with pytest.raises(ApplicationError) as refused:
            act()
        assert refused.value.code == "outside_review"
        assert "September 1, 2026 to December 18, 2026" in refused.value.message


def test_pages_name_the_student_and_are_recorded(cast: Cast) -> None:
    """The list, the student, the service record; without care and goals, and each under who saw what."""
    reviewer = make_review(cast).reviewer
    client = Client()
    client.force_login(reviewer)
    Access.objects.all().delete()
    pages = [("student_list", []), ("student_detail", [cast.student.pk]), ("report_student", [cast.student.pk])]
    for name, at in pages:
        answer = client.get(reverse(name, args=at))
        assert answer.status_code == 200, name
        assert "Tarn S01" in answer.content.decode(), name
        assert reverse("goal_list", args=[cast.student.pk]) not in answer.content.decode()
    rows = Access.objects.filter(kind="view").order_by("pk")
    assert [(one.page, one.why) for one in rows] == [(name, "reviews these buildings") for name, _ in pages]
    assert client.get(reverse("student_detail", args=[cast.mates_student.pk])).status_code == 404


def test_the_coordinator_gives_it_on_a_page(cast: Cast, reviewer: Person) -> None:
    """Shown first, then saved; the reviewer reads what they may look at."""
    client = Client()
    client.force_login(cast.coordinator)
    form = {**values(cast, reviewer), "reviewer": reviewer.pk, "buildings": [cast.north.pk]}
    sent = {name: one.isoformat() if isinstance(one, dt.date) else one for name, one in form.items()}
    shown = client.post(reverse("review_new"), sent)
    assert shown.status_code == 200
    assert not BuildingReview.objects.exists()
    seen = shown.context["effects_seen"]
    assert client.post(reverse("review_new"), {**sent, "effects_seen": seen}).status_code == 302
    assert BuildingReview.objects.get().buildings.get() == cast.north
    client.force_login(reviewer)
    own = client.get(reverse("reviews")).content.decode()
    assert "North Hollow School" in own
    assert reverse("review_new") not in own


def test_the_api_does_the_same(cast: Cast, reviewer: Person) -> None:
    """Foreseen, given, read by the reviewer, ended."""
    api, own = Api(cast.coordinator), Api(reviewer)
    body = {**values(cast, reviewer), "reviewer": reviewer.pk, "buildings": [cast.north.pk]}
    told = api.post("reviews/effects/", expect=200, **body)
    assert any("1 student" in one for one in told["effects"])
    made = api.post("reviews/", **body)
    assert [one["id"] for one in own.get("reviews/")["results"]] == [made["id"]]
    assert [one["id"] for one in own.get("students/")["results"]] == [cast.student.pk]
    own.patch(f"students/{cast.student.pk}/", expect=403, grade="4")
    own.patch(f"reviews/{made['id']}/", expect=403, ends_on="2030-01-01")
    api.delete(f"reviews/{made['id']}/")
    assert own.get("students/")["results"] == []


def test_nothing_of_anybodys_care_is_shown(cast: Cast, reviewer: Person, client: Client) -> None:
    """Neither in the list of students nor on a student's page; a coordinator reads it on both."""
    make_review(cast, reviewer=reviewer)
    steps = "Lay on the side"
    Caution.objects.create(student=cast.student, text="Flickering lights", source="plan", emergency_steps=steps)
    for person, shown in ((cast.coordinator, True), (reviewer, False)):
        client.force_login(person)
        for address in (reverse("student_list"), reverse("student_detail", args=[cast.student.pk])):
            answer = client.get(address)
            assert answer.status_code == 200
            told = answer.content.decode()
            assert cast.student.last_name in told
            assert ("Flickering lights" in told) is (steps in told) is ("Caution" in told) is shown, address
