"""The import pages: the way through them, who may walk it, and what a stranger finds."""

import io
import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import load_workbook

from accounts.models import Person
from caseload.plans.models import Student
from schedule.calendar.models import CalendarEntry, WordRule
from schedule.imports.models import ImportBatch
from schedule.imports.tables.every import tables_for
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit_all, dump_database, preview
from tests.schedule.imports.test_calendar_import import YEAR, calendar
from travel.places.models import Building


def signed_in(person: Person) -> Client:
    """A browser with this person signed in."""
    client = Client()
    client.force_login(person)
    return client


def upload(content: bytes | str, name: str = "file.csv") -> SimpleUploadedFile:
    """A file in a form."""
    return SimpleUploadedFile(name, content.encode() if isinstance(content, str) else content)


@pytest.fixture
def teacher(cast: Cast) -> Client:
    """The teacher's browser."""
    return signed_in(cast.teacher)


def send(client: Client, kind: str, content: bytes | str) -> str:
    """Send a table; where its preview is."""
    answer = client.post(reverse("import_upload", args=[kind]), {"file": upload(content)})
    assert answer.status_code == 302
    return answer["Location"]


def test_the_way_through(cast: Cast, teacher: Client) -> None:
    """Table, upload, preview, commit, done, undo; each page has what the next step needs."""
    before = dump_database()
    home = teacher.get(reverse("import_home")).content.decode()
    assert all(reverse("import_upload", args=[table.kind]) in home for table in tables_for(cast.teacher.has_perm))
    page = send(teacher, "buildings", ALL["buildings"])
    shown = teacher.get(page).content.decode()
    assert "Save all of it" in shown
    assert dump_database() == before
    batch = ImportBatch.objects.get()
    done = teacher.post(reverse("import_commit", args=[batch.pk]), follow=True).content.decode()
    assert "Undo this import" in done
    assert Building.objects.filter(code="ELM").exists()
    assert reverse("import_undo", args=[batch.pk]) in teacher.get(reverse("import_home")).content.decode()
    teacher.post(reverse("import_undo", args=[batch.pk]))
    assert dump_database() == before
    assert "Undone" in teacher.get(reverse("import_home")).content.decode()


def test_problems_are_shown_and_cannot_be_saved(cast: Cast, teacher: Client) -> None:
    """Row, column, value, remedy; no button to save; the sheet of problems has the same."""
    page = send(teacher, "buildings", ALL["buildings"].replace("America/Chicago", "<b>Eastern"))
    shown = teacher.get(page).content.decode()
    assert "Save all of it" not in shown
    assert "&lt;b&gt;Eastern" in shown
    batch = ImportBatch.objects.get()
    sheet = teacher.get(reverse("import_problems", args=[batch.pk])).content.decode("utf-8-sig")
    assert re.search(r"buildings,3,Time zone,<b>Eastern,.*America/New_York.*,yes", sheet)
    refused = teacher.post(reverse("import_commit", args=[batch.pk]))
    assert refused.status_code == 409
    assert not Building.objects.filter(code="ELM").exists()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"x" * 20 * 1024 * 1024, "20.0 MB"),
        (b"", "empty"),
        (b"\xff\xfea\x00", "UTF-16"),
        (b"PK\x03\x04", "damaged"),
    ],
)
def test_files_that_cannot_be_read_stay_on_the_form(teacher: Client, content: bytes, words: str) -> None:
    """A sentence at the field, no traceback, no preview."""
    answer = teacher.post(reverse("import_upload", args=["students"]), {"file": upload(content)})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not ImportBatch.objects.exists()


def test_no_file_at_all(teacher: Client) -> None:
    """An empty form says what is missing."""
    for kind in ("students", "several"):
        answer = teacher.post(reverse("import_upload", args=[kind]), {})
        assert answer.status_code == 422
        assert "error-summary" in answer.content.decode()


