"""Tables of trips and vouchers: who may say what, what is claimed stays, and taking it back.

What a teacher says and a coordinator doesn't, is what docs/mileage.md has; no outside source.
"""

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from schedule.imports.files.export import export_rows
from schedule.imports.services.tables import import_undo
from schedule.imports.tables.columns import Table
from schedule.imports.tables.mileage import TRIPS, VOUCHERS
from schedule.trips.selectors.vouchers import steps_of, sums_of
from schedule.trips.services.vouchers import voucher_submit
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit, commit_all, only_problem, preview, problems, to_csv
from travel.mileage.models import Trip, Voucher
from travel.mileage.selectors import entries_of
from travel.places.models import Building

pytestmark = pytest.mark.django_db
HEAD = "Teacher,Day driven,From building,To building,Driven,Direct miles,Driven miles,Parking"
UNTIL_DRIVES = ("buildings", "own-drive-times")
OCTOBER = dt.date(2025, 10, 1)


def trip(row: str) -> str:
    return f"{HEAD}\n{row}\n"


def read_back(viewer: Person, table: Table) -> dict[str, int]:
    """What reading the own rows back would do."""
    batch = preview(viewer, table.kind, to_csv(table.headers, export_rows(viewer, table)))
    assert problems(batch) == []
    found: dict[str, int] = batch.content["tallies"][table.kind]
    return found


def submitted(teacher: Person) -> Voucher:
    """The month's voucher, signed by its teacher."""
    today = dt.date(2025, 11, 3)
    return voucher_submit(actor=teacher, teacher=teacher, month=OCTOBER, today=today, now=timezone.now())


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """Two buildings, and a drive of 8.4 miles that the teacher entered once for all."""
    commit_all(cast.teacher, UNTIL_DRIVES)
    return cast


# ---- trips -----------------------------------------------------------------------------------------------------


def test_a_teachers_trip_has_the_miles_of_the_chart(ground: Cast) -> None:
    """As on the page: 8.4 by the own table of drives; other miles are driven miles, not the chart's."""
    batch = commit(ground.teacher, "trips", trip(",2025-10-06,ELM,FEN,,,8.9,2.5"))
    row = Trip.objects.get()
    assert (row.direct_miles, row.direct_source, row.driven_miles) == (Decimal("8.4"), "entered", Decimal("8.9"))
    assert (row.parking, row.status, row.from_week) == (Decimal("2.50"), "confirmed", False)
    assert AuditEntry.objects.filter(action="trip_bring", actor=ground.teacher).count() == 1
    assert read_back(ground.teacher, TRIPS) == {"new": 0, "changed": 0, "same": 1, "removed": 0}
    problem = only_problem(preview(ground.teacher, "trips", trip(",2025-10-07,ELM,FEN,,30,,")))
    assert (problem.row, problem.column) == (2, "Direct miles")
    assert "The chart knows this way: 8.4 miles" in problem.message
    import_undo(actor=ground.teacher, batch=batch)
    assert not Trip.objects.exists()


def test_a_row_corrects_a_trip(ground: Cast) -> None:
    commit(ground.teacher, "trips", trip(",2025-10-06,ELM,FEN,,,8.9,2.5"))
    text = trip(",2025-10-06,ELM,FEN,not driven,,8.9,2.5")
    (told,) = preview(ground.teacher, "trips", text).content["outcomes"]["trips"]
    assert told == [2, "changed", ["Driven: driven → not driven"]]
    commit(ground.teacher, "trips", text)
    assert Trip.objects.get().status == Trip.Status.NOT_DRIVEN


def test_a_submitted_month_stays(ground: Cast) -> None:
    """A changed row and a new one are refused with what to do; the same rows change nothing; nothing is undone."""
    batch = commit(ground.teacher, "trips", trip(",2025-10-06,ELM,FEN,,,,"))
    voucher = submitted(ground.teacher)
    lines = list(voucher.lines.values())
    for row in (",2025-10-06,ELM,FEN,,,,9", ",2025-10-08,ELM,FEN,,,,"):
        problem = only_problem(preview(ground.teacher, "trips", trip(row)))
        assert "is submitted" in problem.message
        assert "starts a supplement" in problem.remedy
    problem = only_problem(preview(ground.coordinator, "trips", trip("teacher,2025-10-08,ELM,FEN,,,,")))
    assert "is submitted" in problem.message
    for viewer in (ground.teacher, ground.coordinator):
        assert read_back(viewer, TRIPS) == {"new": 0, "changed": 0, "same": 1, "removed": 0}
    with pytest.raises(ApplicationError, match="the voucher of October 2025 is submitted") as refused:
        import_undo(actor=ground.teacher, batch=batch)
    assert refused.value.code == "voucher_locked"
    assert list(voucher.lines.values()) == lines


@pytest.mark.parametrize(
    ("who", "row", "column", "words"),
    [
        ("coordinator", "teacher,2025-10-06,ELM,FEN,,,9,", "", "Only whoever drove"),
        ("teacher", "mate,2025-10-06,ELM,FEN,,,,", "Teacher", "isn't you"),
        ("teacher", ",2025-10-06,,,,,,", "From building", "no building"),
        ("teacher", ",2999-10-06,ELM,FEN,,,,", "Day driven", "still ahead"),
        ("teacher", ",2025-10-06,ELM,OAK,,,,", "To building", "OAK"),
        ("teacher", ",2025-10-09,ELM,ELM,,,,", "From building", "two different places"),
        ("coordinator", "nobody,2025-10-06,ELM,FEN,,,,", "Teacher", "nobody"),
    ],
)
def test_what_a_row_of_a_trip_may_not_say(ground: Cast, who: str, row: str, column: str, words: str) -> None:
    commit(ground.teacher, "trips", trip(",2025-10-06,ELM,FEN,,,,"))
    problem = only_problem(preview(getattr(ground, who), "trips", trip(row)))
    assert (problem.row, problem.column) == (2, column)
    assert words in problem.message
    assert problem.remedy


