"""From a filled template to the database and back."""

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.files import write_csv
from accounts.models import Person
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.models import BellPeriod, SpaceFreeTime
from schedule.imports.files.export import export_rows
from schedule.imports.files.writing import write_workbook
from schedule.imports.models import ImportBatch, ImportedRow
from schedule.imports.services.tables import import_cancel, import_commit, import_preview, import_undo
from schedule.imports.tables.every import tables_for
from tests.caseload.care.written import write_care
from tests.conftest import Cast
from tests.schedule.imports.district import (
    ALL,
    STUDENTS,
    commit,
    commit_all,
    count_audit,
    dump_database,
    only_problem,
    preview,
    problems,
)
from travel.places.models import Building


def test_every_table_is_committed(cast: Cast) -> None:
    """The small district goes in table after table, and each tally is what the table holds."""
    batches = commit_all(cast.teacher)
    tallies = {batch.kind: batch.content["tallies"][batch.kind]["new"] for batch in batches}
    assert tallies == {
        "buildings": 2,
        "bell-schedules": 3,
        "rotations": 2,
        "bell-days": 1,
        "school-years": 2,
        "marking-periods": 2,
        "special-days": 3,
        "calendar-words": 2,
        "spaces": 3,
        "space-times": 3,
        "classes": 2,
        "class-days": 2,
        "class-times": 2,
        "students": 3,
        "plans": 8,  # three plans and five lines
        "joint-sessions": 1,
        "student-holds": 2,
        "caution-tags": 1,
        "supports": 3,
        "cautions": 2,
        "contacts": 3,
        "aide-hours": 2,
        "goals": 4,
        "goal-data": 3,
        "teacher-rules": 1,
        "contract-days": 2,
        "meetings": 3,
        "common-meetings": 2,
        "covers": 2,
        "own-drive-times": 1,
        "trips": 3,
        "activities": 2,
        "equipment": 2,
        "routines": 3,  # one routine and two parts
        "stations": 2,
    }
    line = ServiceLine.objects.get(plan__student__code="K03")
    assert (line.times, line.minutes, line.unit, line.cycle_days) == (1, 45, "cycle", 6)
    assert Building.objects.get(code="FEN").zone == "America/Chicago"


def test_a_preview_saves_nothing_but_itself(cast: Cast) -> None:
    """Looking changes no table and writes no change down."""
    before, audited = dump_database(), count_audit()
    batch = preview(cast.teacher, "buildings", ALL["buildings"])
    assert batch.content["tallies"]["buildings"] == {"new": 2, "changed": 0, "same": 0, "removed": 0}
    assert dump_database() == before
    assert count_audit() == audited


def test_undo_restores_the_database_exactly(cast: Cast) -> None:
    """After each table's import and undo every row of every table is as it was, keys included."""
    for kind in ALL:
        before = dump_database()
        actor = importer(cast, kind)
        batch = commit(actor, kind, ALL[kind])
        assert dump_database() != before, kind
        import_undo(actor=actor, batch=batch)
        assert dump_database() == before, kind
        batch.refresh_from_db()
        assert batch.state == ImportBatch.State.UNDONE
        assert ImportedRow.objects.filter(batch=batch).count() == 0
        commit(actor, kind, ALL[kind])


def importer(cast: Cast, kind: str) -> Person:
    """The teacher, or for a table of others than teachers the coordinator."""
    own = {table.kind for table in tables_for(cast.teacher.has_perm)}
    return cast.teacher if kind in own else cast.coordinator


def test_undo_holds_the_database_no_longer_for_more_rows(cast: Cast) -> None:
    """The statements of one transaction don't grow with the rows, as long as they fit into one batch."""
    counts = []
    for prefix, number in (("A", 4), ("B", 60)):
        rows = "".join(f"{prefix}{n},Ola,Tarn,3,NORTH\n" for n in range(number))
        batch = commit(cast.teacher, "students", f"Student code,First name,Last name,Grade,Building code\n{rows}")
        with CaptureQueriesContext(connection) as asked:
            import_undo(actor=cast.teacher, batch=batch)
        assert not Student.objects.filter(code__startswith=prefix).exists()
        counts.append(len(asked))
    assert counts[0] == counts[1]