def test_several_files_at_once(cast: Cast, teacher: Client) -> None:
    """CSV files together are one import."""
    files = [upload(ALL[kind], f"{kind}.csv") for kind in ("students", "classes", "bell-schedules", "buildings")]
    answer = teacher.post(reverse("import_upload", args=["several"]), {"file": files}, follow=True)
    assert "Save all of it" in answer.content.decode()
    teacher.post(reverse("import_commit", args=[ImportBatch.objects.get().pk]))
    assert Student.objects.filter(code="K01", building__code="ELM").exists()


def test_downloads(cast: Cast, teacher: Client) -> None:
    """Templates and own rows, blank and filled, in both forms."""
    commit_all(cast.teacher)
    for table in tables_for(cast.teacher.has_perm):
        for address in ("import_template", "import_export"):
            for form in ("csv", "xlsx"):
                answer = teacher.get(reverse(address, args=[table.kind, form]))
                assert answer.status_code == 200
                assert answer["Content-Disposition"].startswith("attachment")
    book = load_workbook(io.BytesIO(teacher.get(reverse("import_export", args=["several", "xlsx"])).content))
    assert book.sheetnames == [*(table.kind for table in tables_for(cast.teacher.has_perm)), "Notes"]
    for wrong in (["several", "csv"], ["buildings", "pdf"], ["nothing", "csv"]):
        assert teacher.get(reverse("import_template", args=wrong)).status_code == 404
        assert teacher.get(reverse("import_export", args=wrong)).status_code == 404


def test_exports_hold_what_the_person_sees(cast: Cast, teacher: Client) -> None:
    """The teacher's export has the own student, not the mate's, and nothing of another district."""
    address = reverse("import_export", args=["students", "csv"])
    mine = teacher.get(address).content.decode()
    assert "S01" in mine
    assert "S02" not in mine
    every = signed_in(cast.coordinator).get(address).content.decode()
    assert "S01" in every
    assert "S02" in every
    strange = signed_in(cast.stranger).get(address).content.decode("utf-8-sig")
    assert len(strange.splitlines()) == 1


def test_a_strangers_import_is_not_there(cast: Cast) -> None:
    """Someone else's import is 404 for every verb: another district's, and another teacher's."""
    batch = preview(cast.teacher, "buildings", ALL["buildings"])
    for person in (cast.stranger, cast.mate):
        client = signed_in(person)
        for name in ("import_preview", "import_problems"):
            assert client.get(reverse(name, args=[batch.pk])).status_code == 404
        for name in ("import_commit", "import_cancel", "import_undo"):
            assert client.post(reverse(name, args=[batch.pk])).status_code == 404
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.PREVIEW


def test_a_stranger_writes_to_the_own_district_only(cast: Cast) -> None:
    """Codes of another district are unknown, and the same code can be used again."""
    client = signed_in(cast.stranger)
    page = send(client, "spaces", "Building code,Space name\nNORTH,Gym\n")
    assert "No building has the code" in client.get(page).content.decode()
    send(client, "buildings", "Building code,Name\nNORTH,Fells North\n")
    client.post(reverse("import_commit", args=[ImportBatch.objects.get(kind="buildings").pk]))
    assert Building.objects.get(district=cast.other_district).name == "Fells North"
    assert Building.objects.get(pk=cast.north.pk).name == "North Hollow School"


@pytest.mark.parametrize("role", ["office", "substitute"])
def test_roles_that_do_not_import(cast: Cast, role: str) -> None:
    """The office and the substitute are refused."""
    client = signed_in(getattr(cast, role))
    for name in ("import_home", "calendar_import", "holidays_import"):
        assert client.get(reverse(name)).status_code == 403
    assert client.get(reverse("import_upload", args=["buildings"])).status_code == 403
    assert client.get(reverse("import_export", args=["students", "csv"])).status_code == 403
    assert client.post(reverse("import_upload", args=["buildings"]), {"file": upload("x")}).status_code == 403


def test_the_coordinator_undoes_a_teachers_import(cast: Cast, teacher: Client) -> None:
    """The coordinator answers for the district; but commits no preview of someone else."""
    send(teacher, "buildings", ALL["buildings"])
    batch = ImportBatch.objects.get()
    coordinator = signed_in(cast.coordinator)
    assert coordinator.post(reverse("import_commit", args=[batch.pk])).status_code == 409
    teacher.post(reverse("import_commit", args=[batch.pk]))
    coordinator.post(reverse("import_undo", args=[batch.pk]))
    assert not Building.objects.filter(code="ELM").exists()


