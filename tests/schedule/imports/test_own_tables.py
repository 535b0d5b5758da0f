"""Tables with headers of a district's own: what they seem to be, what a person says, and that it is remembered.

The headers and the ways to write a date, a grade and days are common practice, no source.
"""

import csv
import io
from collections.abc import Sequence

import pytest
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook

from accounts.errors import ApplicationError
from caseload.plans.models import Student
from schedule.imports.files.grids import Grid, read_csv
from schedule.imports.models import ImportBatch, OwnHeader
from schedule.imports.own.matching import OwnTable, fits, taken, understood
from schedule.imports.services.tables import import_commit
from schedule.imports.services.work import import_columns, import_send
from schedule.imports.tables.columns import ColumnKind
from schedule.imports.tables.every import TABLES, find_table
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit_all
from tests.schedule.imports.test_pages import send, signed_in
from tests.schedule.imports.test_reading import saved

LIST = """\
Fells County,,,,,
Travel list for fall,,,,,
Stu ID,Surname,Given name,Gr,School,Bus
00123,Tarn,Ola,KG,Elm Rise School,14
00124,Beck,Ivo,03,ELM,9
Total,2,,,,
"""


def grid(text: str) -> Grid:
    """A CSV file as a grid."""
    return read_csv("list.csv", text.encode())


def seen(kind: str, text: str, known: dict[str, frozenset[str]] | None = None) -> OwnTable:
    """What a table seems to be to somebody who never sent one."""
    table = find_table(kind)
    assert table is not None
    return understood(table, grid(text), known or {}, {})


def columns(own: OwnTable) -> dict[str, str]:
    """Our column by the file's header."""
    return {one.header: one.column for one in own.columns}


def test_a_list_of_students_under_headers_of_its_own() -> None:
    """By name, short forms and other words; what is none of ours stays out; titles and totals are no rows."""
    own = seen("students", LIST)
    assert columns(own) == {
        "Stu ID": "code",
        "Surname": "last_name",
        "Given name": "first_name",
        "Gr": "grade",
        "School": "building",
        "Bus": "",
    }
    assert own.header == 3
    assert own.columns[0].samples == ("00123", "00124")
    assert [(one.row, one.why) for one in own.left_out] == [
        (1, "above the headers"),
        (2, "above the headers"),
        (6, "a total"),
    ]


def test_what_is_in_a_column_speaks_against_its_name() -> None:
    """“From” is a time of day in a list of bells, unless days stand in it."""
    bells = "School,Schedule name,Period name,From,To\nELM,Regular,1,{},9:15\n"
    assert columns(seen("bell-schedules", bells.format("8:30")))["From"] == "start"
    assert columns(seen("bell-schedules", bells.format("9/8/26")))["From"] == ""


def test_codes_that_the_district_knows_speak_for_a_column_without_a_name() -> None:
    """A column that nobody would guess from its header, full of schools."""
    text = "Stu ID,Surname,Given name,Gr,Where\nA1,Tarn,Ola,K,elm\nA2,Beck,Ivo,3,Fen Middle School\n"
    known = {"building": frozenset({"elm", "fen", "fen middle school"})}
    assert columns(seen("students", text, known))["Where"] == "building"
    assert columns(seen("students", text))["Where"] == ""


@pytest.mark.parametrize("kind", sorted(ALL))
def test_our_own_templates_need_no_question(kind: str) -> None:
    """Each table that the tests bring reads as it is."""
    table = find_table(kind)
    assert table is not None
    assert fits(table, grid(ALL[kind]))


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.kind)
def test_our_own_headers_are_known_for_what_they_are(table: object) -> None:
    """In any order, with nothing below them that would help."""
    found = next(one for one in TABLES if one is table)
    text = io.StringIO()
    row = ["1" if column.kind is ColumnKind.TEXT else "" for column in found.columns]
    csv.writer(text).writerows([found.headers[::-1], row[::-1]])
    own = understood(found, grid(text.getvalue()), {}, {})
    assert [one.column for one in own.columns] == [column.name for column in found.columns][::-1]


