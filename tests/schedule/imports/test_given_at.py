"""The column of plans that says where a service is given, and classes and spaces of where a student is then."""

import csv
import datetime as dt
import io

from caseload.plans.models import Enrollment, ServiceLine
from caseload.plans.services import enrollment_save, service_line_save, student_move
from schedule.imports.files.export import export_rows
from schedule.imports.tables.every import find_table
from tests.conftest import Cast
from tests.schedule.imports.district import commit, preview, problems
from travel.places.models import Space

FROM = dt.date(2026, 10, 5)
HEAD = "Student code,Plan start,Plan end,Statement,Setting,Given at,Allowed spaces,From\n"
ROW = "S01,2026-09-01,2027-06-18,2 x 30 min/week,one to one,{building},{spaces},{day}\n"


def enter_program(cast: Cast) -> None:
    """Mornings at South from October 5, beside North."""
    values = {"building": cast.south, "grade": "3", "first_day": FROM}
    enrollment_save(actor=cast.teacher, row=Enrollment(student=cast.student, is_program=True), values=values)


def test_a_row_gives_a_service_at_the_program(cast: Cast) -> None:
    """With a day it begins then; without one it is asked, for it changes by which calendar the past counts."""
    enter_program(cast)
    code = cast.south.code
    (problem,) = problems(preview(cast.teacher, "plans", HEAD + ROW.format(building=code, spaces="", day="")))
    assert problem.column == "From"
    commit(cast.teacher, "plans", HEAD + ROW.format(building=code, spaces="", day="2026-10-05"))
    assert [one.building for one in ServiceLine.objects.order_by("start")] == [None, cast.south]


def test_a_building_where_the_student_isnt_is_refused_at_its_column(cast: Cast) -> None:
    """With what to do."""
    text = HEAD + ROW.format(building=cast.south.code, spaces="", day="2026-10-05")
    (problem,) = problems(preview(cast.teacher, "plans", text))
    assert problem.column == "Given at"
    assert "Enter the program there first" in problem.message


def test_spaces_are_looked_up_where_the_service_is_given_on_its_day(cast: Cast) -> None:
    """South's hall, for the program there."""
    Space.objects.create(building=cast.south, name="Hall", kind="gym")
    enter_program(cast)
    commit(cast.teacher, "plans", HEAD + ROW.format(building=cast.south.code, spaces="Hall", day="2026-10-05"))
    assert [one.name for one in ServiceLine.objects.latest("start").allowed_spaces.all()] == ["Hall"]


def test_spaces_are_looked_up_where_the_student_is_by_then(cast: Cast) -> None:
    """The record still shows North; from June on the student is at South."""
    Space.objects.create(building=cast.south, name="Hall", kind="gym")
    day = dt.date(2027, 6, 1)
    student_move(actor=cast.teacher, student=cast.student, from_day=day, values={"building": cast.south})
    commit(cast.teacher, "plans", HEAD + ROW.format(building="", spaces="Hall", day=day.isoformat()))
    assert [one.name for one in ServiceLine.objects.latest("start").allowed_spaces.all()] == ["Hall"]


def test_an_export_says_where(cast: Cast) -> None:
    """And sent back it changes nothing."""
    enter_program(cast)
    service_line_save(actor=cast.teacher, row=cast.line, values={"building": cast.south})
    table = find_table("plans")
    assert table is not None
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow([column.header for column in table.columns])
    writer.writerows(export_rows(cast.teacher, table))
    (row,) = list(csv.DictReader(io.StringIO(written.getvalue())))
    assert row["Given at"] == cast.south.code
    assert preview(cast.teacher, "plans", written.getvalue()).content["tallies"]["plans"]["same"] == 1


ELSEWHERE = HEAD.replace("From", "Held in,Held in space,Minutes on the way,From")
AWAY = "S01,2026-09-01,2027-06-18,2 x 30 min/week,one to one,,,{building},{space},{way},2026-10-05\n"


def test_a_row_says_that_a_service_is_held_in_another_building(cast: Cast) -> None:
    """By code or name; sent back it changes nothing."""
    pool = Space.objects.create(building=cast.south, name="Pool", kind="pool")
    text = ELSEWHERE + AWAY.format(building=cast.south.name, space="pool", way="10")
    commit(cast.teacher, "plans", text)
    line = ServiceLine.objects.latest("start")
    assert (line.start, line.held_in, line.way_minutes) == (FROM, pool, 10)
    table = find_table("plans")
    assert table is not None
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerow([column.header for column in table.columns])
    writer.writerows(export_rows(cast.teacher, table))
    rows = list(csv.DictReader(io.StringIO(written.getvalue())))
    assert [(row["Held in"], row["Held in space"], row["Minutes on the way"]) for row in rows] == [
        ("", "", "0"),
        (cast.south.code, "Pool", "10"),
    ]
    assert preview(cast.teacher, "plans", written.getvalue()).content["tallies"]["plans"]["same"] == 2


def test_half_of_it_or_an_unknown_space_is_refused_at_its_column(cast: Cast) -> None:
    """With what to fill in."""
    half = ELSEWHERE + AWAY.format(building=cast.south.code, space="", way="10")
    (problem,) = problems(preview(cast.teacher, "plans", half))
    assert problem.column == "Held in space"
    unknown = ELSEWHERE + AWAY.format(building=cast.south.code, space="Lagoon", way="10")
    (problem,) = problems(preview(cast.teacher, "plans", unknown))
    assert (problem.column, "Lagoon" in problem.message) == ("Held in space", True)
