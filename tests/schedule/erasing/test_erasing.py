"""What is listed, what holds records back, and how a list is carried out."""

import datetime as dt
import io
from collections.abc import Callable

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from caseload.access.models import Access
from caseload.delivery.models import CompensatoryTime, DeliveryEntry
from caseload.months.models import LogMonth
from caseload.plans.models import Enrollment, Plan, Student
from caseload.retention.models import ErasedRows, ErasureHold, ErasureRun, ParentsWord, PermanentRecord
from jobs.models import Job
from jobs.runner import run_job
from schedule.closing.content import digest_of
from schedule.closing.selectors import month_view
from schedule.erasing.listing import listing_from_json
from schedule.erasing.services import runs
from schedule.erasing.services.runs import erasure_confirm, erasure_list
from tests.conftest import Cast, date_there
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.closing.test_closing import close, sign
from tests.schedule.erasing.builders import LEFT_ON, erase, has_left, keep_years, listed, parents_said
from tests.schedule.log_builders import log_line
from travel.mileage.models import Trip, Voucher

pytestmark = pytest.mark.django_db


def going(run: ErasureRun) -> list[tuple[int, str]]:
    """Student and kind of what goes."""
    return [(one.student, one.kind) for one in listing_from_json(run.listed).students]


def staying(run: ErasureRun) -> list[tuple[str, ...]]:
    """Why what is due stays."""
    return [one.why for one in listing_from_json(run.listed).stays]


def code_of(act: Callable[[], object]) -> str:
    """The code by which something is refused."""
    with pytest.raises(ApplicationError) as error:
        act()
    return error.value.code


@pytest.fixture
def left(cast: Cast) -> Cast:
    """The teacher's student left long ago, the district keeps five years, parents were told."""
    has_left(cast.student)
    keep_years(cast)
    parents_said(cast.student)
    return cast


def test_without_a_rule_nothing_is_listed(cast: Cast) -> None:
    """However long ago the student left: the district has decided nothing."""
    has_left(cast.student)
    parents_said(cast.student)
    assert listing_from_json(listed(cast).listed).is_empty


def test_the_years_are_over_on_their_day_and_not_before(left: Cast) -> None:
    """34 CFR names no number of years: the five are the district's. Left June 20, 2019: due on June 20, 2024."""
    assert going(listed(left, as_of=dt.date(2024, 6, 19))) == []
    assert going(listed(left, as_of=dt.date(2024, 6, 20))) == [(left.student.pk, "students")]


def test_who_came_back_is_not_due(left: Cast) -> None:
    """A stay without a last day goes on."""
    Enrollment.objects.create(student=left.student, building=left.north, grade="8", first_day=dt.date(2024, 9, 3))
    assert going(listed(left)) == []


def test_services_that_ended_may_count_instead(cast: Cast) -> None:
    """By the last day of the last service; whoever has a later one isn't due."""
    has_left(cast.student)
    Student.objects.update(last_day=None)
    keep_years(cast, counts_from="exited")
    parents_said(cast.student)
    assert going(listed(cast)) == [(cast.student.pk, "students")]
    make_line(cast, "S03")
    assert going(listed(cast)) == [(cast.student.pk, "students")]


def _hold(cast: Cast) -> None:
    ErasureHold.objects.create(
        student=cast.student, reason="litigation", words="Case 12", first_day=date_there() - dt.timedelta(days=9)
    )


def _owe(cast: Cast) -> None:
    CompensatoryTime.objects.create(
        student=cast.student, minutes=60, decided_by="Team", decided_on=LEFT_ON, until=LEFT_ON,
        recorded_by=cast.teacher,
    )  # fmt: skip


def _close_another_month(cast: Cast) -> None:
    log_line(cast, LEFT_ON - dt.timedelta(days=30))
    LogMonth.objects.create(
        district=cast.district, teacher=cast.mate, month=dt.date(2019, 1, 1), status=LogMonth.Status.CLOSED
    )


def _forget_parents(cast: Cast) -> None:
    ParentsWord.objects.filter(student=cast.student).delete()


@pytest.mark.parametrize(
    ("reason", "why"),
    [(_hold, "hold"), (_owe, "compensatory"), (_close_another_month, "month"), (_forget_parents, "parents")],
)
def test_what_holds_records_back(left: Cast, reason: Callable[[Cast], None], why: str) -> None:
    """Each by itself; the list says which, and nothing of the student goes. Parents: 34 CFR 300.624(a)."""
    reason(left)
    run = listed(left)
    assert (going(run), staying(run)) == ([], [(why,)])
    assert code_of(lambda: erase(left, run)) == "nothing"


