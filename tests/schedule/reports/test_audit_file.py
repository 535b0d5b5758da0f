"""The auditor's file: each session and version, what a spreadsheet reads, who may have it made, what is kept."""

import csv
import datetime as dt
import io
from typing import Any

import openpyxl
import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.services.log import decision_record, delivery_correct
from caseload.delivery.told import Outcome
from caseload.months.models import LogMonth
from caseload.plans.models import ServiceLine
from caseload.plans.services import service_correct
from schedule.closing.services import month_close, month_rules_save
from schedule.reports.audit_rows import COLUMNS
from schedule.reports.selectors import sessions as selector
from schedule.reports.services import session_file_export
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import date, make_ground, make_line
from tests.schedule.log_builders import evening_of, log_line, log_session, publish_session

FIRST, LAST = date(0), date(30)
WHY = "The county's auditor, yearly review"


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """A planned district."""
    make_ground(cast)
    return cast


def rows_of(cast: Cast, **values: Any) -> list[dict[str, str]]:
    """The CSV file by its columns."""
    told: dict[str, Any] = {"first": FIRST, "last": LAST, "teacher": None, "form": "csv", "why": WHY, **values}
    made = session_file_export(actor=cast.coordinator, **told)
    return list(csv.DictReader(io.StringIO(made.content.decode("utf-8-sig"))))


def test_a_session_of_a_published_week_says_where_when_and_by_whom(ground: Cast) -> None:
    """8:30 to 9:00 in the north building, as the week says; logged by the teacher."""
    session = publish_session(date(0), [ground.line])
    session.space = ground.gym
    session.save()
    log_session(ground.teacher, session)
    (row,) = rows_of(ground)
    told = ("Date", "Start", "End", "Place", "Place from", "Space", "Provider", "Logged by", "State")
    assert [row[name] for name in told] == [
        "2026-09-14",
        "08:30",
        "09:00",
        str(ground.north),
        "published week",
        ground.gym.name,
        str(ground.teacher),
        str(ground.teacher),
        "logged",
    ]
    assert (row["Planned minutes"], row["Delivered minutes"], row["Missed minutes"]) == ("30", "30", "0")


def test_a_session_keeps_whose_it_was_and_who_gave_it(ground: Cast) -> None:
    """Another teacher now changes nothing of September's sessions; an assistant's says under whom it was given."""
    planned = publish_session(date(7), [ground.line])
    entry = log_line(ground, date(0), outcome=Outcome(20, "testing", given_by="Wim Orrin", given_under="Ada Vey"))
    line = ServiceLine.objects.get(pk=ground.line.pk)
    service_correct(actor=ground.coordinator, row=line, values={"provider": ground.mate}, seen=None)
    logged, waiting = rows_of(ground)
    assert (logged["Entry"], logged["Provider"]) == (str(entry.pk), str(ground.teacher))
    assert (logged["Given by"], logged["Given under"]) == ("Wim Orrin", "Ada Vey")
    assert (waiting["Date"], waiting["Provider"], waiting["Given by"]) == (
        str(planned.date),
        str(ground.teacher),
        "",
    )
    assert len(rows_of(ground, teacher=ground.teacher)) == 2
    assert rows_of(ground, teacher=ground.mate) == []


def test_each_version_has_its_row_and_the_last_one_counts(ground: Cast) -> None:
    """Logged as missed, corrected to 20 minutes with a note, taken back: three rows, with who and when."""
    entry = log_line(ground, date(0), outcome=Outcome(reason="medical"))
    now = evening_of(date(1))
    for outcome in (Outcome(20, "medical", "Came late"), None):
        entry.refresh_from_db()
        delivery_correct(
            actor=ground.coordinator, entry=entry, outcome=outcome, expected_revision=entry.revision, now=now
        )
    rows = rows_of(ground)
    assert [row["Version"] for row in rows] == ["1", "2", "3"]
    assert [row["Counts"] for row in rows] == ["no", "no", "yes"]
    assert [row["Delivered minutes"] for row in rows] == ["0", "20", ""]
    assert [row["State"] for row in rows] == ["logged", "logged", "log taken back"]
    assert [row["Note"] for row in rows] == ["", "Came late", ""]
    assert [row["Logged by"] for row in rows] == [str(ground.teacher), *[str(ground.coordinator)] * 2]
    assert {row["Place from"] for row in rows} == {"student's school on that date"}
    stored = entry.versions.get(number=1).logged_at
    assert rows[0]["Logged at (UTC)"] == f"{stored:%Y-%m-%dT%H:%M:%SZ}"


