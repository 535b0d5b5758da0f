"""An import's work: every table's rows through the services, with all problems collected."""

from collections.abc import Callable, Iterable, Sequence

from accounts.models import District, Person
from schedule.imports.files.reading import TableFile
from schedule.imports.rows.calendar import (
    write_calendar_words,
    write_marking_periods,
    write_school_years,
    write_special_days,
)
from schedule.imports.rows.care import (
    write_aide_hours,
    write_caution_tags,
    write_cautions,
    write_contacts,
    write_supports,
)
from schedule.imports.rows.context import ParsedRow, Report, TableRun, nobody_waits, parse_rows
from schedule.imports.rows.goals import write_goal_data, write_goals
from schedule.imports.rows.lessons import write_activities, write_equipment, write_routines
from schedule.imports.rows.lookups import Lookups
from schedule.imports.rows.mileage.trips import write_trips
from schedule.imports.rows.mileage.vouchers import write_vouchers
from schedule.imports.rows.people import (
    write_contract_days,
    write_meetings,
    write_own_drive_times,
    write_student_holds,
    write_students,
    write_teacher_rules,
)
from schedule.imports.rows.plans import write_plans
from schedule.imports.rows.schools import (
    write_bell_days,
    write_bell_schedules,
    write_buildings,
    write_class_days,
    write_class_times,
    write_classes,
    write_rotations,
    write_space_times,
    write_spaces,
)
from schedule.imports.rows.serving.covers import write_covers
from schedule.imports.rows.serving.joint import write_joint_sessions
from schedule.imports.rows.serving.meetings import write_common_meetings
from schedule.imports.rows.serving.posts import write_posts
from schedule.imports.rows.staff.people import write_people
from schedule.imports.rows.stations import write_stations
from schedule.imports.tables.columns import ColumnKind, RowRole

_WRITERS: dict[str, Callable[[TableRun, list[ParsedRow]], None]] = {
    "buildings": write_buildings,
    "people": write_people,
    "bell-schedules": write_bell_schedules,
    "rotations": write_rotations,
    "bell-days": write_bell_days,
    "school-years": write_school_years,
    "marking-periods": write_marking_periods,
    "special-days": write_special_days,
    "calendar-words": write_calendar_words,
    "spaces": write_spaces,
    "space-times": write_space_times,
    "classes": write_classes,
    "class-days": write_class_days,
    "class-times": write_class_times,
    "students": write_students,
    "plans": write_plans,
    "joint-sessions": write_joint_sessions,
    "student-holds": write_student_holds,
    "caution-tags": write_caution_tags,
    "supports": write_supports,
    "cautions": write_cautions,
    "contacts": write_contacts,
    "aide-hours": write_aide_hours,
    "goals": write_goals,
    "goal-data": write_goal_data,
    "teacher-rules": write_teacher_rules,
    "contract-days": write_contract_days,
    "posts": write_posts,
    "meetings": write_meetings,
    "common-meetings": write_common_meetings,
    "covers": write_covers,
    "own-drive-times": write_own_drive_times,
    "trips": write_trips,
    "vouchers": write_vouchers,
    "activities": write_activities,
    "equipment": write_equipment,
    "routines": write_routines,
    "stations": write_stations,
}
AS_IT_IS = "Nothing has to be done: what is theirs stays theirs."

# Tables with one row a record repeat no key; in the others only a whole row may not stand twice.
_WHOLE_ROW = {"plans", "goal-data", "people"}


def apply_tables(
    actor: Person, district: District, files: Iterable[TableFile], report: Report = nobody_waits
) -> list[TableRun]:
    """Write every table, in order, as the actor, and all that can be read of it whatever the problems.

    Call it where it can be taken back (schedule.imports.rows.rehearse). `report` hears how many rows are done.
    """
    lookups = Lookups(actor)
    runs = []
    done = 0
    for file in files:
        run = TableRun(file.table, actor, district, lookups, list(file.problems), report=report, done_before=done)
        done += len(file.rows)
        rows, bad = parse_rows(run, file)
        good = [row for row in _without_repeats(run, rows) if row.number not in bad]
        _WRITERS[file.table.kind](run, good)
        _tell_who_left(run, good)
        lookups.forget()
        report(done)
        run.problems.sort(key=lambda problem: (problem.row, problem.column))
        runs.append(run)
    return runs


def _tell_who_left(run: TableRun, rows: list[ParsedRow]) -> None:
    """Say at the first row of each that somebody doesn't work here anymore: their rows stay theirs."""
    if run.table.kind == "people":
        return
    told = set()
    for name in (column.name for column in run.table.columns if column.kind is ColumnKind.PERSON):
        for row in rows:
            found = run.lookups.has_left(row.get(name, ""))
            if found is not None and found.pk not in told:
                told.add(found.pk)
                run.fault(row, name, f"{found.called} no longer works here.", AS_IT_IS, warning=True)


def _without_repeats(run: TableRun, rows: list[ParsedRow]) -> list[ParsedRow]:
    """The rows less those that say what a row before them said; each of these is a problem."""
    table = run.table
    whole = table.role is RowRole.SET or table.kind in _WHOLE_ROW
    names = [column.name for column in table.columns] if whole else list(table.key)
    seen: dict[tuple[str, ...], int] = {}
    kept = []
    for row in rows:
        key = tuple(_key_part(run, row, name) for name in names)
        # Without its key a row is bad already, and like no other.
        if key not in seen or not any(key):
            seen[key] = row.number
            kept.append(row)
            continue
        _repeat_fault(run, row, seen[key], () if whole else names)
    return kept


def _repeat_fault(run: TableRun, row: ParsedRow, first: int, names: Sequence[str]) -> None:
    """Note that a row says again what an earlier one said; without names, all of it."""
    what = " and ".join(run.table.column(name).header for name in names) or "row"
    message = f"This {what} is already in row {first}."
    run.fault(row, names[-1] if names else "", message, "Delete one of the two rows, or correct this one.")


def _key_part(run: TableRun, row: ParsedRow, name: str) -> str:
    """A value without the differences that don't matter; a teacher's own name is the same as none."""
    text = str(row.get(name, "")).casefold()
    return "" if name == "teacher" and text == run.actor.username.casefold() else text
