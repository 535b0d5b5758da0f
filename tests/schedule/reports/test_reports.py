"""Reports on screen and as files: what stands in them, who may make them, and what is written down."""

import datetime as dt
import io

import pypdf
import pytest
import tablib
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.told import Outcome
from caseload.ledger.defaults import NO_JUDGMENT
from caseload.ledger.report_data import report_from_json, step_chart
from caseload.plans.models import ServiceLine
from caseload.plans.services import service_change
from jobs.runner import run_job
from schedule.reports.models import StoredReport
from schedule.reports.selectors import places as reports
from schedule.reports.selectors.people import student_report, teacher_report
from schedule.reports.selectors.places import building_report, district_report
from tests.conftest import Cast
from tests.schedule.builders import YEAR_END, YEAR_START, date, make_ground, make_line
from tests.schedule.log_builders import log_session, publish_session

SATURDAY = date(5)


@pytest.fixture
def line(cast: Cast) -> ServiceLine:
    """2 x 30 a week: one session held, one missed for an assembly, in one week."""
    make_ground(cast)
    cast.line.delete()
    mine = make_line(cast, "A1", statement="2 x 30 min/week", times=2)
    log_session(cast.teacher, publish_session(date(0), [mine]))
    missed = publish_session(date(2), [mine])
    log_session(cast.teacher, missed, {mine.pk: Outcome(reason="assembly")})
    return mine


def test_a_service_record_says_what_was_owed_and_what_happened(cast: Cast, line: ServiceLine) -> None:
    """60 owed, 30 delivered, 30 missed and still owed; each session in its row; the rules at the end."""
    report = student_report(cast.teacher, line.plan.student, date(0), SATURDAY, SATURDAY)
    services, periods, sessions = report.tables
    found = dict(zip(services.columns, services.rows[0], strict=True))
    assert [found[name] for name in ("Owed", "Delivered", "Missed", "Still owed")] == [60, 30, 30, 30]
    assert periods.rows[0][2:5] == (60, 30, 30)
    assert [(row[0], row[2], row[3]) for row in sessions.rows] == [(date(0), 30, 30), (date(2), 30, 0)]
    assert report.rules[-1] == NO_JUDGMENT
    assert any("what is scheduled on the days in session" in rule for rule in report.rules)
    assert report.chart is not None
    assert (report.chart.owed_total, report.chart.delivered_total) == (60, 30)


def test_each_statement_of_the_dates_stands_on_the_sheet(cast: Cast, line: ServiceLine) -> None:
    """3 x 30 from the second Monday on: one row of figures, 60 + 90 owed, and each week under its own statement."""
    old, new = "2 x 30 min/week", "3 x 30 min/week"
    line = ServiceLine.objects.get(pk=line.pk)
    service_change(actor=cast.teacher, row=line, from_day=date(7), values={"statement": new}, seen=None)
    report = student_report(cast.teacher, line.plan.student, date(0), date(13), date(13))
    tables = {table.title: table for table in report.tables}
    (service,) = tables["Services"].rows
    assert service[:1] == (f"{old}, then {new}",)
    assert service[tables["Services"].columns.index("Owed")] == 60 + 90
    assert service[1] == "2 x 30 = 60 minutes a week, then 3 x 30 = 90 minutes a week"
    assert [(row[0], row[3], row[4], row[5]) for row in tables["Services that changed"].rows] == [
        (old, YEAR_START, date(6), str(cast.teacher)),
        (new, date(7), YEAR_END, str(cast.teacher)),
    ]
    assert [(row[0], row[2]) for row in tables["Periods"].rows] == [(old, 60), (new, 90)]
    assert {row[1] for row in tables["Sessions"].rows} == {old}
    first_week = student_report(cast.teacher, line.plan.student, date(0), date(6), date(13))
    tables = {table.title: table for table in first_week.tables}
    assert tables["Services"].rows[0][0] == old
    assert "Services that changed" not in tables