def test_a_hold_that_is_over_holds_nothing_back(left: Cast) -> None:
    """Its last day was yesterday; one whose last day is today still holds."""
    _hold(left)
    ErasureHold.objects.update(last_day=date_there())
    assert going(listed(left)) == []
    ErasureHold.objects.update(last_day=date_there() - dt.timedelta(days=1))
    assert going(listed(left)) == [(left.student.pk, "students")]


def test_a_list_erases_nothing_and_only_its_own_digest_does(left: Cast) -> None:
    """Neither making it, nor another digest, nor the same after something changed; nor twice; nor another role."""
    run = listed(left)
    assert Student.objects.filter(pk=left.student.pk).exists()

    def confirm(digest: str, actor: Person = left.coordinator) -> ErasureRun:
        return erasure_confirm(actor=actor, run=run, digest=digest)

    assert code_of(lambda: confirm("0" * 64)) == "changed_since"
    assert code_of(lambda: confirm(run.digest, left.teacher)) == "not_for_your_role"
    assert code_of(lambda: confirm(run.digest, left.stranger)) == "not_found"
    _hold(left)
    assert code_of(lambda: confirm(run.digest)) == "changed_since"
    ErasureHold.objects.all().delete()
    Plan.objects.create(student=left.student, start=LEFT_ON, end=LEFT_ON)
    assert code_of(lambda: confirm(run.digest)) == "changed_since"
    assert Job.objects.count() == 0
    again = listed(left)
    erasure_confirm(actor=left.coordinator, run=again, digest=again.digest)
    assert code_of(lambda: erasure_confirm(actor=left.coordinator, run=again, digest=again.digest)) == (
        "already_confirmed"
    )


def test_looking_at_the_list_doesn_t_change_it(left: Cast) -> None:
    """Each look is recorded with the student; the list is the same one afterward."""
    run = listed(left)
    browser = Client()
    browser.force_login(left.coordinator)
    page = browser.get(reverse("erasure_list", args=[run.pk])).content.decode()
    assert left.student.full_name in page
    assert Access.objects.filter(students=left.student).exists()
    assert erase(left, run).ended_at is not None
    page = browser.get(reverse("erasure_list", args=[run.pk])).content.decode()
    assert f"(number {left.student.pk})" in page
    assert left.student.full_name not in page


def test_what_came_up_after_the_confirmation_is_held_back(left: Cast) -> None:
    """A hold that is entered while the work waits; the list says so, and the student is there."""
    run = listed(left)
    confirmed = erasure_confirm(actor=left.coordinator, run=run, digest=run.digest)
    _hold(left)
    assert confirmed.job_id is not None
    assert run_job(confirmed.job_id)
    confirmed.refresh_from_db()
    assert Student.objects.filter(pk=left.student.pk).exists()
    assert [(one["student"], one["why"]) for one in confirmed.kept] == [(left.student.pk, ["hold"])]
    assert not ErasedRows.objects.exists()


