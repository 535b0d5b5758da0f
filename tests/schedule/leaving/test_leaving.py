"""A teacher leaves, or is away for weeks and comes back. Common practice, no source."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.months.models import LogMonth
from caseload.plans.models import ContinuingService, Plan, ServiceLine, Student
from caseload.plans.services import caseload_assign, caseload_hand_over_undo, plan_renew, service_change
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import Waits, leaving_of
from schedule.leaving.services import leave_arrange, leave_foreseen, leave_last_day_change, leave_take_back
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.assigning.ground import DAY, make_crossed
from tests.schedule.assigning.test_taking_over import WITH_TODAY, on_caseloads, serving
from tests.schedule.weeks.test_week_pages import page
from travel.mileage.models import Trip

ONE_DAY = dt.timedelta(days=1)
LAST = DAY + dt.timedelta(weeks=12) - ONE_DAY
"""Twelve weeks: what the Family and Medical Leave Act grants (29 CFR 825.200, from memory)."""
WITH_MATE = dict.fromkeys(WITH_TODAY, "mate")


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The teacher serves three students and the mate two."""
    return make_crossed(cast)


def arranged(ground: Cast, **values: object) -> TeacherLeave:
    """The teacher is away for twelve weeks, and the mate has everybody."""
    asked = {"first_day": DAY, "last_day": LAST, "receiver": ground.mate, **values}
    return leave_arrange(actor=ground.coordinator, teacher=ground.teacher, **asked)  # type: ignore[arg-type]


def test_students_are_with_the_colleague_and_go_back_by_themselves(ground: Cast) -> None:
    row = arranged(ground)
    assert sorted(one.code for one in row.students.all()) == ["N1", "S1", "S2"]
    assert serving(DAY - ONE_DAY) == serving(LAST + ONE_DAY) == WITH_TODAY
    assert serving(DAY) == serving(LAST) == WITH_MATE
    assert set(on_caseloads(LAST).values()) == {ground.mate.pk}
    assert on_caseloads(LAST + ONE_DAY) == on_caseloads(DAY - ONE_DAY)


def test_who_leaves_for_good_does_not_get_them_back(ground: Cast) -> None:
    row = arranged(ground, last_day=None)
    assert serving(LAST + ONE_DAY) == WITH_MATE
    with pytest.raises(ApplicationError) as caught:
        leave_last_day_change(actor=ground.coordinator, row=row, last_day=LAST)
    assert caught.value.code == "for_good"


@pytest.mark.parametrize("weeks", [-6, 3])
def test_who_comes_back_on_another_day_gets_them_back_then(ground: Cast, weeks: int) -> None:
    row = arranged(ground)
    last = LAST + dt.timedelta(weeks=weeks)
    leave_last_day_change(actor=ground.coordinator, row=row, last_day=last)
    assert serving(last) == WITH_MATE
    assert serving(last + ONE_DAY) == WITH_TODAY
    assert serving(max(last, LAST) + ONE_DAY) == WITH_TODAY
    leave_take_back(actor=ground.coordinator, row=row)
    assert serving(DAY) == serving(LAST) == WITH_TODAY


def test_a_leave_is_taken_back_whole_or_not_at_all(ground: Cast) -> None:
    row = arranged(ground)
    line = ServiceLine.objects.get(plan__student__code="S1", start=DAY)
    values = {"statement": "1 x 30 min/week"}
    service_change(actor=ground.coordinator, row=line, from_day=DAY + ONE_DAY, values=values, seen=None)
    before = serving(DAY)
    with pytest.raises(ApplicationError) as caught:
        leave_take_back(actor=ground.coordinator, row=row)
    assert caught.value.code == "changed_since"
    assert serving(DAY) == before
    assert TeacherLeave.objects.count() == 1


def test_it_is_taken_back(ground: Cast) -> None:
    leave_take_back(actor=ground.coordinator, row=arranged(ground))
    assert serving(DAY) == serving(LAST + ONE_DAY) == WITH_TODAY
    assert not TeacherLeave.objects.exists()
    assert ServiceLine.objects.count() == len(WITH_TODAY)