CHANGED = {
    "buildings": ("Elm Rise School", "Elm Rise Primary"),
    "bell-schedules": ("Period 2,instruction,9:20", "Period 2b,instruction,9:25"),
    "rotations": ("cycle,6", "cycle,5"),
    "school-years": ("6/18/2027", "6/25/2027"),
    "marking-periods": ("2027-01-29", "2027-01-22"),
    "special-days": ("closed,Fall", "no students,Fall"),
    "spaces": ("ELM,Gym,gym,2", "ELM,Gym,half gym,1"),
    "space-times": ('ELM,Gym,"Mon,Wed",Period 2,,\n', ""),
    "classes": ("Room 4", "Room Four"),
    "class-days": ("lunch,first Wed", "lunch,last Wed"),
    "class-times": ("ELM,RM4,,,9:20,9:50,", "ELM,RM4,,,9:25,9:50,"),
    "students": ("Bo,Winn,K", "Bo,Wynn,1"),
    "plans": ("Gym; Field,1", "Gym,2"),
    "student-holds": ("10:00,10:30", "10:05,10:35"),
    "teacher-rules": ("450,fortnight", "45,day"),
    "contract-days": ("Monday,7:45", "Monday,8:00"),
    "meetings": ("Review,,,2026-10-06,8:00,8:25,\n", ""),
    "own-drive-times": ("14,8.4,yes", "16,8.6,yes"),
    "activities": ("contact; exertion", "noise"),
    "equipment": ("8,0,1,2", "9,0,0,2"),
    "routines": (",9,6,", ",10,6,"),
    "stations": ("6 Poly spots", "8 Poly spots"),
}  # fmt: skip


def test_undo_of_a_change_restores_the_database_exactly(cast: Cast) -> None:
    """Changed, replaced and removed rows come back whole."""
    commit_all(cast.teacher)
    before = dump_database()
    for kind, (old, new) in CHANGED.items():
        assert old in ALL[kind]
        batch = commit(cast.teacher, kind, ALL[kind].replace(old, new))
        tally = batch.content["tallies"][kind]
        assert tally["changed"] + tally["removed"] >= 1, kind
        assert dump_database() != before, kind
        import_undo(actor=cast.teacher, batch=batch)
        assert dump_database() == before, kind


def test_a_change_is_told_before_it_is_made(cast: Cast) -> None:
    """The preview names the row, the column, and the value before and after; a new row by its key."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "classes"])
    new = preview(cast.teacher, "students", STUDENTS).content["outcomes"]["students"]
    assert new[0] == [2, "new", ["Student code: K01"]]
    commit(cast.teacher, "students", STUDENTS)
    batch = preview(cast.teacher, "students", STUDENTS.replace("Bo,Winn,K", "Bo,Winn,1"))
    assert batch.content["outcomes"]["students"] == [[3, "changed", ["Grade: K → 1"]]]
    assert batch.content["tallies"]["students"] == {"new": 0, "changed": 1, "same": 2, "removed": 0}


def test_all_or_nothing(cast: Cast) -> None:
    """One bad row among good ones: nothing of the file is saved."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "classes", "spaces"])
    before = dump_database()
    batch = preview(cast.teacher, "students", STUDENTS.replace("Ash,Quill,7", "Ash,Quill,27"))
    assert only_problem(batch).row == 4
    with pytest.raises(ApplicationError) as refused:
        import_commit(actor=cast.teacher, batch=batch)
    assert refused.value.code == "import_has_problems"
    assert dump_database() == before
    assert ImportBatch.objects.get(pk=batch.pk).state == ImportBatch.State.PREVIEW


def test_commit_validates_again(cast: Cast) -> None:
    """What was right at the preview and isn't anymore is refused, and the preview says why."""
    batch = preview(cast.teacher, "buildings", ALL["buildings"])
    assert problems(batch) == []
    Building.objects.create(district=cast.district, code="NEW", name="New", latitude="43.2", longitude="-75.1")
    with pytest.raises(ApplicationError) as refused:
        import_commit(actor=cast.teacher, batch=batch)
    assert refused.value.code == "import_has_problems"
    assert not Building.objects.filter(code="ELM").exists()
    batch.refresh_from_db()
    assert [problem.row for problem in problems(batch)] == [2]


def test_a_preview_is_committed_once(cast: Cast) -> None:
    """A second press of the button finds no preview."""
    batch = commit(cast.teacher, "buildings", ALL["buildings"])
    with pytest.raises(ApplicationError) as refused:
        import_commit(actor=cast.teacher, batch=batch)
    assert refused.value.code == "not_in_preview"


