"""Files of many rows: checked and saved by a job, with pages and an API that say how far it is."""

from contextlib import nullcontext

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, connection
from django.test import Client
from django.urls import reverse

from accounts.models import Person, PersonRole
from caseload.care.models import Support
from caseload.care.services import support_save
from caseload.plans.models import Student
from caseload.plans.services import student_save
from jobs.models import Job
from jobs.runner import run_job
from jobs.services import job_claim, job_fail, job_report
from schedule.imports.models import ImportBatch
from schedule.imports.rows.rehearse import shadows_of
from schedule.imports.services.work import MOST_AT_ONCE
from tests.api import Api
from tests.conftest import Cast
from travel.places.models import Building

ROWS = MOST_AT_ONCE + 1
HEADERS = "Student code,First name,Last name,Grade,Building code"


def table(*more: str) -> bytes:
    """A file of students of more rows than are checked at once."""
    return "\n".join([HEADERS, *(f"N{n},Ola,Tarn,3,NORTH" for n in range(ROWS - len(more))), *more]).encode()


@pytest.fixture
def teacher(cast: Cast) -> Client:
    """The teacher's browser."""
    client = Client()
    client.force_login(cast.teacher)
    return client


def send(client: Client, content: bytes) -> tuple[str, ImportBatch]:
    """Send it on its page; where the import is looked at, and its row."""
    file = SimpleUploadedFile("a.csv", content)
    answer = client.post(reverse("import_upload", args=["students"]), {"file": file})
    assert answer.status_code == 302
    return answer["Location"], ImportBatch.objects.get()


def work(batch: ImportBatch) -> ImportBatch:
    """Let the worker do what was asked for."""
    batch.refresh_from_db()
    assert batch.job is not None
    run_job(batch.job.pk)
    batch.refresh_from_db()
    return batch