def test_a_grid_is_made_ours_and_keeps_its_row_numbers() -> None:
    """Rows are counted as the spreadsheet counts them, so that a fault is found there."""
    table = find_table("students")
    assert table is not None
    made = taken(table, grid(LIST), 3, {0: "code", 3: "grade"}, {6})
    assert made.rows == ((3, ("Student code", "Grade")), (4, ("00123", "KG")), (5, ("00124", "03")))


def names(batch: ImportBatch) -> dict[int, str]:
    """What the columns of a batch seem to be, by place."""
    return {one["place"]: one["column"] for one in batch.content["own"]["columns"] if one["column"]}


def sent(cast: Cast, text: str, kind: str = "students") -> ImportBatch:
    """A file that somebody sends."""
    return import_send(actor=cast.teacher, kind=kind, filename="list.csv", content=text.encode())


def test_said_once_and_remembered(cast: Cast) -> None:
    """Asked, answered, saved; the next list with these headers is read so at once, and says that it is."""
    commit_all(cast.teacher, ("buildings",))
    batch = sent(cast, LIST)
    assert batch.state == ImportBatch.State.MATCHING
    assert not OwnHeader.objects.exists()
    checked = import_columns(actor=cast.teacher, batch=batch, columns=names(batch), left_out=[6])
    assert (checked.state, checked.problem_count) == (ImportBatch.State.PREVIEW, 0)
    import_commit(actor=cast.teacher, batch=checked)
    assert sorted(Student.objects.filter(code__startswith="0").values_list("code", "grade", "building__code")) == [
        ("00123", "K", "ELM"),
        ("00124", "3", "ELM"),
    ]
    checked.refresh_from_db()
    assert "own" not in checked.content
    again = sent(cast, LIST.replace("00124,Beck", "00125,Fell"))
    assert again.state == ImportBatch.State.PREVIEW
    (note,) = [one["message"] for one in again.content["problems"] if one["warning"]]
    assert "“Surname” as Last name" in note
    assert "Left out: “Bus”" in note
    # Another person's lists are their own business.
    stranger = import_send(actor=cast.coordinator, kind="students", filename="x.csv", content=LIST.encode())
    assert stranger.state == ImportBatch.State.MATCHING


ONE_NAME = """\
Student Name,Student ID,Student Grade,Bldg
"Tarn, Ola",00123,KG,Elm Rise School
"Beck, Ivo M.",00124,03,ELM
{}
"""


@pytest.mark.parametrize(
    "headers", ["Student Last,Student First,ID #,Current Grade,School", "Child surname,Child First,Stu No,Gr,Site"]
)
def test_whose_a_column_is_says_nothing_of_what_it_is(headers: str) -> None:
    own = seen("students", f"{headers}\nTarn,Ola,00123,KG,Elm Rise School\n")
    assert [one.column for one in own.columns] == ["last_name", "first_name", "code", "grade", "building"]


def test_the_dates_of_a_plan_and_times_after_noon() -> None:
    """Other words for the same; and a time that is asked about later is a time all the same."""
    plans = "Student ID,IEP Start,IEP End,Annual Review Due,Service Minutes\n"
    plans += "00123,11/2/26,1-Nov-27,10/20/27,2 x 30 min/week\n"
    found = [one.column for one in seen("plans", plans).columns]
    assert found == ["student", "plan_start", "plan_end", "annual_review", "statement"]
    bells = "Bldg,Bell,Per,Begin,Time Out\nELM,Regular,6,12:20,1:05\nELM,Regular,7,1:05,1:50\n"
    assert [one.column for one in seen("bell-schedules", bells).columns] == [
        "building",
        "schedule",
        "period",
        "start",
        "end",
    ]


def test_a_name_of_ours_over_what_can_t_be_ours() -> None:
    """“Service” is a number in our own export and a name in a district's list: a person says which column it is."""
    plans = "Student ID,Service,Minutes\n00123,Adapted PE,2 x 30 min/week\n"
    assert columns(seen("plans", plans)) == {"Student ID": "student", "Service": "", "Minutes": "statement"}