def test_the_uploaded_rows_are_forgotten_after_the_commit(cast: Cast) -> None:
    """No second copy of students' names stays in the batch."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "classes"])
    batch = commit(cast.teacher, "students", STUDENTS)
    batch.refresh_from_db()
    assert "Tarn" not in str(batch.content)


def test_cancel_forgets_the_preview(cast: Cast) -> None:
    """A preview that is thrown away is gone; a committed import isn't thrown away."""
    batch = preview(cast.teacher, "buildings", ALL["buildings"])
    import_cancel(actor=cast.teacher, batch=batch)
    assert not ImportBatch.objects.exists()
    done = commit(cast.teacher, "buildings", ALL["buildings"])
    with pytest.raises(ApplicationError):
        import_cancel(actor=cast.teacher, batch=done)
    assert ImportBatch.objects.filter(pk=done.pk).exists()


def test_a_new_preview_replaces_the_old_one(cast: Cast) -> None:
    """One preview a table stays, and none is kept for longer than a week."""
    first = preview(cast.teacher, "buildings", ALL["buildings"])
    second = preview(cast.teacher, "buildings", ALL["buildings"])
    other = preview(cast.mate, "buildings", ALL["buildings"])
    assert set(ImportBatch.objects.values_list("pk", flat=True)) == {second.pk, other.pk} != {first.pk}
    ImportBatch.objects.update(created_at=timezone.now() - dt.timedelta(days=8))
    third = preview(cast.teacher, "spaces", "Building code,Space name\nNORTH,Pool\n")
    assert set(ImportBatch.objects.values_list("pk", flat=True)) == {third.pk, other.pk}


def test_only_the_latest_is_undone(cast: Cast) -> None:
    """The earlier import waits for the later one."""
    first, second = commit_all(cast.teacher, ["buildings", "bell-schedules"])
    with pytest.raises(ApplicationError) as refused:
        import_undo(actor=cast.teacher, batch=first)
    assert refused.value.code == "not_latest"
    import_undo(actor=cast.teacher, batch=second)
    import_undo(actor=cast.teacher, batch=first)
    assert not Building.objects.filter(code="ELM").exists()
    with pytest.raises(ApplicationError) as again:
        import_undo(actor=cast.teacher, batch=first)
    assert again.value.code == "not_committed"


def test_undo_keeps_what_was_changed_since(cast: Cast) -> None:
    """A row that someone corrected by hand stays corrected, and the refusal names it."""
    batch = commit(cast.teacher, "buildings", ALL["buildings"])
    Building.objects.filter(code="ELM").update(name="Elm Rise Academy")
    before = dump_database()
    with pytest.raises(ApplicationError, match="Elm Rise Academy") as refused:
        import_undo(actor=cast.teacher, batch=batch)
    assert refused.value.code == "changed_since"
    assert dump_database() == before


@pytest.mark.parametrize("as_home_class", [True, False])
def test_undo_keeps_what_later_rows_stand_on(cast: Cast, as_home_class: bool) -> None:
    """A student entered by hand uses the import: in its building, or in its class (which could be emptied)."""
    commit_all(cast.teacher, ["buildings", "bell-schedules"])
    batch = commit(
        cast.teacher, "classes" if as_home_class else "spaces", ALL["classes" if as_home_class else "spaces"]
    )
    if as_home_class:
        elm = Building.objects.get(code="ELM")
        Student.objects.filter(pk=cast.student.pk).update(building=elm, home_class=elm.classes.get(code="RM4"))
    else:
        cast.line.allowed_spaces.add(Building.objects.get(code="ELM").spaces.get(name="Gym"))
    before = dump_database()
    with pytest.raises(ApplicationError) as refused:
        import_undo(actor=cast.teacher, batch=batch)
    assert refused.value.code == "still_used"
    assert dump_database() == before


