"""After erasing nothing of a student is left anywhere: every table and every column is searched."""

import datetime as dt
import uuid
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.utils import timezone

from accounts.models import AuditEntry
from caseload.access.models import Access
from caseload.care.models import Caution, Contact, Support
from caseload.care.services import caution_save, contact_save, support_save
from caseload.delivery.models import CompensatoryTime, DeliveryEntry
from caseload.plans.models import Student
from caseload.plans.services import student_save
from caseload.retention.models import ErasedRows, PermanentRecord
from jobs.models import Job
from schedule.erasing.services.texts import district_paths
from schedule.feeds.models import Feed, FeedBody, FeedItem
from schedule.feeds.services.feeds import feed_add
from schedule.imports.models import ImportBatch
from schedule.imports.services.tables import import_commit, import_preview
from schedule.notices.models import EarlierDay, Notice
from schedule.reports.models import StoredReport
from schedule.telling.models import ProgressReport, ReportSentence
from schedule.weeks.models import PlannedSession, WeekPlan
from tests.config.things import make_things
from tests.conftest import Cast, make_student
from tests.schedule.erasing.builders import erase, has_left, keep_years, listed, parents_said, tables_with

pytestmark = pytest.mark.django_db

FIRST, LAST, CODE = "Zéphyrine", "Okonjo-Vanterpool", "ZOV-77"
FULL = f"{FIRST} {LAST}"
WRITTEN = "walks backward through the gym door"
PLANTED = (FIRST, LAST, WRITTEN, CODE)


@pytest.fixture
def cast() -> Cast:
    """Everything of every kind, with a student whose name and words stand in all of it."""
    things = make_things()
    cast = things.cast
    student = cast.student
    student_save(actor=cast.teacher, row=student, values={"first_name": FIRST, "last_name": LAST, "code": CODE})
    _about_the_student(cast)
    _elsewhere(cast)
    _imported(cast)
    return cast


def _about_the_student(cast: Cast) -> None:
    student = cast.student
    support_save(actor=cast.teacher, row=Support(student=student), values={"text": WRITTEN})
    caution_save(actor=cast.teacher, row=Caution(student=student), values={"text": f"{FIRST} {WRITTEN}"})
    contact_save(
        actor=cast.teacher,
        row=Contact(student=student),
        values={"role": "nurse", "name": FULL, "phone": "555-0142"},
    )
    report = ProgressReport.objects.filter(student=student).first()
    assert report is not None
    ReportSentence.objects.create(
        report=report, position=90, audience="team", topic="goal", drafted=FULL, text=WRITTEN
    )
    ProgressReport.objects.filter(pk=report.pk).update(content={"title": FULL, "lines": [WRITTEN]})


def _elsewhere(cast: Cast) -> None:
    """Rows about something else that name the student."""
    district, now = cast.district, timezone.now()
    Support.objects.create(
        student=cast.mates_student, kind="apart", other_student=cast.student, text=f"Not with {FULL}"
    )
    Access.objects.create(district=district, person=cast.mate, kind="file", why=f"For {LAST}, {FIRST}")
    Contact.objects.create(school_class=cast.room4, role="aide", name="Una Brack", note=f"Walks {FULL} to the bus")
    Notice.objects.create(
        district=district, teacher=cast.teacher, person=cast.teacher, key="k2", channel=Notice.Channel.MAIL,
        subject=f"{FULL} is absent", body=f"8:30 {FULL.upper()}", state=Notice.State.SENT, next_try=now,
        made_at=now,
    )  # fmt: skip
    EarlierDay.objects.create(
        teacher=cast.teacher, date=dt.date(2026, 9, 14), content={"sessions": [{"who": FULL}]}, until=now
    )
    job = Job.objects.create(kind="district_report", district_number=district.pk, error=f"Not for {FULL}")
    StoredReport.objects.create(
        district=district,
        as_of=dt.date(2026, 9, 30),
        job=job,
        requested_by=cast.coordinator,
        requested_at=now,
        content={"tables": [{"rows": [[FULL, CODE, 30]]}], FULL: 1},
    )
    WeekPlan.objects.update(changes=[f"{cast.student.marked_code} moves to 9:20"])
    feed, address = feed_add(
        actor=cast.teacher, kind="teacher", site="http://testserver", names_confirmed=True,
        values={"label": f"Days of {FULL}", "students": "names"},
    )  # fmt: skip
    assert Client().get(address.removeprefix("http://testserver")).status_code == 200
    FeedItem.objects.create(
        feed=feed, uid=str(uuid.uuid4()), changed_at=now, first_date=dt.date(2026, 9, 21),
        last_date=dt.date(2026, 9, 21), content={"summary": FULL},
    )  # fmt: skip
    FeedBody.objects.filter(feed=feed).update(content=f"SUMMARY:{FULL}".encode())


