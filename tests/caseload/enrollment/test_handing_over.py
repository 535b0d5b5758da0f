"""A caseload, or some of its students, goes to another teacher from a day on. Common practice, no source."""

import datetime as dt
import re
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.plans.enrollment.selectors import caseload_teachers_on
from caseload.plans.models import ServiceLine
from caseload.plans.services import caseload_hand_over, caseload_hand_over_undo, service_change, service_correct
from caseload.plans.services.enrollments import student_enroll
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast

DAY = dt.date(2026, 12, 7)
ONE_DAY = dt.timedelta(days=1)


@pytest.fixture
def given(cast: Cast) -> AuditEntry:
    """S01 goes from the teacher to the mate on December 7."""
    student_enroll(student=cast.student)
    return caseload_hand_over(
        actor=cast.coordinator, giver=cast.teacher, receiver=cast.mate, students=[cast.student], from_day=DAY
    )


def versions(cast: Cast) -> list[tuple[str, dt.date, dt.date]]:
    """Provider, first and last day of each version of the cast's service."""
    rows = ServiceLine.objects.filter(service=cast.line.service_id).order_by("start")
    return list(rows.values_list("provider__username", "start", "end"))


def test_caseload_and_services_go_over_on_the_day(cast: Cast, given: AuditEntry) -> None:
    """Until the day before they are the giver's."""
    assert versions(cast) == [
        ("teacher", dt.date(2026, 9, 1), DAY - ONE_DAY),
        ("mate", DAY, dt.date(2027, 6, 18)),
    ]
    asked = [caseload_teachers_on([cast.student.pk], day)[cast.student.pk] for day in (DAY - ONE_DAY, DAY)]
    assert asked == [cast.teacher.pk, cast.mate.pk]


def test_it_is_taken_back_whole_and_once(cast: Cast, given: AuditEntry) -> None:
    """As if it had never been."""
    caseload_hand_over_undo(actor=cast.coordinator, entry=given)
    assert versions(cast) == [("teacher", dt.date(2026, 9, 1), dt.date(2027, 6, 18))]
    assert caseload_teachers_on([cast.student.pk], DAY) == {cast.student.pk: cast.teacher.pk}
    with pytest.raises(ApplicationError) as refused:
        caseload_hand_over_undo(actor=cast.coordinator, entry=given)
    assert refused.value.code == "nothing_to_undo"


def test_two_hand_overs_are_taken_back_one_after_the_other(cast: Cast, given: AuditEntry) -> None:
    """There and, some weeks later, back again: the later one first, then the earlier one."""
    later = caseload_hand_over(
        actor=cast.coordinator,
        giver=cast.mate,
        receiver=cast.teacher,
        students=[cast.student],
        from_day=DAY + dt.timedelta(weeks=4),
    )
    with pytest.raises(ApplicationError) as refused:
        caseload_hand_over_undo(actor=cast.coordinator, entry=given)
    assert refused.value.code == "changed_since"
    caseload_hand_over_undo(actor=cast.coordinator, entry=later)
    caseload_hand_over_undo(actor=cast.coordinator, entry=given)
    assert versions(cast) == [("teacher", dt.date(2026, 9, 1), dt.date(2027, 6, 18))]


def test_a_service_with_two_versions_of_the_givers_is_taken_back_whole(cast: Cast) -> None:
    """Other terms from March: both versions go over in December, and both come back."""
    student_enroll(student=cast.student)
    march = dt.date(2027, 3, 1)
    terms = {"statement": "3 x 30 min/week"}
    service_change(actor=cast.teacher, row=cast.line, from_day=march, values=terms, seen=None)
    before = versions(cast)
    entry = caseload_hand_over(
        actor=cast.coordinator, giver=cast.teacher, receiver=cast.mate, students=[cast.student], from_day=DAY
    )
    assert [who for who, _, _ in versions(cast)] == ["teacher", "mate", "mate"]
    caseload_hand_over_undo(actor=cast.coordinator, entry=entry)
    assert versions(cast) == before


