"""Services that rows name by the numbers of an export: versions that stay together, and who was faster."""

import csv
import datetime as dt
import io

from caseload.plans.models import ServiceLine
from caseload.plans.services import plan_renew, service_change
from schedule.imports.files.export import export_rows
from schedule.imports.tables.every import find_table
from tests.conftest import Cast
from tests.schedule.imports.district import commit, preview, problems

FROM = dt.date(2026, 12, 7)


def exported(cast: Cast) -> list[dict[str, str]]:
    """The teacher's plans as they are exported."""
    table = find_table("plans")
    assert table is not None
    return [dict(zip(table.headers, row, strict=True)) for row in export_rows(cast.teacher, table)]


def written(rows: list[dict[str, str]]) -> str:
    """As a file."""
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def days_apart(cast: Cast) -> list[int]:
    """Of each version of the cast's service."""
    return [one.days_apart for one in ServiceLine.objects.filter(service=cast.line.service).order_by("start")]


def test_versions_in_another_setting_stay_one_service_elsewhere(cast: Cast) -> None:
    """A small group from December, renewed in June: three rows, imported where there are none, make one service."""
    terms = {"setting": "small_group", "largest_group": 3}
    service_change(actor=cast.teacher, row=cast.line, from_day=FROM, values=terms, seen=None)
    plan_renew(actor=cast.teacher, row=cast.plan, values={})
    rows = exported(cast)
    assert len({row["Service"] for row in rows}) == 1
    cast.student.plans.all().delete()
    commit(cast.teacher, "plans", written(rows))
    lines = ServiceLine.objects.filter(plan__student=cast.student)
    assert [one.setting for one in lines.order_by("start")] == ["one_to_one", "small_group", "small_group"]
    assert len({one.service_id for one in lines}) == 1
    again = exported(cast)
    assert preview(cast.teacher, "plans", written(again)).content["tallies"]["plans"]["same"] == 3


def test_without_numbers_they_fall_apart(cast: Cast) -> None:
    """What the number is for: nothing else says that a service went on in another setting."""
    service_change(actor=cast.teacher, row=cast.line, from_day=FROM, values={"setting": "own_class"}, seen=None)
    rows = [{**row, "Service": "", "Revision": ""} for row in exported(cast)]
    cast.student.plans.all().delete()
    commit(cast.teacher, "plans", written(rows))
    assert len({one.service_id for one in ServiceLine.objects.filter(plan__student=cast.student)}) == 2


def test_a_row_that_names_its_service_asks_from_when_its_setting_changes(cast: Cast) -> None:
    """It changes the service that it names, and adds no second one beside it."""
    (row,) = exported(cast)
    (problem,) = problems(preview(cast.teacher, "plans", written([{**row, "Setting": "own class"}])))
    assert problem.column == "From"
    commit(cast.teacher, "plans", written([{**row, "Setting": "own class", "From": "2026-12-07"}]))
    lines = ServiceLine.objects.filter(plan__student=cast.student).order_by("start")
    assert [one.setting for one in lines] == ["one_to_one", "own_class"]
    assert len({one.service_id for one in lines}) == 1


def test_a_row_from_before_somebody_elses_change_is_refused(cast: Cast) -> None:
    """It says how the service is now, and how to save the row all the same."""
    (row,) = exported(cast)
    mine = {**row, "Days apart": "2"}
    service_change(actor=cast.coordinator, row=cast.line, from_day=FROM, values={"days_apart": 3}, seen=None)
    (problem,) = problems(preview(cast.teacher, "plans", written([{**mine, "Service end": "2026-12-06"}])))
    assert problem.column == "Revision"
    assert "now 2 x 30 min/week from September 1, 2026 to December 6, 2026; 2 x 30" in problem.message
    assert "Its revision is 2 now" in problem.remedy
    commit(cast.teacher, "plans", written([{**mine, "Service end": "2026-12-06", "Revision": ""}]))
    assert [one.days_apart for one in ServiceLine.objects.filter(service=cast.line.service).order_by("start")] == [
        2,
        3,
    ]


def test_two_rows_of_a_file_may_change_one_service(cast: Cast) -> None:
    """The first one raises the revision, and isn't somebody else."""
    service_change(actor=cast.teacher, row=cast.line, from_day=FROM, values={"days_apart": 3}, seen=None)
    rows = [{**row, "Days apart": "2", "Largest group": "1"} for row in exported(cast)]
    rows[1]["Days apart"] = "4"
    commit(cast.teacher, "plans", written(rows))
    assert [one.days_apart for one in ServiceLine.objects.filter(service=cast.line.service).order_by("start")] == [
        2,
        4,
    ]