def _imported(cast: Cast) -> None:
    """One import that was saved and changed the student, and one that nobody saved."""
    head = "Student code,First name,Last name,Grade,Building code\n"
    saved = f"{head}{CODE},{FIRST},{LAST},4,NORTH\n".encode()
    batch = import_preview(actor=cast.teacher, kind="students", filename=f"{FULL}.csv", content=saved)
    assert import_commit(actor=cast.teacher, batch=batch).state == ImportBatch.State.COMMITTED
    waits = f"{head}{CODE},{FIRST},{LAST},5,NORTH\n".encode()
    import_preview(actor=cast.teacher, kind="students", filename="again.csv", content=waits)


def _due(cast: Cast, **values: Any) -> None:
    """Nothing holds the records back: what a team gave was given, no month is closed."""
    CompensatoryTime.objects.filter(student=cast.student, entries__isnull=True).delete()
    has_left(cast.student)
    keep_years(cast, **values)
    parents_said(cast.student)


def test_the_planted_texts_are_found_before(cast: Cast) -> None:
    """The search sees each of the places: else finding nothing afterward would mean nothing."""
    found = tables_with(*PLANTED)
    assert {
        "accounts_auditentry", "caseload_access", "caseload_caution", "caseload_contact", "caseload_student",
        "caseload_support", "jobs_job", "schedule_earlierday", "schedule_feed", "schedule_feedbody",
        "schedule_feeditem", "schedule_importbatch", "schedule_importedrow", "schedule_notice",
        "schedule_progressreport", "schedule_reportsentence", "schedule_storedreport", "schedule_weekplan",
    } <= set(found)  # fmt: skip


def test_nothing_of_the_student_is_left_anywhere(cast: Cast) -> None:
    """Neither name, code nor words, in no column of no table; rows about others are there, without the name."""
    _due(cast, keeps_permanent=False)
    number, others = cast.student.pk, Student.objects.exclude(pk=cast.student.pk).count()
    run = erase(cast, listed(cast))
    assert run.ended_at is not None
    assert tables_with(*PLANTED) == {}
    assert not Student.objects.filter(pk=number).exists()
    assert Student.objects.count() == others
    assert Notice.objects.get(key="k2").subject == "[erased] is absent"
    assert Feed.objects.filter(label="Days of [erased]").exists()
    assert StoredReport.objects.get().content["tables"] == [{"rows": [["[erased]", "[erased]", 30]]}]
    assert Contact.objects.get(school_class=cast.room4, name="Una Brack").note == "Walks [erased] to the bus"
    assert PlannedSession.objects.exists()
    assert not DeliveryEntry.objects.filter(student=number).exists()


def test_who_changed_what_is_still_known(cast: Cast) -> None:
    """Of the history who and when stay, and that it was erased by which list; what it said doesn't."""
    _due(cast, keeps_permanent=False)
    entries = AuditEntry.objects.filter(model="caseload.caution", action="caution_save")
    before = [(one.pk, one.actor_id, one.at) for one in entries]
    run = erase(cast, listed(cast))
    assert before
    assert [(one.pk, one.actor_id, one.at) for one in entries.all()] == before
    assert {str(one.changes) for one in entries.all()} == {str({"erased": [None, run.pk]})}
    record = ErasedRows.objects.get(run=run)
    assert (record.kind, record.student_number) == ("students", cast.student.pk)
    assert record.tables["caseload.caution"] >= 1


def test_the_permanent_record_is_the_only_one_left(cast: Cast) -> None:
    """34 CFR 300.624(b): name, classes attended, grade level and year completed may be kept without time limit."""
    _due(cast)
    erase(cast, listed(cast))
    assert set(tables_with(*PLANTED)) == {"caseload_permanentrecord"}
    kept = PermanentRecord.objects.get(code=CODE)
    assert (kept.first_name, kept.last_name, kept.grade) == (FIRST, LAST, "4")


def test_another_student_of_the_same_name_keeps_it(cast: Cast) -> None:
    """A message may be about either: then the name stays in texts, and only the code goes."""
    namesake = make_student(cast.district, cast.north, cast.mate, "S09")
    Student.objects.filter(pk=namesake.pk).update(first_name=FIRST, last_name=LAST)
    _due(cast, keeps_permanent=False)
    erase(cast, listed(cast))
    assert Notice.objects.get(key="k2").subject == f"{FULL} is absent"
    assert Student.objects.get(pk=namesake.pk).full_name == FULL


def test_another_district_is_left_alone(cast: Cast) -> None:
    """A student of the same name elsewhere, with a message about them."""
    now = timezone.now()
    Notice.objects.create(
        district=cast.other_district, teacher=cast.stranger, person=cast.stranger, key="k3", body=FULL,
        channel=Notice.Channel.MAIL, subject=FULL, state=Notice.State.SENT, next_try=now, made_at=now,
    )  # fmt: skip
    _due(cast, keeps_permanent=False)
    erase(cast, listed(cast))
    assert Notice.objects.get(key="k3").subject == FULL


def test_every_table_with_texts_has_a_way_to_its_district() -> None:
    """But for those of libraries, which know no students, and addresses of calendars that ended: digests."""
    labels = {one._meta.label for one in apps.get_models() if not district_paths(one)}
    ours = {one for one in labels if one.partition(".")[0] not in {"auth", "axes", "contenttypes", "sessions"}}
    assert ours == {"accounts.District", "schedule.FormerAddress"}