def test_the_page_shows_how_far_the_check_is(cast: Cast, teacher: Client) -> None:
    """Waiting, then so many rows, then the preview, to which a page that stands open goes by itself."""
    page, batch = send(teacher, table())
    assert "Waiting for a free worker" in teacher.get(page).content.decode()
    assert "Being checked" in teacher.get(reverse("import_home")).content.decode()
    assert batch.job is not None
    claim = job_claim(job_id=batch.job.pk)
    assert claim is not None
    job_report(claim=claim, progress={"done": 40, "total": ROWS})
    part = teacher.get(page, headers={"HX-Request": "true"}).content.decode()
    assert f"40 of {ROWS} rows" in part
    assert "<html" not in part
    Job.objects.update(state=Job.State.WAITING)
    work(batch)
    assert teacher.get(page, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    assert "Save all of it" in teacher.get(page).content.decode()
    assert not Student.objects.filter(code="N1").exists()


def test_what_was_checked_is_saved_at_once_and_undone(cast: Cast, teacher: Client) -> None:
    """Nobody changed the district since: no second check."""
    page, batch = send(teacher, table())
    work(batch)
    done = teacher.post(reverse("import_commit", args=[batch.pk]), follow=True).content.decode()
    assert "Undo this import" in done
    assert Student.objects.filter(code__startswith="N").count() == ROWS
    assert Student.objects.get(code="N1").caseload_teacher == cast.teacher
    teacher.post(reverse("import_undo", args=[batch.pk]))
    assert not Student.objects.filter(code__startswith="N").exists()
    assert "Undone" in teacher.get(page).content.decode()


def test_what_was_changed_since_is_checked_again_before_it_is_saved(cast: Cast, teacher: Client) -> None:
    """By a job, whose page says why; it saves what is still right."""
    page, batch = send(teacher, table())
    work(batch)
    support_save(actor=cast.coordinator, row=Support(student=cast.student), values={"text": "Walker"})
    shown = teacher.post(reverse("import_commit", args=[batch.pk]), follow=True).content.decode()
    assert "Somebody has changed the district" in shown
    again = teacher.post(reverse("import_commit", args=[batch.pk]))
    assert again.status_code == 409, "a second press must not begin a second saving"
    assert teacher.post(reverse("import_cancel", args=[batch.pk])).status_code == 409
    assert work(batch).state == ImportBatch.State.COMMITTED
    assert Student.objects.filter(code__startswith="N").count() == ROWS
    assert "Undo this import" in teacher.get(page).content.decode()


def test_what_is_wrong_now_is_not_saved_and_said(cast: Cast, teacher: Client) -> None:
    """The code was taken meanwhile by a student whom the sender doesn't see: row and column, and nothing saved."""
    page, batch = send(teacher, table())
    work(batch)
    mates = Student(district=cast.district)
    values = {"code": "N7", "first_name": "Bo", "last_name": "Winn", "grade": "5", "building": cast.south}
    student_save(actor=cast.mate, row=mates, values=values)
    teacher.post(reverse("import_commit", args=[batch.pk]))
    assert work(batch).state == ImportBatch.State.PREVIEW
    (problem,) = batch.content["problems"]
    assert (problem["row"], problem["column"]) == (9, "Student code")
    shown = teacher.get(page).content.decode()
    assert "Something has changed since the preview" in shown
    assert "Save all of it" not in shown
    assert not Student.objects.filter(code="N1").exists()


def test_problems_are_named_by_row_and_column(cast: Cast, teacher: Client) -> None:
    """As in a small file."""
    page, batch = send(teacher, table("N999,Ola,Tarn,33,NORTH"))
    assert work(batch).problem_count == 1
    (problem,) = batch.content["problems"]
    assert (problem["row"], problem["column"], problem["value"]) == (ROWS + 1, "Grade", "33")
    assert "Save all of it" not in teacher.get(page).content.decode()


def test_a_check_that_is_thrown_away_does_nothing(cast: Cast, teacher: Client) -> None:
    """Before the worker came to it, or while it was at work."""
    _, batch = send(teacher, table())
    job = batch.job
    assert job is not None
    teacher.post(reverse("import_cancel", args=[batch.pk]))
    assert not ImportBatch.objects.exists()
    run_job(job.pk)
    assert not ImportBatch.objects.exists()
    job.refresh_from_db()
    assert job.state == Job.State.STOPPED


def test_a_saving_that_was_cut_off_can_be_begun_again(cast: Cast, teacher: Client) -> None:
    """The page says that nothing was saved and has the button."""
    page, batch = send(teacher, table())
    work(batch)
    support_save(actor=cast.coordinator, row=Support(student=cast.student), values={"text": "Walker"})
    teacher.post(reverse("import_commit", args=[batch.pk]))
    batch.refresh_from_db()
    assert batch.job is not None
    claim = job_claim(job_id=batch.job.pk)
    assert claim is not None
    job_fail(claim=claim, message="The machine went down.")
    shown = teacher.get(page).content.decode()
    assert "nothing was saved" in shown
    assert "Interrupted" in teacher.get(reverse("import_home")).content.decode()
    teacher.post(reverse("import_commit", args=[batch.pk]))
    assert work(batch).state == ImportBatch.State.COMMITTED


def test_the_api_says_how_far_it_is(cast: Cast) -> None:
    """The states by name, the rows that are done, and why nothing was saved."""
    api = Api(cast.teacher)
    sent = api.upload("imports/", kind="students", file=SimpleUploadedFile("a.csv", table()))
    path = f"imports/{sent['id']}/"
    assert (sent["state"], sent["row_count"], sent["rows_done"]) == ("checking", ROWS, 0)
    assert api.post(f"{path}commit/", 409)["code"] == "not_in_preview"
    batch = work(ImportBatch.objects.get())
    assert api.get(path)["tallies"]["students"]["new"] == ROWS
    support_save(actor=cast.coordinator, row=Support(student=cast.student), values={"text": "Walker"})
    assert api.post(f"{path}commit/", 200)["state"] == "saving"
    PersonRole.objects.filter(person=cast.teacher).update(role=Person.Role.OFFICE)
    work(batch)
    PersonRole.objects.filter(person=cast.teacher).update(role=Person.Role.TEACHER)
    found = api.get(path)
    assert (found["state"], found["message"]) == ("preview", "Your role can't import.")
    assert api.post(f"{path}commit/", 200)["state"] == "saving"
    work(batch)
    assert api.get(path)["state"] == "committed"


def test_a_rehearsal_cannot_write_to_a_real_table(cast: Cast) -> None:
    """On SQLite, where it would take everybody's lock, it is refused; what was written anyhow is taken back."""
    refused = (
        pytest.raises(DatabaseError, match="not authorized") if connection.vendor == "sqlite" else nullcontext()
    )
    with shadows_of(cast.district, ["students"]):
        Student.objects.filter(pk=cast.student.pk).update(last_name="Shadow")
        assert Student.objects.get(pk=cast.student.pk).last_name == "Shadow"
        with refused:
            Building.objects.filter(pk=cast.north.pk).update(name="Real")
    assert Student.objects.get(pk=cast.student.pk).last_name != "Shadow"
    assert Building.objects.get(pk=cast.north.pk).name == cast.north.name
    Building.objects.filter(pk=cast.north.pk).update(name="Real")
    assert Building.objects.get(pk=cast.north.pk).name == "Real"