@pytest.mark.parametrize(
    ("first", "last", "owed", "open_before"),
    [
        (date(0), date(13), 120, 0),
        (date(0), date(1), 30, 0),
        (date(0), date(2), 60, 0),
        (date(7), date(13), 60, 30),
        (date(9), date(9), 60, 30),
        (date(3), date(8), 90, 0),
    ],
)
def test_services_periods_sessions_and_chart_of_one_sheet_agree(
    cast: Cast, line: ServiceLine, first: dt.date, last: dt.date, owed: int, open_before: int
) -> None:
    """Two weeks of 60, whatever dates are asked for: whole periods from the first, nothing known after the last.

    What was asked for from the second week on once said 120 owed beside sessions of 60.
    """
    for number in (7, 9):
        log_session(cast.coordinator, publish_session(date(number), [line]), {line.pk: Outcome(25, "testing")})
    report = student_report(cast.teacher, line.plan.student, first, last, date(13))
    tables = {table.title: table for table in report.tables}
    (service,) = tables["Services"].rows
    found = dict(zip(tables["Services"].columns, service, strict=True))
    columns = list(zip(*tables["Periods"].rows, strict=True))
    assert (found["Owed"], sum(int(one) for one in columns[2])) == (owed, owed)
    delivered = int(str(found["Delivered"])) + int(str(found["Made up"]))
    assert sum(int(one) for one in columns[3]) == delivered
    assert sum(int(one) for one in columns[4]) == found["Still owed"]
    rows = tables["Sessions"].rows
    assert sum(int(str(row[3])) for row in rows) == delivered
    assert sum(int(str(row[4])) for row in rows) == found["Missed"]
    assert all(isinstance(row[0], dt.date) and row[0] <= last for row in rows)
    assert report.chart is not None or first == last
    if report.chart is not None:
        assert (report.chart.owed_total, report.chart.delivered_total) == (owed, delivered)
    before = tables["Open from before"].rows if "Open from before" in tables else ()
    assert sum(int(str(row[1])) for row in before) == open_before


def test_a_teachers_month_adds_up(cast: Cast, line: ServiceLine) -> None:
    """The sums stand below, the reasons beside."""
    report = teacher_report(cast.teacher, cast.teacher, date(0), SATURDAY)
    students, reasons = report.tables
    assert students.rows[0][2:] == (60, 30, 0, 30, 0, 30)
    assert students.totals[2:] == students.rows[0][2:]
    assert reasons.rows == (("Assembly or trip", 30),)


def test_building_and_district_sum_what_the_ledgers_say(cast: Cast, line: ServiceLine) -> None:
    """A second student, of a mate, counts for the coordinator and not for the teacher."""
    other = make_line(cast, "B1", teacher=cast.mate)
    log_session(cast.mate, publish_session(date(1), [other], "10:10", "10:40"))
    mine = building_report(cast.teacher, cast.north, SATURDAY, SATURDAY)
    everyone = building_report(cast.coordinator, cast.north, SATURDAY, SATURDAY)
    assert [len(report.tables[0].rows) for report in (mine, everyone)] == [1, 2]
    buildings, teachers = district_report(cast.coordinator, SATURDAY, SATURDAY).tables
    [north] = [row for row in buildings.rows if row[0] == cast.north.name]
    assert north[1:5] == (3, 1, 90, 60)
    assert {row[0]: row[3] for row in teachers.rows} == {str(cast.teacher): 60, str(cast.mate): 30}


def test_strangers_make_no_report(cast: Cast, line: ServiceLine) -> None:
    """Others' students aren't there; the district's report is the coordinator's."""
    for person in (cast.mate, cast.stranger, cast.office, cast.substitute):
        with pytest.raises(ApplicationError) as refused:
            student_report(person, line.plan.student, date(0), SATURDAY, SATURDAY)
        assert refused.value.status == 404
        assert not building_report(person, cast.north, SATURDAY, SATURDAY).tables[0].rows
    with pytest.raises(ApplicationError) as refused:
        district_report(cast.teacher, SATURDAY, SATURDAY)
    assert refused.value.status == 403


def export(client: Client, address: str, form: str, why: str = "") -> tuple[str, bytes]:
    """The file's name and content."""
    response = client.post(address, {"form": form, "why": why})
    assert response.status_code == 200, response.content[:500]
    return response.headers["Content-Disposition"], response.content


@pytest.mark.usefixtures("pango")
def test_files_are_harmless_name_nobody_and_are_written_down(client: Client, cast: Cast, line: ServiceLine) -> None:
    """A last name that begins like a formula is text in CSV and XLSX; who, when, what and why are kept."""
    student = line.plan.student
    student.last_name = "=HYPERLINK(1)"
    student.save()
    client.force_login(cast.teacher)
    address = reverse("report_building", args=[cast.north.pk]) + f"?last={SATURDAY}"
    name, content = export(client, address, "csv", "for the principal")
    assert "'=HYPERLINK(1)" in content.decode("utf-8-sig")
    assert "HYPERLINK" not in name
    assert NO_JUDGMENT in content.decode("utf-8-sig")
    _, content = export(client, address, "xlsx")
    book = tablib.Databook().load(io.BytesIO(content), format="xlsx")
    cells = [str(cell) for sheet in book.sheets() for row in sheet for cell in row]
    assert any(cell.startswith("'=HYPERLINK(1)") for cell in cells)
    assert not any(cell.startswith("=") for cell in cells)
    assert NO_JUDGMENT in cells
    kept = AuditEntry.objects.filter(action="report_export").order_by("pk")
    assert [entry.actor for entry in kept] == [cast.teacher, cast.teacher]
    assert kept[0].changes["why"] == [None, "for the principal"]
    assert "HYPERLINK" not in str(kept[0].changes)