def test_a_planned_session_that_nobody_logged_is_a_row(ground: Cast) -> None:
    """The other is logged, and not told twice."""
    publish_session(date(0), [ground.line])
    log_session(ground.teacher, publish_session(date(1), [ground.line]))
    rows = rows_of(ground)
    assert [(row["Date"], row["State"], row["Version"]) for row in rows] == [
        ("2026-09-14", "not logged", ""),
        ("2026-09-15", "logged", "1"),
    ]


def test_decisions_and_amendments_are_told(ground: Cast) -> None:
    """What the team decided, since when the month is closed, and which version came after that."""
    entry = log_line(ground, date(0), outcome=Outcome(reason="medical"))
    decision_record(
        actor=ground.teacher, entry=entry, effect="owed", decided_by="The plan's team", decided_on=date(1),
        expected_revision=entry.revision, now=evening_of(date(1)),
    )  # fmt: skip
    month_rules_save(actor=ground.coordinator, afterwards="amend")
    month_close(
        actor=ground.coordinator, teacher=ground.teacher, month=dt.date(2026, 9, 1), expected_revision=1,
        reason="Nobody signs",
    )  # fmt: skip
    assert LogMonth.objects.get().is_closed
    entry = DeliveryEntry.objects.get()
    delivery_correct(
        actor=ground.coordinator,
        entry=entry,
        outcome=Outcome(10, "medical", "Read it wrong"),
        expected_revision=entry.revision,
    )
    before, after = rows_of(ground)
    assert (before["Team's decision"], before["Decided by"], before["Decided on"]) == (
        "Owed",
        "The plan's team",
        "2026-09-15",
    )
    assert before["District's table"] == "the team decides"
    assert (before["Amendment"], after["Amendment"]) == ("no", "yes")
    assert before["Month closed"] == after["Month closed"] != ""


def test_the_workbook_has_dates_harmless_texts_and_a_sheet_that_explains(ground: Cast) -> None:
    """Dates and times as dates and times; a note that begins like a formula is text (OWASP, CSV injection)."""
    log_line(ground, date(0), outcome=Outcome(note="=HYPERLINK(1)"), start=dt.time(8, 30))
    made = session_file_export(actor=ground.coordinator, first=FIRST, last=LAST, teacher=None, form="xlsx", why=WHY)
    book = openpyxl.load_workbook(io.BytesIO(made.content))
    sheet, about = book["Sessions"], book["Columns"]
    names = [cell.value for cell in sheet[1]]
    cells = dict(zip(names, sheet[2], strict=True))
    assert cells["Date"].value.date() == dt.date(2026, 9, 14)
    assert cells["Start"].value == dt.time(8, 30)
    assert cells["Planned minutes"].value == 30
    assert (cells["Note"].value, cells["Note"].data_type) == ("'=HYPERLINK(1)", "s")
    assert [row[0].value for row in about.iter_rows(min_row=2)] == names == [one.name for one in COLUMNS]


def test_no_students_name_is_in_the_file_or_its_name(ground: Cast) -> None:
    """Codes only."""
    log_line(ground, date(0))
    made = session_file_export(actor=ground.coordinator, first=FIRST, last=LAST, teacher=None, form="csv", why=WHY)
    assert ground.student.last_name not in made.content.decode("utf-8-sig")
    assert ground.student.code in made.content.decode("utf-8-sig")
    assert made.name == "sessions-2026-09-14-2026-10-14.csv"


