"""Bells with first days as a table: read, written, and taken back."""

import datetime as dt

import pytest

from schedule.calendar.models import BellPeriod, BellSchedule, SchoolYear
from schedule.calendar.selectors.bells import sets_of
from schedule.imports.files.export import export_rows
from schedule.imports.services.tables import import_undo
from schedule.imports.tables.schools import BELL_SCHEDULES
from tests.conftest import Cast, date_there
from tests.schedule.imports.district import commit, commit_all, dump_database

pytestmark = pytest.mark.django_db

HEADER = (
    "Building code,Schedule name,Rings from,Schedule kind,Passing minutes,"
    "Period name,Period kind,Start,End,Grades\n"
)
LATER = (
    "ELM,Half day,,other,4,Block 1,instruction,8:30,9:15,\n"
    "ELM,Half day,2027-01-04,other,4,Block 1,instruction,8:45,9:30,\n"
    "ELM,Half day,2027-01-04,other,4,Block 2,instruction,9:35,10:20,\n"
)


def own_table(cast: Cast) -> str:
    """The teacher's bells as they are exported."""
    rows = [BELL_SCHEDULES.headers, *export_rows(cast.teacher, BELL_SCHEDULES)]
    return "\n".join(",".join(row) for row in rows) + "\n"


def test_a_first_day_is_read_and_written(cast: Cast) -> None:
    """New bells with two sets in one file; the own export read back changes nothing; undone it is all gone."""
    commit_all(cast.teacher, ("buildings",))
    before = dump_database()
    batch = commit(cast.teacher, "bell-schedules", HEADER + LATER)
    first, second = sets_of(BellSchedule.objects.get(name="Half day"))
    assert (first.first, first.last, second.first) == (None, dt.date(2027, 1, 3), dt.date(2027, 1, 4))
    assert [len(one.periods) for one in (first, second)] == [1, 2]
    again = commit(cast.teacher, "bell-schedules", own_table(cast))
    tally = again.content["tallies"]["bell-schedules"]
    assert (tally["new"], tally["changed"], tally["removed"]) == (0, 0, 0)
    import_undo(actor=cast.teacher, batch=again)
    import_undo(actor=cast.teacher, batch=batch)
    assert dump_database() == before


def test_a_file_without_the_column_counts_from_today_on(cast: Cast) -> None:
    """As whoever changes bells on the page and says nothing of a day."""
    commit_all(cast.teacher, ("buildings", "bell-schedules"))
    today = date_there()
    SchoolYear.objects.create(
        district=cast.district,
        name="This year",
        first_day=today - dt.timedelta(days=30),
        last_day=today + dt.timedelta(days=30),
    )
    old = "Building code,Schedule name,Period name,Start,End\nFEN,Regular day,Period 1,8:15,9:15\n"
    batch = commit(cast.teacher, "bell-schedules", old)
    rung = BellPeriod.objects.filter(schedule__building__code="FEN").order_by("start")
    assert list(rung.values_list("first_day", "start")) == [(None, dt.time(8)), (today, dt.time(8, 15))]
    assert batch.content["tallies"]["bell-schedules"]["changed"] == 1
    same = commit(cast.teacher, "bell-schedules", old)
    assert same.content["tallies"]["bell-schedules"]["changed"] == 0