def test_what_is_not_recorded_anymore_is_refused_in_words(ground: Cast) -> None:
    """The district's rules for keeping records may have taken the entry."""
    row = arranged(ground)
    AuditEntry.objects.filter(pk=row.handed).delete()
    with pytest.raises(ApplicationError, match="isn't kept anymore"):
        leave_take_back(actor=ground.coordinator, row=row)
    assert serving(DAY) == WITH_MATE
    assert serving(LAST + ONE_DAY) == WITH_TODAY
    assert TeacherLeave.objects.count() == 1


def test_another_last_day_of_what_is_not_recorded_anymore_is_refused_in_words(ground: Cast) -> None:
    row = arranged(ground)
    AuditEntry.objects.filter(pk=row.handed).delete()
    with pytest.raises(ApplicationError, match="isn't kept anymore"):
        leave_last_day_change(actor=ground.coordinator, row=row, last_day=LAST + ONE_DAY)
    assert serving(LAST + ONE_DAY) == WITH_TODAY


def test_two_colleagues_share_the_students(ground: Cast) -> None:
    """Some to one, then the rest: whoever is with the teacher still on that day."""
    some = list(Student.objects.filter(code="N1"))
    arranged(ground, students=some)
    assert serving(DAY) == {**WITH_TODAY, "N1": "mate"}
    found = leaving_of(ground.coordinator, ground.teacher, DAY)
    assert found.still == 2
    arranged(ground)
    assert serving(DAY) == WITH_MATE
    assert leaving_of(ground.coordinator, ground.teacher, DAY).still == 0
    with pytest.raises(ValidationError, match="Nobody is left to hand over"):
        arranged(ground)
    with pytest.raises(ValidationError, match="Not all of these students are with the teacher"):
        arranged(ground, students=some)
    # Each leave is taken back by itself, and nobody is lost in between.
    for row in TeacherLeave.objects.all():
        leave_take_back(actor=ground.coordinator, row=row)
    assert serving(DAY) == serving(LAST + ONE_DAY) == WITH_TODAY


def test_it_is_shown_first_and_nothing_is_saved_by_that(ground: Cast) -> None:
    entries = AuditEntry.objects.count()
    asked = {"teacher": ground.teacher, "receiver": ground.mate, "first_day": DAY, "last_day": LAST}
    told = leave_foreseen(actor=ground.coordinator, **asked)  # type: ignore[arg-type]
    assert told[0] == "From October 5, 2026 3 students of Teacher Vey are with Mate Vey."
    assert told[1] == "From December 28, 2026 they are with Teacher Vey again."
    assert serving(DAY) == WITH_TODAY
    assert AuditEntry.objects.count() == entries


@pytest.mark.parametrize("values", [{"last_day": DAY - ONE_DAY}, {"receiver": None}])
def test_what_cannot_be_is_refused(ground: Cast, values: dict[str, object]) -> None:
    """A last day before the first, and the teacher as the colleague."""
    asked = {name: ground.teacher if value is None else value for name, value in values.items()}
    with pytest.raises(ValidationError, match=r"The last day away is before|Choose another teacher"):
        arranged(ground, **asked)
    assert not TeacherLeave.objects.exists()


def test_only_a_coordinator_arranges_it(ground: Cast) -> None:
    with pytest.raises(ApplicationError) as caught:
        leave_arrange(actor=ground.teacher, teacher=ground.teacher, receiver=ground.mate, first_day=DAY)
    assert caught.value.status == 403


