"""Rows of plans to plans with their service lines."""

import datetime as dt
from copy import copy
from functools import partial
from typing import Any

from accounts.dates import date_words
from caseload.plans.models import Plan, ServiceLine, Student, enrollment_nearest
from caseload.plans.services import plan_save, service_change, service_correct, service_line_save
from schedule.imports.rows.context import ParsedRow, TableRun, changed_words, effects_told, model_values
from schedule.imports.rows.known_services import KnownServices
from schedule.imports.rows.schools import grouped, looked_up, same_in_all
from travel.places.models import Building

# What a row can't say otherwise than it is saved without a day: it would rewrite what was owed, or by whom given.
TERMS = ("statement", "setting", "provider", "building")
_PLAN_COLUMNS = {"start": "plan_start", "end": "plan_end", "status": "provisional"}


def write_plans(run: TableRun, rows: list[ParsedRow]) -> None:
    """Plans by student and start, each with its service lines.

    Plans that are there go first, so that one can be shortened and the next begin in one file.
    """
    found: list[tuple[Student, Plan | None, list[ParsedRow]]] = []
    for group in grouped(rows, run.table.key):
        first = group[0]
        student = looked_up(run, first, "student", run.lookups.student, first.values["student"])
        if student is not None and _one_plan(run, group):
            plans = Plan.objects.filter(student=student, start=first.values["plan_start"])
            found.append((student, plans.select_related("student__district").first(), group))
    known = KnownServices()
    for student, plan, group in sorted(found, key=lambda one: one[1] is None):
        _write_group(run, group, plan or Plan(student=student), known)


def _one_plan(run: TableRun, group: list[ParsedRow]) -> bool:
    """Whether the rows of a plan say the same about it, and its dates follow each other."""
    first = group[0]
    if first.values["plan_end"] < first.values["plan_start"]:
        message = "The plan ends before it begins."
        run.fault(first, "plan_end", message, "Correct the plan's start or its end.")
        return False
    return same_in_all(run, group, ("plan_end", "annual_review", "provisional"))


def _write_group(run: TableRun, group: list[ParsedRow], plan: Plan, known: KnownServices) -> None:
    """A plan and its lines. A plan that gets shorter does so after its lines did."""
    end: dt.date = group[0].values["plan_end"]
    shrinks = plan.pk is not None and end < plan.end
    saved = _write_plan(run, group[0], plan, plan.end if shrinks else end)
    if saved is None:
        return
    _write_lines(run, group, saved, end, known)
    if shrinks:
        values = {"end": end}
        words = changed_words(run.table, saved, values)
        run.save(
            group[0], plan_save, saved, values, words, place=lambda name: (group[0], _PLAN_COLUMNS.get(name, name))
        )


def _write_plan(run: TableRun, row: ParsedRow, plan: Plan, end: dt.date) -> Plan | None:
    """The plan that a row belongs to; the same plan uncounted where nothing but its lines may change."""
    is_new = plan.pk is None
    values: dict[str, Any] = {"start": row.values["plan_start"], "end": end}
    if "annual_review" in row.values:
        values["annual_review"] = row.values["annual_review"]
    if "provisional" in row.values or is_new:
        provisional = row.get("provisional", False)
        values["status"] = (Plan.Status.PROVISIONAL if provisional else Plan.Status.IN_FORCE).value
    words = () if is_new else changed_words(run.table, plan, values)
    if not is_new and not words:
        return plan
    return run.save(row, plan_save, plan, values, words, place=partial(_plan_place, row))


def _plan_place(row: ParsedRow, field: str) -> tuple[ParsedRow, str]:
    """Where a field of the plan is in the file."""
    return row, _PLAN_COLUMNS.get(field, field)