def test_what_was_changed_since_is_no_part_of_what_is_taken_back(cast: Cast, given: AuditEntry) -> None:
    """The mate's correction would go instead of the hand-over: nothing is taken back."""
    mine = ServiceLine.objects.get(service=cast.line.service_id, provider=cast.mate)
    service_correct(actor=cast.coordinator, row=mine, values={"days_apart": 2}, seen=None)
    with pytest.raises(ApplicationError) as refused:
        caseload_hand_over_undo(actor=cast.coordinator, entry=given)
    assert refused.value.code == "changed_since"
    mine.refresh_from_db()
    assert (mine.provider, mine.days_apart) == (cast.mate, 2)


def test_the_api_tells_first_and_hands_over_for_who_has_left(cast: Cast) -> None:
    """A teacher who signs in no more still has a caseload; trying out saves nothing and refuses the same."""
    student_enroll(student=cast.student)
    cast.teacher.is_active = False
    cast.teacher.save()
    api = Api(cast.coordinator)
    body: dict[str, Any] = {"giver": cast.teacher.pk, "receiver": cast.mate.pk, "first_day": DAY.isoformat()}
    told = api.post("caseload-hand-overs/effects/", expect=200, **body)["effects"]
    assert told == ["From December 7, 2026 with Mate Vey: Ola Tarn S01. Minutes stay as they are."]
    assert [provider for provider, _, _ in versions(cast)] == ["teacher"]
    again = {**body, "receiver": cast.teacher.pk}
    assert "receiver" in api.post("caseload-hand-overs/effects/", expect=400, **again)["fields"]
    api.post("caseload-hand-overs/", **body)
    assert [provider for provider, _, _ in versions(cast)] == ["teacher", "mate"]


def test_only_a_coordinator_hands_over_and_to_another_teacher(cast: Cast) -> None:
    """A teacher is told that the role doesn't allow it; the same teacher, and nobody to give, are said."""
    with pytest.raises(ApplicationError) as role:
        caseload_hand_over(
            actor=cast.teacher, giver=cast.teacher, receiver=cast.mate, students=[cast.student], from_day=DAY
        )
    assert role.value.status == 403
    for receiver, students, field in (
        (cast.teacher, [cast.student], "receiver"),
        (cast.stranger, [cast.student], "receiver"),
        (cast.mate, [cast.mates_student], "students"),
    ):
        with pytest.raises(ValidationError) as refused:
            caseload_hand_over(
                actor=cast.coordinator, giver=cast.teacher, receiver=receiver, students=students, from_day=DAY
            )
        assert list(refused.value.message_dict) == [field]


def test_the_page_and_the_api_hand_over_and_take_back(cast: Cast) -> None:
    """The page names who goes over before anything is saved."""
    student_enroll(student=cast.student)
    page, address = signed_in(cast.coordinator), reverse("caseload_hand_over")
    values = {"giver": cast.teacher.pk, "teacher": cast.mate.pk, "first_day": DAY.isoformat()}
    told = page.post(address, values).content.decode()
    assert "From December 7, 2026 with Mate Vey: Ola Tarn S01." in told
    assert len(versions(cast)) == 1
    seen = re.search(r'name="effects_seen" value="(\w+)"', told)
    assert seen is not None
    assert page.post(address, {**values, "effects_seen": seen[1]}).status_code == 302
    assert [provider for provider, _, _ in versions(cast)] == ["teacher", "mate"]
    entry = AuditEntry.objects.get(action="caseload_hand_over")
    page.post(reverse("hand_over_take_back", args=[entry.pk]))
    assert [provider for provider, _, _ in versions(cast)] == ["teacher"]

    api = Api(cast.coordinator)
    body: dict[str, Any] = {"giver": cast.teacher.pk, "receiver": cast.mate.pk, "first_day": DAY.isoformat()}
    made = api.post("caseload-hand-overs/", **body)
    assert [provider for provider, _, _ in versions(cast)] == ["teacher", "mate"]
    api.post(f"caseload-hand-overs/{made['id']}/undo/", expect=204)
    assert [provider for provider, _, _ in versions(cast)] == ["teacher"]
    assert Api(cast.teacher).post("caseload-hand-overs/", expect=403, **body)["code"] == "not_for_your_role"