def test_a_set_is_what_the_file_says(cast: Cast) -> None:
    """Free times of a space that is named are replaced; those of a space that isn't stay."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "rotations", "spaces", "space-times"])
    text = "Building code,Space name,Days,Period,Start,End\nELM,Gym,Fri,,8:30,10:00\nELM,Gym,Mon,Period 1,,\n"
    batch = preview(cast.teacher, "space-times", text)
    assert batch.content["tallies"]["space-times"] == {"new": 1, "changed": 0, "same": 1, "removed": 1}
    import_commit(actor=cast.teacher, batch=batch)
    assert set(SpaceFreeTime.objects.filter(space__building__code="ELM").values_list("days", flat=True)) == {
        "Fri",
        "Mon",
    }
    assert SpaceFreeTime.objects.filter(space__building__code="FEN").count() == 1


def test_a_column_left_out_leaves_what_is_saved(cast: Cast) -> None:
    """Two columns of a building change nothing about its coordinates or its minutes."""
    commit(cast.teacher, "buildings", ALL["buildings"])
    commit(cast.teacher, "buildings", "Building code,Name\nelm,Elm Rise Primary\n")
    elm = Building.objects.get(code="ELM")
    assert (elm.name, str(elm.latitude), elm.arrive_minutes) == ("Elm Rise Primary", "43.200000", 6)


def test_an_empty_cell_means_the_usual_value(cast: Cast) -> None:
    """Empty minutes are the model's usual ones."""
    commit(cast.teacher, "buildings", ALL["buildings"])
    commit(cast.teacher, "buildings", "Building code,Name,Minutes to arrive,Address\nELM,Elm Rise School,,\n")
    elm = Building.objects.get(code="ELM")
    assert (elm.arrive_minutes, elm.address) == (Building._meta.get_field("arrive_minutes").get_default(), "")


def test_a_shorter_plan_with_shorter_services(cast: Cast) -> None:
    """A plan may end earlier in one file with its lines, and the next plan may begin after it."""
    commit_all(cast.teacher, ["buildings", "bell-schedules", "rotations", "spaces", "classes", "students", "plans"])
    text = (
        "Student code,Plan start,Plan end,Statement,Setting,Service end\n"
        "K03,2027-01-11,2027-06-18,2 x 45 min/6-day cycle,one to one,\n"
        "K03,2026-09-08,2027-01-08,1 x 45 min/6-day cycle,one to one,\n"
    )
    commit(cast.teacher, "plans", text)
    lines = ServiceLine.objects.filter(plan__student__code="K03").order_by("start")
    assert [(str(line.start), str(line.end), line.times) for line in lines] == [
        ("2026-09-08", "2027-01-08", 1),
        ("2027-01-11", "2027-06-18", 2),
    ]


def test_importing_an_export_changes_nothing(cast: Cast) -> None:
    """Every table goes out and comes back in both forms, with texts that a spreadsheet could take for formulas."""
    commit_all(cast.teacher)
    Building.objects.filter(code="ELM").update(office_phone="+1 555 0100", office_contact="=1+1", address="'=x")
    write_care(Student.objects.get(code="K01"), cautions="@nurse\r\nAsk first", supports="- walker\n- cards")
    before, audited = dump_database(), count_audit()
    for table in tables_for(cast.teacher.has_perm):
        rows = list(export_rows(cast.teacher, table))
        assert rows, table.kind
        for content in (write_csv(table.headers, rows), write_workbook([(table, rows)])):
            batch = import_preview(actor=cast.teacher, kind=table.kind, filename="export", content=content)
            assert problems(batch) == []
            tally = batch.content["tallies"][table.kind]
            assert (tally["new"], tally["changed"], tally["removed"]) == (0, 0, 0), table.kind
            import_commit(actor=cast.teacher, batch=batch)
    assert dump_database() == before
    assert count_audit() == audited + 2 * len(tables_for(cast.teacher.has_perm))  # the commits themselves


def test_a_whole_workbook(cast: Cast) -> None:
    """All tables in one workbook, a sheet each, go in and come back out in one undo."""
    commit_all(cast.teacher)
    own = tables_for(cast.teacher.has_perm)
    content = write_workbook([(table, list(export_rows(cast.teacher, table))) for table in own])
    BellPeriod.objects.filter(schedule__building__code="FEN").delete()
    before = dump_database()
    batch = import_preview(actor=cast.teacher, kind="several", filename="district.xlsx", content=content)
    assert problems(batch) == []
    import_commit(actor=cast.teacher, batch=batch)
    assert BellPeriod.objects.filter(schedule__building__code="FEN").count() == 1
    import_undo(actor=cast.teacher, batch=batch)
    assert dump_database() == before