def _write_lines(
    run: TableRun, group: list[ParsedRow], plan: Plan, plan_end: dt.date, known: KnownServices
) -> None:
    """The service lines of a plan: the same ones stay, others change from a day or are new."""
    linked = ("plan__student__district", "service", "provider", "building", "pushed_into")
    saved = list(plan.lines.select_related(*linked).order_by("pk"))
    open_rows: list[tuple[ParsedRow, dict[str, Any]]] = []
    for row in group:
        values = _line_values(run, row, plan, plan_end)
        if values is None:
            continue
        among = known.lines_of(row, plan, saved)
        match = next((line for line in among if not changed_words(run.table, line, values)), None)
        if match is None:
            open_rows.append((row, values))
        else:
            saved.remove(match)
            known.keep(row, match)
            run.tally.same += 1
    for row, values in open_rows:
        _write_line(run, row, plan, saved, known, values)


def _write_line(
    run: TableRun,
    row: ParsedRow,
    plan: Plan,
    saved: list[ServiceLine],
    known: KnownServices,
    values: dict[str, Any],
) -> None:
    """A row that says something else than what is saved: a service that changes, or a new one."""
    named = known.service(row, plan) is not None
    line = _take_meant(row, saved, known.lines_of(row, plan, saved), values, named=named)
    if line is None and row.get("from_day") is not None:
        _nothing_to_change(run, row)
    elif line is None:
        known.keep(row, run.put(row, service_line_save, known.line_of(row, plan), values))
    elif not known.is_stale(run, row, line):
        _change_line(run, row, line, values)


def _take_meant(
    row: ParsedRow, saved: list[ServiceLine], among: list[ServiceLine], values: dict[str, Any], *, named: bool
) -> ServiceLine | None:
    """Take the line out that a row changes, if any: alike in type, setting and start.

    Of the service that the row names (`named`) it is the version that starts on the same day. With a day from which
    the terms change, the setting may be among what changes: then it is the only line of the type that holds then.
    """
    found = next((line for line in among if _is_alike(line, values, named=named)), None)
    from_day = row.get("from_day")
    if found is None and from_day is not None:
        wanted = values.get("service_type", ServiceLine.Type.DIRECT)
        held = [one for one in among if one.service_type == wanted and one.start <= from_day <= one.end]
        found = held[0] if len(held) == 1 else None
    if found is not None:
        saved.remove(found)
    return found


def _is_alike(line: ServiceLine, values: dict[str, Any], *, named: bool) -> bool:
    """Whether a row changes this line rather than adding another; `named`: the row says of which service it is."""
    names = ("start",) if named else ("service_type", "setting", "start")
    return all(getattr(line, name) == values[name] for name in names if name in values)


def _nothing_to_change(run: TableRun, row: ParsedRow) -> None:
    run.fault(
        row,
        "from_day",
        "It isn't clear which service changes on this day: of this type and plan none holds then, or several do.",
        "Give Setting and Service start as they are saved, or leave From empty where the service is new.",
    )


def _change_line(run: TableRun, row: ParsedRow, line: ServiceLine, values: dict[str, Any]) -> None:
    """Change a known service from the row's day; what says nothing of what is owed needs none."""
    from_day = row.get("from_day")
    words = changed_words(run.table, line, values)
    if from_day is None and _changes_terms(line, values):
        _ask_from_when(run, row, line)
        return
    if from_day is None:
        save = partial(service_correct, seen=None)
    else:
        save = partial(service_change, from_day=from_day, seen=None)
        words = (f"From {date_words(from_day)}", *words)
    act = partial(save, actor=run.actor, row=copy(line), values=values)
    run.save(row, save, line, values, (*words, *effects_told(run.actor, line.plan.student, act)))


def _changes_terms(line: ServiceLine, values: dict[str, Any]) -> bool:
    return any(name in values and getattr(line, name) != values[name] for name in TERMS)


def _ask_from_when(run: TableRun, row: ParsedRow, line: ServiceLine) -> None:
    run.fault(
        row,
        "from_day",
        f"This service is there with other terms: {line.statement}, {line.get_setting_display().lower()}, with "
        f"{line.provider}. From which day do those of this row hold?",
        f"Fill in From with the first day of the new terms; what was owed before stays. If they were always wrong, "
        f"enter the first day of the service, {date_words(line.start)}.",
    )