def test_what_waits_is_counted_and_led_to(ground: Cast) -> None:
    """A drive of September on no voucher; the month's log has nothing in it yet."""
    Trip.objects.create(
        district=ground.district,
        teacher=ground.teacher,
        key="one",
        date=DAY - ONE_DAY,
        direct_miles=Decimal(3),
        destination=ground.north,
    )
    found = leaving_of(ground.coordinator, ground.teacher, DAY)
    assert [(one.about, one.count, one.month) for one in found.before if one.about is Waits.VOUCHER] == [
        (Waits.VOUCHER, 1, dt.date(2026, 10, 1))
    ]
    assert Waits.MONTH not in {one.about for one in found.before}
    assert not LogMonth.objects.exists()
    text = page(ground.coordinator, "leaving_teacher", ground.teacher.pk, first_day=DAY.isoformat())
    assert "Drives of October 2026 are on no voucher" in text
    assert "3 students are with Teacher Vey still" in text


def test_the_page_shows_saves_changes_and_takes_back(ground: Cast) -> None:
    client = signed_in(ground.coordinator)
    address = reverse("leaving_teacher", args=[ground.teacher.pk]) + f"?first_day={DAY}"
    values = {"first_day": str(DAY), "last_day": str(LAST), "receiver": str(ground.mate.pk)}
    first = client.post(address, values)
    assert "From October 5, 2026 3 students of Teacher Vey are with Mate Vey." in first.content.decode()
    assert serving(DAY) == WITH_TODAY
    seen = first.context["effects_seen"]
    saved = client.post(address, {**values, "effects_seen": seen}, follow=True).content.decode()
    assert "arranged. You can take it back on this page." in saved
    assert serving(DAY) == WITH_MATE
    assert "Teacher Vey is away, October 5, 2026 to December 27, 2026" in page(ground.coordinator, "leaving")
    row = TeacherLeave.objects.get()
    sooner = LAST - dt.timedelta(weeks=2)
    change = reverse("leave_last_day", args=[row.pk])
    asked = client.post(change, {"last_day": str(sooner)})
    assert "From December 14, 2026 they are with Teacher Vey again." in asked.content.decode()
    assert serving(sooner + ONE_DAY) == WITH_MATE
    seen = asked.context["arranged"][0][1].effects_seen
    client.post(change, {"last_day": str(sooner), "effects_seen": seen})
    assert serving(sooner + ONE_DAY) == WITH_TODAY
    refused = client.post(change, {"last_day": str(DAY - ONE_DAY)})
    assert refused.status_code == 422
    assert "The last day away is before the first." in refused.content.decode()
    back = client.post(reverse("leave_take_back", args=[row.pk]), follow=True).content.decode()
    assert "Taken back" in back
    assert serving(DAY) == WITH_TODAY
    page(ground.teacher, "leaving", status=403)


def test_a_refusal_stands_at_its_field(ground: Cast) -> None:
    client = signed_in(ground.coordinator)
    address = reverse("leaving_teacher", args=[ground.teacher.pk]) + f"?first_day={DAY}"
    values = {"first_day": str(DAY), "last_day": str(DAY - ONE_DAY), "receiver": str(ground.mate.pk)}
    answer = client.post(address, values)
    assert answer.status_code == 422
    assert "The last day away is before the first." in answer.content.decode()


def test_the_api_does_what_the_page_does(ground: Cast) -> None:
    api = Api(ground.coordinator)
    asked: dict[str, Any] = {"teacher": ground.teacher.pk, "receiver": ground.mate.pk}
    asked |= {"first_day": str(DAY), "last_day": str(LAST)}
    assert len(api.post("leaves/effects/", expect=200, **asked)["effects"]) == 3
    waiting = api.post("leaves/waiting/", expect=200, teacher=ground.teacher.pk, first_day=str(DAY))
    assert waiting["still"] == 3
    made = api.post("leaves/", **asked)
    assert len(made["students"]) == 3
    assert serving(DAY) == WITH_MATE
    sooner = LAST - dt.timedelta(weeks=2)
    effects = api.post(f"leaves/{made['id']}/last-day-effects/", expect=200, last_day=str(sooner))["effects"]
    assert effects == ["From December 14, 2026 they are with Teacher Vey again."]
    assert serving(sooner + ONE_DAY) == WITH_MATE
    assert api.post(f"leaves/{made['id']}/last-day/", expect=200, last_day=str(sooner))["last_day"] == str(sooner)
    assert serving(sooner + ONE_DAY) == WITH_TODAY
    api.delete(f"leaves/{made['id']}/")
    assert serving(DAY) == WITH_TODAY
    Api(ground.teacher).post("leaves/", expect=403, **asked)
    Api(ground.teacher).get("leaves/", expect=403)