def test_one_teachers_sessions_alone(ground: Cast) -> None:
    """The mate's aren't in the teacher's file; both are in the district's."""
    log_line(ground, date(0))
    log_session(ground.mate, publish_session(date(1), [make_line(ground, "B1", teacher=ground.mate)]))
    assert len(rows_of(ground)) == 2
    assert [row["Provider"] for row in rows_of(ground, teacher=ground.mate)] == [str(ground.mate)]


def test_only_coordinators_have_it_made_and_it_is_recorded(ground: Cast) -> None:
    """34 CFR 99.32: a record of each disclosure, to whom and why; a refused one leaves none."""
    log_line(ground, date(0))
    for person, status in ((ground.teacher, 403), (ground.office, 403), (ground.substitute, 403)):
        with pytest.raises(ApplicationError) as refused:
            session_file_export(actor=person, first=FIRST, last=LAST, teacher=None, form="csv", why=WHY)
        assert refused.value.status == status
    for values, code in (
        ({"why": " "}, "why_missing"),
        ({"form": "pdf"}, "unknown_form"),
        ({"first": LAST, "last": FIRST}, "dates_swapped"),
    ):
        with pytest.raises(ApplicationError) as refused:
            rows_of(ground, **values)
        assert refused.value.code == code
    assert not AuditEntry.objects.filter(action="report_export").exists()
    stranger = session_file_export(actor=ground.stranger, first=FIRST, last=LAST, teacher=None, form="csv", why=WHY)
    assert ground.student.code not in stranger.content.decode()
    rows_of(ground)
    kept = AuditEntry.objects.get(action="report_export", district=ground.district)
    assert (kept.actor, kept.changes["why"], kept.changes["rows"]) == (ground.coordinator, [None, WHY], [None, 1])


def test_too_many_rows_are_refused_not_cut_off(ground: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    """Named with what to do; the limit is lowered for the test."""
    log_line(ground, date(0))
    log_line(ground, date(1))
    monkeypatch.setattr(selector, "MOST_ROWS", 1)
    with pytest.raises(ApplicationError, match="Choose fewer days"):
        rows_of(ground)


def test_the_queries_do_not_grow(ground: Cast, django_assert_num_queries: Any) -> None:
    """With sessions, students and versions."""
    counts = []
    for code in ("Q1", "Q2", "Q3"):
        line = make_line(ground, code)
        log_session(ground.teacher, publish_session(date(0), [line]), {line.pk: Outcome(reason="medical")})
        with django_assert_num_queries(12):
            counts.append(len(selector.session_rows(ground.coordinator, FIRST, LAST)))
    assert counts == [1, 2, 3]


def test_the_page_explains_the_columns_and_gives_the_file(ground: Cast) -> None:
    """Both forms of it; without a reason it says so; the API gives the same."""
    log_line(ground, date(0))
    client = Client()
    client.force_login(ground.coordinator)
    page = client.get(reverse("report_sessions")).content.decode()
    assert all(column.meaning.split("'")[0] in page for column in COLUMNS)
    sent = {"first": FIRST, "last": LAST, "teacher": "", "form": "csv"}
    assert "This field is required" in client.post(reverse("report_sessions"), sent).content.decode()
    answer = client.post(reverse("report_sessions"), {**sent, "why": WHY})
    assert answer.headers["Content-Disposition"] == 'attachment; filename="sessions-2026-09-14-2026-10-14.csv"'
    body = {"first": str(FIRST), "last": str(LAST), "form": "csv", "why": WHY}
    api = Api(ground.coordinator).client.post("/api/1/reports/sessions/", body, format="json")
    assert api.content == answer.content
    listed = client.get(reverse("report_home")).content.decode()
    assert WHY.replace("'", "&#x27;") in listed
