"""The API of imports: templates, preview, commit, undo."""

import io
import zipfile
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from schedule.calendar.models import CalendarEntry
from schedule.imports.models import ImportBatch
from tests.api import API, Api
from tests.conftest import Cast
from travel.places.models import Space

pytestmark = pytest.mark.django_db


def _client(cast: Cast) -> APIClient:
    client = APIClient()
    client.force_login(cast.teacher)
    return client


def _template(cast: Cast, kind: str) -> str:
    answer = _client(cast).get(f"{API}/import-tables/{kind}/template/", {"form": "csv"})
    assert answer.status_code == 200
    return bytes(answer.content).decode("utf-8-sig").strip()


def _filled(cast: Cast, *rows: dict[str, str]) -> SimpleUploadedFile:
    """The template of spaces with rows under its headers."""
    headers = _template(cast, "spaces").split(",")
    lines = [",".join(headers), *(",".join(row.get(header, "") for header in headers) for row in rows)]
    return SimpleUploadedFile("spaces.csv", "\n".join(lines).encode(), content_type="text/csv")


POOL = {"Building code": "NORTH", "Space name": "Pool", "Space kind": "pool"}


def test_every_table_has_its_templates(cast: Cast) -> None:
    """CSV with the headers that the list names, and a real XLSX."""
    for table in Api(cast.teacher).get("import-tables/"):
        headers = ",".join(column["header"] for column in table["columns"])
        assert _template(cast, table["kind"]).replace('"', "") == headers
        book = _client(cast).get(f"{API}/import-tables/{table['kind']}/template/", {"form": "xlsx"})
        assert zipfile.is_zipfile(io.BytesIO(book.content))
    Api(cast.teacher).get("import-tables/nothing/template/", expect=404)
    Api(cast.teacher).get("import-tables/spaces/template/", expect=400, form="pdf")


def test_the_districts_rows_come_back_as_a_file(cast: Cast) -> None:
    """In the shape that can be imported again; a student's table holds the teacher's own."""
    answer = _client(cast).get(f"{API}/import-tables/students/rows/")
    text = bytes(answer.content).decode("utf-8-sig")
    assert "S01" in text
    assert "S02" not in text
    preview = Api(cast.teacher).upload(
        "imports/", kind="students", file=SimpleUploadedFile("students.csv", answer.content)
    )
    assert preview["tallies"]["students"] == {"new": 0, "changed": 0, "same": 1, "removed": 0}


CALENDAR = """BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//Marrow Vale//Calendar//EN
BEGIN:VEVENT
UID:one
DTSTART;VALUE=DATE:20261126
DTEND;VALUE=DATE:20261128
SUMMARY:No school: harvest recess
END:VEVENT
END:VCALENDAR
"""


def test_a_published_calendar(cast: Cast) -> None:
    """Previewed with the events that were recognized; the commit says what each stands for."""
    api = Api(cast.teacher)
    dates: dict[str, Any] = {"first": "2026-09-01", "last": "2027-06-30"}
    file = SimpleUploadedFile("school.ics", CALENDAR.replace("\n", "\r\n").encode())
    preview = api.upload("imports/calendar/", file=file, **dates)
    (event,) = preview["events"]
    assert (event["kind"], event["dates"]) == ("closed", [["2026-11-26", "2026-11-27"]])
    assert api.post(f"imports/{preview['id']}/commit/", expect=422)["code"] == "choices_missing"
    api.post(f"imports/{preview['id']}/commit/", expect=200, kinds=["closed"])
    entry = CalendarEntry.objects.get()
    assert (str(entry.first_date), str(entry.last_date)) == ("2026-11-26", "2026-11-27")


def test_public_holidays_of_a_state(cast: Cast) -> None:
    """July 4, 2027 is a Sunday in Iowa as elsewhere: observed on Monday the 5th (5 U.S.C. 6103(b), from memory)."""
    api = Api(cast.teacher)
    preview = api.post("imports/holidays/", state="IA", first="2027-07-01", last="2027-07-31")
    assert ["2027-07-05", "2027-07-05"] in [dates for event in preview["events"] for dates in event["dates"]]
    error = api.post("imports/holidays/", expect=422, state="QQ", first="2027-07-01", last="2027-07-31")
    assert error["code"] == "unknown_state"


def test_preview_commit_undo(cast: Cast) -> None:
    """A preview saves no row, the commit does, the undo takes it back."""
    api = Api(cast.teacher)
    preview = api.upload("imports/", kind="spaces", file=_filled(cast, POOL))
    assert (preview["state"], preview["problem_count"], preview["tallies"]["spaces"]["new"]) == ("preview", 0, 1)
    assert not Space.objects.filter(name="Pool").exists()
    assert api.post(f"imports/{preview['id']}/commit/", expect=200)["state"] == "committed"
    assert Space.objects.filter(name="Pool", building=cast.north).exists()
    assert api.post(f"imports/{preview['id']}/commit/", expect=409)["code"] == "not_in_preview"
    assert api.post(f"imports/{preview['id']}/undo/", expect=200)["state"] == "undone"
    assert not Space.objects.filter(name="Pool").exists()


def test_problems_are_named_by_row_and_column(cast: Cast) -> None:
    """With a remedy; nothing can be committed then, and the preview can be thrown away."""
    api = Api(cast.teacher)
    preview = api.upload("imports/", kind="spaces", file=_filled(cast, POOL, {**POOL, "Building code": "WEST"}))
    assert preview["problem_count"] == 1
    (problem,) = [one for one in preview["problems"] if not one["warning"]]
    assert (problem["row"], problem["column"], problem["value"]) == (3, "Building code", "WEST")
    assert problem["remedy"]
    assert api.post(f"imports/{preview['id']}/commit/", expect=409)["code"] == "import_has_problems"
    api.delete(f"imports/{preview['id']}/")
    assert not ImportBatch.objects.exists()
    assert Space.objects.count() == 1


def test_a_file_that_is_none_is_refused(cast: Cast) -> None:
    """A broken workbook, no file, an unknown table."""
    api = Api(cast.teacher)
    broken = SimpleUploadedFile("spaces.xlsx", b"PK\x03\x04nothing")
    assert api.upload("imports/", expect=422, kind="spaces", file=broken)["code"] == "unreadable_file"
    assert list(api.upload("imports/", expect=400, kind="spaces")["fields"]) == ["file"]
    assert list(api.upload("imports/", expect=400, kind="x", file=_filled(cast, POOL))["fields"]) == ["kind"]


def test_imports_of_others_are_not_there(cast: Cast) -> None:
    """A mate's and another district's; an office doesn't import."""
    preview = Api(cast.teacher).upload("imports/", kind="spaces", file=_filled(cast, POOL))
    for person in (cast.mate, cast.stranger):
        api, path = Api(person), f"imports/{preview['id']}/"
        assert api.get("imports/")["count"] == 0
        api.get(path, expect=404)
        api.post(f"{path}commit/", expect=404)
        api.post(f"{path}undo/", expect=404)
        api.delete(path, expect=404)
    Api(cast.office).get("imports/", expect=403)