def test_last_and_first_name_in_one_column(cast: Cast) -> None:
    """Split at its one comma, remembered; where there is none, or two, the row says what it lacks."""
    commit_all(cast.teacher, ("buildings",))
    batch = sent(cast, ONE_NAME.format('"Marsh, Jr., Eno",00125,1,ELM\nUna Fell,00126,2,ELM'))
    assert columns(seen("students", ONE_NAME.format("")))["Student Name"] == "whole_name"
    checked = import_columns(actor=cast.teacher, batch=batch, columns=names(batch), left_out=[])
    assert [(one["row"], one["column"]) for one in checked.content["problems"] if not one["warning"]] == [
        (4, "First name"),
        (5, "First name"),
    ]
    again = sent(cast, ONE_NAME.format(""))
    assert (again.state, again.problem_count) == (ImportBatch.State.PREVIEW, 0)
    assert "“Student Name” as Last name, first name" in again.content["problems"][0]["message"]
    import_commit(actor=cast.teacher, batch=again)
    students = Student.objects.filter(code__startswith="0").order_by("code")
    assert list(students.values_list("last_name", "first_name")) == [("Tarn", "Ola"), ("Beck", "Ivo M.")]


def test_a_name_in_one_column_and_its_half_in_another(cast: Cast) -> None:
    batch = sent(cast, ONE_NAME.format(""))
    with pytest.raises(ApplicationError, match="Two columns can't both be “First name”"):
        import_columns(actor=cast.teacher, batch=batch, columns=names(batch) | {1: "first_name"}, left_out=[])


def test_said_otherwise_later(cast: Cast) -> None:
    """A preview of such a list can be gone back to; what is said last is what is remembered."""
    commit_all(cast.teacher, ("buildings",))
    batch = sent(cast, LIST)
    told = names(batch)
    wrong = told | {1: "first_name", 2: "last_name"}
    checked = import_columns(actor=cast.teacher, batch=batch, columns=wrong, left_out=[6])
    right = import_columns(actor=cast.teacher, batch=checked, columns=told, left_out=[6])
    rows = right.content["files"][0]["rows"]
    assert [cells["last_name"] for _, cells in rows] == ["Tarn", "Beck"]
    assert OwnHeader.objects.get(header="surname").column == "last_name"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({5: "grade"}, "Two columns can't both be “Grade”"),
        ({3: ""}, "Say which column has “Grade”"),
        ({5: "no_such"}, "A column is named that isn't there"),
        ({44: "home_class"}, "A column is named that isn't there"),
    ],
)
def test_columns_that_are_unclear(cast: Cast, change: dict[int, str], words: str) -> None:
    """Refused in words, with the batch as it was and nothing remembered."""
    batch = sent(cast, LIST)
    told = {place: name for place, name in (names(batch) | change).items() if name}
    with pytest.raises(ApplicationError, match=words):
        import_columns(actor=cast.teacher, batch=batch, columns=told, left_out=[6])
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.MATCHING
    assert not OwnHeader.objects.exists()


def test_a_row_that_is_one_after_all_is_taken(cast: Cast) -> None:
    """“Total” may be a surname: nothing is left out that somebody wants."""
    batch = sent(cast, LIST)
    checked = import_columns(actor=cast.teacher, batch=batch, columns=names(batch), left_out=[])
    assert [number for number, _ in checked.content["files"][0]["rows"]] == [4, 5, 6]


def test_a_code_and_a_name_are_one_school(cast: Cast) -> None:
    """Rows that restate a set belong together however each calls the school."""
    commit_all(cast.teacher, ("buildings", "spaces"))
    told = "Building code,Space name,Days,Period,Start,End\n"
    rows = "Elm Rise School,Gym,Mon,,8:30,9:00\nELM,Gym,Tue,,8:30,9:00\n"
    done = import_commit(actor=cast.teacher, batch=sent(cast, told + rows, "space-times"))
    assert done.content["tallies"]["space-times"]["new"] == 2