def test_a_coordinator_adds_what_is_missing_and_the_teacher_submits(ground: Cast) -> None:
    commit(ground.coordinator, "trips", trip("teacher,2025-10-06,ELM,FEN,,8.4,,"))
    voucher = submitted(ground.teacher)
    assert (voucher.submitted_by, sums_of(entries_of([voucher])).miles) == (ground.teacher, Decimal("8.4"))


# ---- vouchers --------------------------------------------------------------------------------------------------


@pytest.fixture
def brought(ground: Cast) -> Cast:
    """A paid voucher of October and its open supplement, kept elsewhere before."""
    commit(ground.coordinator, "vouchers", ALL["vouchers"])
    return ground


def test_a_voucher_comes_with_its_lines_and_what_became_of_it(brought: Cast) -> None:
    row, supplement = Voucher.objects.order_by("number")
    assert (row.status, row.teacher, row.submitted_by) == ("paid", brought.teacher, brought.teacher)
    assert row.submitted_at == dt.datetime(2025, 11, 2, 14, 5, 0, 250000, tzinfo=dt.UTC)
    assert [(one.status, one.by, one.words) for one in steps_of(row)] == [
        ("approved", brought.coordinator, ""),
        ("paid", brought.coordinator, "Check 114"),
    ]
    assert sums_of(entries_of([row])).total == Decimal("8.38")
    line, answer = row.lines.get(), row.answers.get()
    places = Building.objects.filter(code__in=("ELM", "FEN")).order_by("code").values_list("pk", flat=True)
    assert line.key.split("-") == ["20251006", *map(str, places), "1"]
    assert answer.key == f"over/{line.key}/8.9"
    assert (supplement.status, supplement.supplement_of, supplement.reprices) == ("open", row, True)
    assert read_back(brought.coordinator, VOUCHERS) == {"new": 0, "changed": 0, "same": 2, "removed": 0}


@pytest.mark.parametrize(
    ("was", "becomes"),
    [("8.4,0.70,IRS 2025,5.88", "84,0.70,IRS 2025,58.80"), ("paid,,Every", "approved,,Every"), ("2.50,0", "25,0"),
     ("; Check 114", "; Check 115"), ("Bridge closed\"\"]]", "Detour\"\"]]")],
)  # fmt: skip
def test_no_table_rewrites_what_was_submitted(brought: Cast, was: str, becomes: str) -> None:
    before = list(Voucher.objects.values()), [list(one.lines.values()) for one in Voucher.objects.all()]
    text = ALL["vouchers"].replace(was, becomes)
    assert text != ALL["vouchers"]
    problem = only_problem(preview(brought.coordinator, "vouchers", text))
    assert problem.message == "The voucher of October 2025 is here and says otherwise: what was submitted stays."
    assert "supplement" in problem.remedy
    assert (list(Voucher.objects.values()), [list(one.lines.values()) for one in Voucher.objects.all()]) == before


def test_a_month_that_came_with_its_voucher_isnt_claimed_twice(brought: Cast) -> None:
    """October's supplement is open and November has no voucher: only what October doesn't have is claimed."""
    Voucher.objects.filter(status="open").delete()
    problem = only_problem(preview(brought.teacher, "trips", trip(",2025-10-06,ELM,FEN,,,,")))
    assert "is submitted" in problem.message


@pytest.mark.parametrize(
    ("was", "becomes", "column"),
    [
        ("teacher,2025-10-01,1,,open", "teacher,2025-10-01,2,,open", "Supplement"),
        ("2025-11-02T14:05:00.250000+00:00", "yesterday", "Submitted at"),
        ("approved; 2025-11-03T14:00:00+00:00; coordinator;", "approved by me", "What became of it"),
        ("coordinator; Check 114", "nobody; Check 114", "What became of it"),
        ("[[\"\"over", "[[over", "Answers"),
        (",8.4,0.70,", ",,0.70,", "Miles"),
        ("teacher,2025-10-01,,,paid", "nobody,2025-10-01,,,paid", "Teacher"),
    ],
)  # fmt: skip
def test_a_wrong_row_of_a_voucher_is_told_where(ground: Cast, was: str, becomes: str, column: str) -> None:
    text = ALL["vouchers"].replace(was, becomes)
    assert text != ALL["vouchers"]
    found = problems(preview(ground.coordinator, "vouchers", text))
    assert column in {one.column for one in found}
    assert all(one.remedy for one in found)
    assert not Voucher.objects.exists()


def test_vouchers_are_for_coordinators_and_nobodys_own(ground: Cast) -> None:
    with pytest.raises(ApplicationError, match="Your role can't bring the table “Vouchers”"):
        preview(ground.teacher, "vouchers", ALL["vouchers"])
    own = ALL["vouchers"].replace("teacher,2025", "coordinator,2025")
    found = problems(preview(ground.coordinator, "vouchers", own))
    assert found
    assert not Voucher.objects.exists()


def test_a_voucher_that_was_brought_is_taken_back(ground: Cast) -> None:
    batch = commit(ground.coordinator, "vouchers", ALL["vouchers"])
    import_undo(actor=ground.coordinator, batch=batch)
    assert not Voucher.objects.exists()