def _line_values(run: TableRun, row: ParsedRow, plan: Plan, plan_end: dt.date) -> dict[str, Any] | None:
    """A service line as the service takes it; None with the problems noted."""
    names = ("statement", "service_type", "setting", "largest_group", "days_apart", "way_minutes", "extended_year")
    values = model_values(ServiceLine, row, names)
    if row.get("reading"):
        values["reading"] = row.values["reading"]
    if "start" in row.values:
        values["start"] = row.get("start", plan.start)
    if "end" in row.values:
        values["end"] = row.get("end", plan_end)
    if not _add_building(run, row, values):
        return None
    there = _given_at(row, plan, values)
    found = [
        _add_provider(run, row, plan, values),
        _add_class(run, row, there, values),
        _add_spaces(run, row, there, values),
        _add_elsewhere(run, row, values),
    ]
    return values if all(found) else None


def _add_building(run: TableRun, row: ParsedRow, values: dict[str, Any]) -> bool:
    """Add the building that the service names, if any; whether it was found."""
    code = row.get("building")
    if not code:
        if "building" in row.values:
            values["building"] = None
        return True
    values["building"] = looked_up(run, row, "building", run.lookups.building, code)
    return values["building"] is not None


def _given_at(row: ParsedRow, plan: Plan, values: dict[str, Any]) -> Building:
    """Where the service of a row is given on its first day, as the student is enrolled then."""
    named = values.get("building")
    day = row.get("from_day") or values.get("start") or plan.start
    return enrollment_nearest(plan.student, day, named and named.pk).building


def _add_provider(run: TableRun, row: ParsedRow, plan: Plan, values: dict[str, Any]) -> bool:
    """Add the provider whom a row names, if any; whether they were found."""
    if "provider" not in row.values:
        return True
    values["provider"] = plan.student.caseload_teacher
    if row.get("provider"):
        values["provider"] = looked_up(run, row, "provider", run.lookups.any_teacher, row.values["provider"])
    return values["provider"] is not None


def _add_class(run: TableRun, row: ParsedRow, building: Building, values: dict[str, Any]) -> bool:
    """Add the class that the service is pushed into; whether it was found."""
    code = row.get("pushed_into")
    if not code:
        if "pushed_into" in row.values:
            values["pushed_into"] = None
        return True
    values["pushed_into"] = looked_up(run, row, "pushed_into", run.lookups.school_class, building, code)
    return values["pushed_into"] is not None


def _add_elsewhere(run: TableRun, row: ParsedRow, values: dict[str, Any]) -> bool:
    """Add the space of another building that the service is held in; whether it was found."""
    code, name = row.get("held_in_building"), row.get("held_in")
    if not code and not name:
        if "held_in" in row.values or "held_in_building" in row.values:
            values["held_in"] = None
        return True
    if not code or not name:
        run.fault(
            row,
            "held_in" if code else "held_in_building",
            "A space in another building needs both: the building and the name of the space.",
            "Fill in Held in and Held in space, or leave both empty.",
        )
        return False
    building = looked_up(run, row, "held_in_building", run.lookups.building, code)
    if building is None:
        return False
    values["held_in"] = looked_up(run, row, "held_in", run.lookups.space, building, name)
    return values["held_in"] is not None


def _add_spaces(run: TableRun, row: ParsedRow, building: Building, values: dict[str, Any]) -> bool:
    """Add the spaces that a service is held to; whether all of them were found."""
    if "allowed_spaces" not in row.values:
        return True
    names = row.get("allowed_spaces", ())
    spaces = [looked_up(run, row, "allowed_spaces", run.lookups.space, building, name) for name in names]
    values["allowed_spaces"] = [space for space in spaces if space is not None]
    return all(space is not None for space in spaces)