def test_an_interruption_loses_and_doubles_nothing(left: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Killed after the first of two students: that one is gone and recorded, the other goes with the next try."""
    other = make_line(left, "S03").plan.student
    has_left(other)
    parents_said(other)
    run = listed(left)
    confirmed = erasure_confirm(actor=left.coordinator, run=run, digest=run.digest)

    class KilledError(Exception):
        """As if the worker had gone."""

    done: list[int] = []

    def keep(write: Callable[[], object]) -> None:
        if done:
            raise KilledError
        write()
        done.append(1)

    with pytest.raises(KilledError):
        runs.erasure_work(run=confirmed, keep=keep, report=lambda told: None)
    assert [one.student_number for one in ErasedRows.objects.all()] == [left.student.pk]
    assert confirmed.job_id is not None
    assert run_job(confirmed.job_id)
    assert [one.student_number for one in ErasedRows.objects.all()] == [left.student.pk, other.pk]
    assert not Student.objects.filter(pk__in=[left.student.pk, other.pk]).exists()


def test_parts_of_a_record_go_alone(left: Cast) -> None:
    """Services and log after five years, the rest of the record after ten: the student stays, without them."""
    log_line(left, LEFT_ON - dt.timedelta(days=30))
    keep_years(left, years=10, first_day=dt.date(2016, 7, 1))
    keep_years(left, "plans", years=5)
    run = listed(left)
    assert going(run) == [(left.student.pk, "plans")]
    erase(left, run)
    assert Student.objects.filter(pk=left.student.pk).exists()
    assert not Plan.objects.filter(student=left.student).exists()
    assert not DeliveryEntry.objects.filter(student=left.student).exists()
    assert going(listed(left)) == []


def test_at_the_parents_request(cast: Cast) -> None:
    """34 CFR 300.624(b): without any rule; while services go on they stay; the permanent record is kept."""
    parents_said(cast.student, "asked")
    run = listed(cast, student=cast.student)
    assert staying(run) == [("served",)]
    has_left(cast.student, date_there() - dt.timedelta(days=20))
    erase(cast, listed(cast, student=cast.student))
    assert not Student.objects.filter(pk=cast.student.pk).exists()
    assert PermanentRecord.objects.get().code == "S01"
    assert AuditEntry.objects.filter(action="erasure_confirm", actor=cast.coordinator).exists()


def test_a_closed_month_says_that_rows_were_erased(cast: Cast) -> None:
    """Its SHA-256 is that of what was closed, nothing differs, and the page says whose log isn't there anymore."""
    make_ground(cast)
    log_line(cast, date(0))
    sign(cast)
    close(cast)
    has_left(cast.student)
    keep_years(cast)
    parents_said(cast.student)
    erase(cast, listed(cast))
    view = month_view(cast.teacher, dt.date(2026, 9, 1), dt.date(2026, 10, 5))
    assert view.kept is not None
    assert digest_of(view.kept.content) == view.kept.digest
    assert (view.since, view.is_stale, view.erased_sessions) == ((), False, 1)
    browser = Client()
    browser.force_login(cast.coordinator)
    page = browser.get(reverse("log_month", args=[cast.teacher.pk, "2026-09"])).content.decode()
    assert "1 session of students whose records were erased" in page


def test_mileage_goes_by_the_month_once_it_is_paid(cast: Cast) -> None:
    """26 CFR 31.6001-1(e)(2) has employment tax records kept at least four years after the tax is due or paid."""
    of = {"district": cast.district, "teacher": cast.teacher}
    trip = {"origin": cast.north, "destination": cast.south, **of}
    for key, day in (("a", dt.date(2019, 3, 4)), ("b", dt.date(2019, 4, 4)), ("c", dt.date(2019, 5, 4))):
        Trip.objects.create(key=key, date=day, status=Trip.Status.CONFIRMED, **trip)
    sent = {"submitted_by": cast.teacher, "submitted_at": timezone.now(), **of}
    Voucher.objects.create(month=dt.date(2019, 3, 1), status="paid", **sent)
    Voucher.objects.create(month=dt.date(2019, 4, 1), status="approved", **sent)
    keep_years(cast, "mileage", 4)
    run = listed(cast)
    kind = listing_from_json(run.listed).kinds[0]
    assert kind.tables == {"travel.trip": 1, "travel.voucher": 1}
    assert kind.stays == {"unpaid": 3}
    erase(cast, run)
    assert sorted(Trip.objects.values_list("key", flat=True)) == ["b", "c"]
    assert [one.month for one in Voucher.objects.all()] == [dt.date(2019, 4, 1)]


def test_who_saw_what_stays_with_the_records(cast: Cast) -> None:
    """34 CFR 99.32(a)(2): the record of disclosures is kept as long as the education record."""
    long_ago = timezone.now() - dt.timedelta(days=3000)
    about = Access.objects.create(district=cast.district, person=cast.mate, kind="file", at=long_ago, count=1)
    about.students.add(cast.student)
    signed_in = Access.objects.create(district=cast.district, person=cast.mate, kind="signed_in", at=long_ago)
    nobody = Access.objects.create(district=cast.district, person=cast.mate, kind="file", at=long_ago)
    keep_years(cast, "accesses", 3)
    keep_years(cast, "sign_ins", 1)
    erase(cast, listed(cast))
    assert list(Access.objects.all()) == [about]
    assert not Access.objects.filter(pk__in=[signed_in.pk, nobody.pk]).exists()


def test_the_command_lists_by_code_and_erases_by_digest(left: Cast) -> None:
    """No name on the terminal; what isn't confirmed by its digest stays."""
    said = io.StringIO()
    call_command("erase_records", "coordinator", stdout=said)
    assert "goes   S01, " in said.getvalue()
    assert left.student.last_name not in said.getvalue()
    with pytest.raises(CommandError, match="No list that waits has this digest"):
        call_command("erase_records", "coordinator", confirm="0" * 64, stdout=said)
    with pytest.raises(CommandError, match="no such coordinator"):
        call_command("erase_records", "teacher", stdout=said)
    digest = said.getvalue().strip().rpartition(" ")[2]
    call_command("erase_records", "coordinator", confirm=digest, stdout=said)
    assert run_job(Job.objects.get(kind="erase_records").pk)
    assert not Student.objects.filter(pk=left.student.pk).exists()


def test_a_later_day_is_refused(left: Cast) -> None:
    """What isn't over yet can't be counted from; another district's student isn't there."""
    tomorrow = date_there() + dt.timedelta(days=1)
    assert code_of(lambda: listed(left, as_of=tomorrow)) == "later"
    assert code_of(lambda: erasure_list(actor=left.stranger, student=left.student)) == "not_found"