def test_what_the_colleague_had_of_a_student_before_stays(ground: Cast) -> None:
    """S1 is on the mate's caseload, who gives a service of their own; the teacher gives the other one."""
    student = Student.objects.get(code="S1")
    caseload_assign(actor=ground.coordinator, student=student, teacher=ground.mate, from_day=DAY - ONE_DAY)
    theirs = ServiceLine.objects.get(plan__student=student)
    own = ServiceLine.objects.get(pk=theirs.pk)
    own.pk, own.service, own.provider = None, ContinuingService.objects.create(student=student), ground.mate
    own.save()

    def providers(service: int, day: dt.date) -> list[str]:
        rows = ServiceLine.objects.filter(service=service, start__lte=day, end__gte=day)
        return list(rows.values_list("provider__username", flat=True))

    row = arranged(ground)
    assert providers(theirs.service_id, LAST) == ["mate"]
    back = LAST + ONE_DAY
    for last in (LAST, LAST - dt.timedelta(weeks=2)):
        leave_last_day_change(actor=ground.coordinator, row=row, last_day=last)
        assert providers(theirs.service_id, back) == ["teacher"]
        assert providers(own.service_id, back) == ["mate"]
        assert on_caseloads(back)["S1"] == ground.mate.pk
    leave_take_back(actor=ground.coordinator, row=row)
    assert providers(theirs.service_id, DAY) == ["teacher"]
    assert providers(own.service_id, DAY) == ["mate"]


def way_back(row: TeacherLeave) -> AuditEntry:
    """The entry of a leave's hand-over back."""
    assert row.returned is not None
    return AuditEntry.objects.get(pk=row.returned)


def test_a_way_back_that_was_taken_back_elsewhere_can_be_mended(ground: Cast) -> None:
    """The page of hand-overs lists those of a leave, too."""
    row = arranged(ground)
    caseload_hand_over_undo(actor=ground.coordinator, entry=way_back(row))
    assert serving(LAST + ONE_DAY) == WITH_MATE
    leave_last_day_change(actor=ground.coordinator, row=row, last_day=LAST - ONE_DAY)
    assert serving(LAST) == WITH_TODAY
    caseload_hand_over_undo(actor=ground.coordinator, entry=way_back(row))
    leave_take_back(actor=ground.coordinator, row=row)
    assert serving(DAY) == serving(LAST + ONE_DAY) == WITH_TODAY
    assert not TeacherLeave.objects.exists()


def test_what_is_renewed_meanwhile_goes_back_once_the_last_day_is_saved_again(ground: Cast) -> None:
    """A plan ends within the leave: nothing of it is there on the day of coming back, and that is said."""
    end = DAY + dt.timedelta(weeks=4)
    Plan.objects.filter(student__code="S1").update(end=end)
    ServiceLine.objects.filter(plan__student__code="S1").update(end=end)
    asked = {"teacher": ground.teacher, "receiver": ground.mate, "first_day": DAY, "last_day": LAST}
    told = leave_foreseen(actor=ground.coordinator, **asked)  # type: ignore[arg-type]
    assert told[2].startswith("1 service ends before that. What is renewed in the meantime is with Mate Vey")
    row = arranged(ground)
    plan_renew(actor=ground.coordinator, row=Plan.objects.get(student__code="S1"), values={})
    assert serving(LAST + ONE_DAY) == {**WITH_TODAY, "S1": "mate"}
    leave_last_day_change(actor=ground.coordinator, row=row, last_day=LAST)
    assert serving(LAST + ONE_DAY) == WITH_TODAY
