"""Everything of one student in one archive: whole, nobody else's, readable by itself, and written down."""

import csv
import io
import zipfile

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.care.models import Caution, Contact, Support
from caseload.care.services import caution_save
from caseload.plans.models import Student
from schedule.reports.services import student_archive
from tests.conftest import Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(cast: Cast) -> Cast:
    """Something of each kind about the teacher's student, and a row about the mate's that names that student."""
    caution_save(actor=cast.teacher, row=Caution(student=cast.student), values={"text": "Seizures <b>"})
    Contact.objects.create(student=cast.student, role="nurse", name="=1+1", phone="555-0142")
    Support.objects.create(student=cast.student, text="Picture cards")
    Support.objects.create(
        student=cast.mates_student, kind="apart", other_student=cast.student, text="Not in one group"
    )
    return cast


def tables(content: bytes) -> dict[str, list[dict[str, str]]]:
    """The CSV files of the zip by name, as anybody's spreadsheet reads them."""
    found = {}
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for name in archive.namelist():
            if name.endswith(".csv"):
                text = archive.read(name).decode("utf-8-sig")
                found[name.removesuffix(".csv")] = list(csv.DictReader(io.StringIO(text)))
    return found


def test_everything_of_the_student_and_of_nobody_else(kept: Cast) -> None:
    """Own row, plan, service, care, and what was changed; rows about another student stay that student's."""
    found = tables(student_archive(actor=kept.teacher, student=kept.student, why="Asked for by the family").content)
    assert [one["Code"] for one in found["student"]] == ["S01"]
    assert [one["Statement"] for one in found["serviceline"]] == ["2 x 30 min/week"]
    assert [one["Text"] for one in found["support"]] == ["Picture cards"]
    assert [one["Text"] for one in found["caution"]] == ["Seizures <b>"]
    assert [one["What"] for one in found["history"]] == ["caution_save"]
    assert not any("Not in one group" in cell for rows in found.values() for row in rows for cell in row.values())


def test_the_page_and_the_tables_do_no_harm(kept: Cast) -> None:
    """What was typed is no HTML in the page and no formula in a table; the page needs nothing from elsewhere."""
    content = student_archive(actor=kept.teacher, student=kept.student, why="Asked for").content
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        page = archive.read("index.html").decode()
    assert "Seizures &lt;b&gt;" in page
    assert "<script" not in page
    assert "http" not in page
    assert kept.student.full_name in page
    assert tables(content)["contact"][0]["Name"] == "'=1+1"


def test_it_is_written_down_and_needs_a_reason(kept: Cast) -> None:
    """34 CFR 99.32: to whom and why; without a reason nothing is made, and only whoever may change it makes it."""
    with pytest.raises(ApplicationError, match="for whom"):
        student_archive(actor=kept.teacher, student=kept.student, why=" ")
    with pytest.raises(ApplicationError):
        student_archive(actor=kept.mate, student=kept.student, why="Asked for")
    assert not AuditEntry.objects.filter(action="report_export").exists()
    student_archive(actor=kept.coordinator, student=kept.student, why="Asked for by the family")
    entry = AuditEntry.objects.get(action="report_export")
    assert (entry.actor, entry.changes["why"]) == (kept.coordinator, [None, "Asked for by the family"])


def test_the_page_makes_the_file(kept: Cast) -> None:
    """From the student's page; the file's name has the id and no name."""
    browser = Client()
    browser.force_login(kept.teacher)
    address = reverse("student_archive", args=[kept.student.pk])
    assert "Why, or for whom" in browser.get(address).content.decode()
    assert browser.post(address, {"why": ""}).status_code == 422
    answer = browser.post(address, {"why": "Asked for by the family"})
    assert answer["Content-Type"] == "application/zip"
    assert "Tarn" not in answer["Content-Disposition"]
    assert zipfile.is_zipfile(io.BytesIO(answer.content))
    assert Student.objects.filter(pk=kept.student.pk).exists()
