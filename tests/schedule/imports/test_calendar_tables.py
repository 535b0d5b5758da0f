"""The calendar as tables: what a row is refused for, and what an export leaves to "Something happened"."""

import datetime as dt

from schedule.calendar.models import CalendarEntry, Happening, SchoolYear
from schedule.imports.files.export import export_rows
from schedule.imports.tables.calendar import SPECIAL_DAYS
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.imports.district import ALL, commit, commit_all, preview, problems
from tests.schedule.log_builders import publish_session

THURSDAY = dt.date(2026, 11, 26)
HEADER = ALL["special-days"].partition("\n")[0]


def test_a_closing_of_planned_days_is_said_where_its_effects_are_shown(cast: Cast) -> None:
    """A week in force would change without a word."""
    publish_session(MONDAY, [cast.line])
    found = problems(preview(cast.teacher, "special-days", f"{HEADER}\n{MONDAY},,,closed,Storm,,,\n"))
    assert [one.row for one in found] == [2]
    assert "Something happened" in found[0].message
    assert not CalendarEntry.objects.exists()


def test_a_marking_period_names_a_year_that_is_there(cast: Cast) -> None:
    text = ALL["marking-periods"]
    found = problems(preview(cast.teacher, "marking-periods", text))
    assert [(one.row, one.column) for one in found] == [(2, "School year"), (3, "School year")]
    assert "import or add the school year first" in found[0].remedy
    commit(cast.teacher, "school-years", ALL["school-years"])
    assert problems(preview(cast.teacher, "marking-periods", text)) == []


def test_bells_of_a_special_day_belong_to_one_building(cast: Cast) -> None:
    commit_all(cast.teacher, ("buildings", "bell-schedules"))
    row = "2026-12-23,,{building},other bell,Concert,{bells},,"
    several = (("", "Short day"), ("FEN", "Short day"), ("ELM", ""))
    lines = "\n".join(row.format(building=building, bells=bells) for building, bells in several)
    found = problems(preview(cast.teacher, "special-days", f"{HEADER}\n{lines}\n"))
    assert [(one.row, one.column) for one in found][:2] == [(2, "Schedule name"), (3, "Schedule name")]
    assert "Fill Building code" in found[0].remedy
    assert "Choose the bell schedule" in found[2].message


def test_what_was_said_to_have_happened_is_no_row_of_the_calendar(cast: Cast) -> None:
    """It is taken back whole where it was said; a row of the same day makes an entry beside it."""
    commit(cast.teacher, "school-years", ALL["school-years"])
    day = {"district": cast.district, "kind": "closed", "first_date": THURSDAY, "last_date": THURSDAY}
    happened = Happening.objects.create(said_by=cast.teacher, **day)
    CalendarEntry.objects.create(title="Storm", happening=happened, **day)
    assert list(export_rows(cast.coordinator, SPECIAL_DAYS)) == []
    commit(cast.teacher, "special-days", f"{HEADER}\n2026-11-26,2026-11-27,,closed,Fall break,,,\n")
    assert sorted(CalendarEntry.objects.values_list("title", flat=True)) == ["Fall break", "Storm"]
    assert [row[4] for row in export_rows(cast.coordinator, SPECIAL_DAYS)] == ["Fall break"]
    assert SchoolYear.objects.count() == 2
