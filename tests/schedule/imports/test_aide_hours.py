"""The table of aides' hours: read in, sent out, and what becomes of the hours when contacts come again."""

import datetime as dt

from caseload.care.models import Contact
from schedule.aides.models import AideHours
from schedule.imports.files.export import export_rows
from schedule.imports.services.tables import import_undo
from schedule.imports.tables.every import find_table
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit, commit_all, only_problem, preview

FIRST = ("buildings", "bell-schedules", "classes", "students", "contacts")
HEAD = "Student code,Building code,Class code,Name,From,Hours\n"


def kept() -> list[tuple[str, dt.date, str]]:
    return list(AideHours.objects.order_by("first_day").values_list("contact__name", "first_day", "times"))


def test_hours_come_in_go_out_and_are_taken_back(cast: Cast) -> None:
    commit_all(cast.teacher, FIRST)
    batch = commit(cast.teacher, "aide-hours", ALL["aide-hours"])
    first, second = dt.date(2026, 9, 8), dt.date(2027, 3, 1)
    assert kept() == [("Ms. Orel", first, "Mon-Thu 8:00 to 11:30; Fri 8:00 to 10:00"), ("Ms. Orel", second, "")]
    table = find_table("aide-hours")
    assert table is not None
    sent = HEAD + "".join(",".join(row) + "\n" for row in export_rows(cast.teacher, table))
    again = preview(cast.teacher, "aide-hours", sent)
    assert again.content["tallies"]["aide-hours"] == {"new": 0, "changed": 0, "same": 2, "removed": 0}
    import_undo(actor=cast.teacher, batch=batch)
    assert kept() == []


def test_an_aide_who_is_not_named_and_hours_that_cannot_be_read(cast: Cast) -> None:
    commit_all(cast.teacher, FIRST)
    problem = only_problem(preview(cast.teacher, "aide-hours", f"{HEAD}K01,,,Ms. Oral,2026-09-08,8:00 to 9:00\n"))
    assert (problem.row, problem.column) == (2, "Name")
    assert "Ms. Orel" in problem.remedy
    problem = only_problem(preview(cast.teacher, "aide-hours", f"{HEAD}K01,,,Ms. Orel,2026-09-08,mornings\n"))
    assert (problem.row, problem.column) == (2, "Hours")
    assert problem.remedy.startswith("Write days and times")


def test_another_phone_of_an_aide_leaves_the_hours(cast: Cast) -> None:
    """The contact is changed, not deleted and made anew; who has hours and isn't in the file is said."""
    commit_all(cast.teacher, (*FIRST, "aide-hours"))
    aide = Contact.objects.get(name="Ms. Orel")
    text = ALL["contacts"]
    commit(cast.teacher, "contacts", text.replace("555-0143", "555-0199"))
    assert Contact.objects.get(name="Ms. Orel") == aide
    assert Contact.objects.get(name="Ms. Orel").phone == "555-0199"
    assert len(kept()) == 2
    without = "".join(line for line in text.splitlines(keepends=True) if "Orel" not in line)
    assert "hours" in only_problem(preview(cast.teacher, "contacts", without)).message