def test_cancel(cast: Cast, teacher: Client) -> None:
    """A preview is thrown away."""
    send(teacher, "buildings", ALL["buildings"])
    teacher.post(reverse("import_cancel", args=[ImportBatch.objects.get().pk]))
    assert not ImportBatch.objects.exists()


def test_an_undo_that_is_refused_says_why(cast: Cast, teacher: Client) -> None:
    """The page of the import shows the reason; nothing is undone."""
    send(teacher, "buildings", ALL["buildings"])
    batch = ImportBatch.objects.get()
    teacher.post(reverse("import_commit", args=[batch.pk]))
    Building.objects.filter(code="ELM").update(name="Elm Rise Academy")
    shown = teacher.post(reverse("import_undo", args=[batch.pk]), follow=True).content.decode()
    assert "Elm Rise Academy" in shown
    assert Building.objects.filter(code="ELM").exists()


def test_the_calendar_pages(cast: Cast, teacher: Client) -> None:
    """Upload, choose, save; the words stand beside the form."""
    assert teacher.get(reverse("calendar_import")).status_code == 200
    assert WordRule.objects.filter(district=cast.district).exists()
    dates = {"first": "2026-08-01", "last": "2027-07-31"}
    sent = {**dates, "file": upload(calendar(*YEAR), "school.ics")}
    shown = teacher.post(reverse("calendar_import"), sent, follow=True).content.decode()
    assert "Thanksgiving recess" in shown
    batch = ImportBatch.objects.get()
    chosen = {f"kind-{place}": group["kind"] for place, group in enumerate(batch.content["groups"])}
    saved = teacher.post(reverse("import_commit", args=[batch.pk]), chosen, follow=True)
    assert "Undo this import" in saved.content.decode()
    assert CalendarEntry.objects.count() == 4
    assert teacher.post(reverse("import_commit", args=[batch.pk]), chosen).status_code == 409


def test_the_calendar_form_refuses(cast: Cast, teacher: Client) -> None:
    """20 MB, no calendar, dates the wrong way round: sentences on the form."""
    dates = {"first": "2026-08-01", "last": "2027-07-31"}
    for content, words in ((b"x" * 20 * 1024 * 1024, "20.0 MB"), (b"hello", "BEGIN:VCALENDAR")):
        answer = teacher.post(reverse("calendar_import"), {**dates, "file": upload(content, "x.ics")})
        assert answer.status_code == 422
        assert words in answer.content.decode()
    turned = {"first": "2027-07-31", "last": "2026-08-01", "state": "NY"}
    assert teacher.post(reverse("holidays_import"), turned).status_code == 422


def test_the_building_of_a_calendar_is_ones_own(cast: Cast) -> None:
    """A stranger can't hang days on another district's building."""
    client = signed_in(cast.stranger)
    sent = {"first": "2026-08-01", "last": "2027-07-31", "building": cast.north.pk}
    answer = client.post(reverse("calendar_import"), {**sent, "file": upload(calendar(*YEAR), "x.ics")})
    assert answer.status_code == 422
    assert not ImportBatch.objects.exists()


def test_public_holidays_page(cast: Cast, teacher: Client) -> None:
    """The district's own state stands in the form; its holidays can be saved."""
    shown = teacher.get(reverse("holidays_import")).content.decode()
    assert 'value="NY"' in shown
    sent = {"first": "2026-08-01", "last": "2027-07-31", "state": "NY"}
    page = teacher.post(reverse("holidays_import"), sent, follow=True).content.decode()
    assert "Thanksgiving" in page


def test_no_students_name_in_an_address(cast: Cast, teacher: Client) -> None:
    """Addresses carry ids and kinds of tables only."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "classes"])
    page = send(teacher, "students", ALL["students"])
    assert re.fullmatch(r"/import/\d+/", page)