def test_hidden_rows_are_asked_about(cast: Cast) -> None:
    """A filter hides rows from whoever looks, not from who reads: in our own headers too."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in csv.reader(io.StringIO(ALL["buildings"])):
        sheet.append(row)
    sheet.row_dimensions[3].hidden = True
    batch = import_send(actor=cast.teacher, kind="buildings", filename="b.xlsx", content=saved(book))
    assert batch.state == ImportBatch.State.MATCHING
    assert [(one["row"], one["why"]) for one in batch.content["own"]["left_out"]] == [
        (3, "hidden in the spreadsheet")
    ]


def test_zeros_that_a_cell_shows_stay(cast: Cast) -> None:
    """A number in the format 00000 is what the cell shows."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Student code", "First name", "Last name", "Grade", "Building code"])
    sheet.append([123, "Ola", "Tarn", 3, "ELM"])
    sheet["A2"].number_format = "00000"
    batch = import_send(actor=cast.teacher, kind="students", filename="s.xlsx", content=saved(book))
    assert batch.content["files"][0]["rows"][0][1]["code"] == "00123"


def choose(client: Client, page: str, told: dict[int, str], left_out: Sequence[int]) -> str:
    """Send the page's form; where it leads."""
    form = {f"column-{place}": name for place, name in told.items()} | {f"left-{row}": "on" for row in left_out}
    answer = client.post(page, form)
    assert answer.status_code == 302, answer.content.decode()
    return answer["Location"]


def test_the_way_through_the_pages(cast: Cast) -> None:
    """Upload, the page that asks, the preview, and back from it."""
    commit_all(cast.teacher, ("buildings",))
    client = signed_in(cast.teacher)
    asks = client.get(send(client, "students", LIST), follow=True)
    page = asks.redirect_chain[-1][0]
    shown = asks.content.decode()
    assert "Stu ID" in shown
    assert "“Total 2”" not in shown  # it is below the headers: a box to tick
    assert "Leave out row 6: Total 2" in shown
    batch = ImportBatch.objects.get(kind="students")
    preview = choose(client, page, names(batch), [6])
    assert "Save all of it" in client.get(preview).content.decode()
    assert reverse("import_columns", args=[batch.pk]) in client.get(preview).content.decode()
    refused = client.post(page, {"column-0": "code", "column-1": "code"})
    assert refused.status_code == 422
    assert "can&#x27;t both be" in refused.content.decode()
    strict = ImportBatch.objects.get(pk=send(client, "buildings", ALL["buildings"]).split("/")[-2])
    assert client.get(reverse("import_columns", args=[strict.pk])).status_code == 409


def test_the_same_through_the_api(cast: Cast) -> None:
    """What the file seems to be, and what somebody says."""
    commit_all(cast.teacher, ("buildings",))
    client = signed_in(cast.teacher)
    send(client, "students", LIST)
    told = client.get(f"/api/1/imports/{ImportBatch.objects.get(kind='students').pk}/").json()
    assert told["state"] == "matching"
    named = [{"place": one["place"], "column": one["column"]} for one in told["own_columns"] if one["column"]]
    body = {"columns": named, "left_out": [one["row"] for one in told["doubtful_rows"]]}
    answer = client.post(f"/api/1/imports/{told['id']}/columns/", body, content_type="application/json")
    assert (answer.status_code, answer.json()["state"]) == (200, "preview")
    assert answer.json()["tallies"]["students"]["new"] == 2


def test_an_afternoon_without_a_mark_is_asked_and_answered(cast: Cast) -> None:
    """1:05 after 12:20: two buttons, and the cell is what the button says."""
    commit_all(cast.teacher, ("buildings",))
    bells = "Building code,Schedule name,Schedule kind,Period name,Start,End\nELM,Regular,regular,8,12:20,1:05\n"
    client = signed_in(cast.teacher)
    page = send(client, "bell-schedules", bells)
    assert "1:05 PM" in client.get(page).content.decode()
    batch = ImportBatch.objects.get(kind="bell-schedules")
    answer = {"table": "bell-schedules", "value": "1:05", "reading": "1:05 PM"}
    client.post(reverse("import_answer", args=[batch.pk]), answer)
    batch.refresh_from_db()
    assert (batch.problem_count, batch.content["files"][0]["rows"][0][1]["end"]) == (0, "1:05 PM")