@pytest.mark.usefixtures("pango")
def test_the_pdf_holds_figures_rules_and_the_sentence(client: Client, cast: Cast, line: ServiceLine) -> None:
    """Readable text, not a picture."""
    client.force_login(cast.teacher)
    address = reverse("report_student", args=[line.plan.student_id]) + f"?first={date(0)}&last={SATURDAY}"
    name, content = export(client, address, "pdf")
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages)
    words = " ".join(text.split())
    assert "Quernmore" in words
    assert NO_JUDGMENT.replace("'", "\N{RIGHT SINGLE QUOTATION MARK}") in words or NO_JUDGMENT in words
    assert "60 owed" in words
    assert "Quernmore" not in name


def test_a_refused_file_is_not_written_down(client: Client, cast: Cast, line: ServiceLine) -> None:
    """An unknown kind of file, and dates that are swapped."""
    client.force_login(cast.teacher)
    address = reverse("report_student", args=[line.plan.student_id])
    assert client.post(address, {"form": "exe"}).status_code == 422
    swapped = f"{address}?first={SATURDAY}&last={date(0)}"
    response = client.post(swapped, {"form": "csv"})
    assert response.status_code == 422
    assert b"is before the first" in response.content
    assert not AuditEntry.objects.filter(action="report_export").exists()


@given(st.lists(st.tuples(st.integers(0, 60), st.integers(0, 90)), max_size=20))
def test_the_chart_ends_at_the_sums(events: list[tuple[int, int]]) -> None:
    """Both lines end at the sum of their events, and inside the frame."""
    dated = [(date(offset), minutes) for offset, minutes in events]
    chart = step_chart(dated, dated[:5], date(0), date(60))
    assert chart.owed_total == sum(minutes for _, minutes in dated)
    assert chart.delivered_total == sum(minutes for _, minutes in dated[:5])
    assert all(chart.top <= tick.at <= chart.base for tick in chart.minutes)
    assert int(chart.minutes[-1].text) >= max(chart.owed_total, chart.delivered_total)


def test_the_home_of_reports_lists_what_the_person_sees(client: Client, cast: Cast, line: ServiceLine) -> None:
    """A mate sees no other teacher's student."""
    client.force_login(cast.mate)
    assert line.plan.student.code not in client.get(reverse("report_home")).content.decode()
    client.force_login(cast.coordinator)
    assert line.plan.student.code in client.get(reverse("report_home")).content.decode()


def test_a_large_district_is_worked_out_in_the_background(
    client: Client, cast: Cast, line: ServiceLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Asked for, made by the job, shown and exported as it was made; the same figures as at once."""
    at_once = district_report(cast.coordinator, SATURDAY, SATURDAY)
    monkeypatch.setattr(reports, "AT_ONCE", 1)
    client.force_login(cast.coordinator)
    address = reverse("report_district") + f"?last={SATURDAY}"
    assert "Work it out" in client.get(address).content.decode()
    for _ in range(2):
        assert client.post(address, {"start": "1"}).status_code == 302
    job = StoredReport.objects.get().job
    assert "is being worked out" in client.get(address).content.decode()
    run_job(job.pk)
    assert cast.north.name in client.get(address).content.decode()
    kept = report_from_json(StoredReport.objects.get().content)
    assert kept.tables == at_once.tables
    _, content = export(client, address, "csv")
    assert NO_JUDGMENT in content.decode("utf-8-sig")


def test_days_are_said_on_the_page_and_stay_days_in_files(client: Client, cast: Cast, line: ServiceLine) -> None:
    """A person reads "Sep 14, 2026"; a workbook sorts and counts days; the CSV has ISO 8601."""
    client.force_login(cast.teacher)
    address = reverse("report_student", args=[line.plan.student_id]) + f"?first={date(0)}&last={SATURDAY}"
    page = client.get(address).content.decode()
    assert "Sep 14, 2026" in page
    assert ">2026-09-14<" not in page
    _, content = export(client, address, "xlsx")
    sheets = tablib.Databook().load(io.BytesIO(content), format="xlsx").sheets()
    [sessions] = [one for one in sheets if one.title == "Sessions"]
    assert str(sessions[0][0]) == "2026-09-14 00:00:00"
    assert "\n2026-09-14," in export(client, address, "csv")[1].decode()
