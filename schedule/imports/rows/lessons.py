"""Rows of activities, equipment and routines to records."""

from collections.abc import Mapping
from typing import Any

from accounts.models import Person
from caseload.care.models import CautionTag
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.needs import NeedsError, needs_read, needs_write
from schedule.class_hour.selectors.routines import known_equipment
from schedule.class_hour.services import part_save, part_take_out, routine_save
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from schedule.equipment.services import activity_save, equipment_save, stock_save
from schedule.imports.files.values import CellError, nearest
from schedule.imports.rows.care import tag_named
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.schools import building_of, grouped, looked_up, same_in_all

OF_ROUTINE = ("building", "school_class", "about", "attention_minutes", "on_shelf")
OF_PART = (
    "kind", "title", "what", "cue", "minutes", "least_minutes", "where", "leads", "aide_notes", "set_up",
    "set_up_by", "is_known", "is_far_apart",
)  # fmt: skip


def write_activities(run: TableRun, rows: list[ParsedRow]) -> None:
    """Activities by their name."""
    tags = {tag.name.casefold(): tag for tag in CautionTag.objects.filter(district=run.district)}
    for row in rows:
        saved = _in_use(Activity, run, row.values["name"])
        values = model_values(Activity, row, ("name", "about", "is_loud"))
        if saved is not None:
            values["name"] = saved.name
        if "caution_tags" in row.values:
            found = [
                looked_up(run, row, "caution_tags", tag_named, tags, one) for one in row.get("caution_tags", ())
            ]
            if None in found:
                continue
            values["caution_tags"] = [tag for tag in found if tag is not None]
        run.put(row, activity_save, saved or Activity(district=run.district), values)


def _in_use[M: (Activity, Equipment)](model: type[M], run: TableRun, name: str) -> M | None:
    """A district's row of a name that isn't put away."""
    return model.objects.in_use().filter(district=run.district, name__iexact=name).first()


def write_equipment(run: TableRun, rows: list[ParsedRow]) -> None:
    """How much of each kind is in each place; a kind that isn't there yet is added."""
    for row in rows:
        place = _place(run, row)
        if place is None:
            continue
        kind = _in_use(Equipment, run, row.values["name"])
        saved = EquipmentStock.objects.filter(equipment=kind, **place).first() if kind is not None else None
        values = model_values(EquipmentStock, row, ("place", "count", "worn", "broken", "lent", "lent_to"))
        row_of = saved or EquipmentStock(**place)
        if kind is not None:
            row_of.equipment = kind
        run.put(row, _KindFirst(row.values["name"]), row_of, values)


class _KindFirst:
    """Saves a stock, and before it the kind of equipment where that is new."""

    def __init__(self, name: str) -> None:
        self.name = name

    def __call__(self, *, actor: Person, row: EquipmentStock, values: Mapping[str, Any]) -> EquipmentStock:
        if not row.equipment_id:
            row.equipment = equipment_save(actor=actor, row=Equipment(), values={"name": self.name})
        return stock_save(actor=actor, row=row, values=values)


def _place(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """The building or the car; None with the problem noted."""
    if row.get("building"):
        building = building_of(run, row)
        return {"building": building} if building is not None else None
    teacher = looked_up(run, row, "teacher", run.lookups.own_teacher, row.get("teacher"))
    return {"carried_by": teacher} if teacher is not None else None


def write_routines(run: TableRun, rows: list[ParsedRow]) -> None:
    """Whole routines, a row for each part."""
    known = known_equipment(run.actor)
    for group in grouped(rows, run.table.key):
        teacher = looked_up(run, group[0], "teacher", run.lookups.own_teacher, group[0].get("teacher"))
        values = _routine_values(run, group[0]) if teacher is not None else None
        if teacher is None or values is None or not same_in_all(run, group, OF_ROUTINE):
            continue
        own = Routine.objects.in_use().filter(teacher=teacher, variant_of=None)
        saved = own.filter(name__iexact=group[0].values["name"]).first()
        fresh = Routine(district=run.district, teacher=teacher)
        routine = run.put(group[0], routine_save, saved or fresh, {**values, "teacher": teacher})
        if routine is not None:
            _write_parts(run, group, routine, known)


def _routine_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """What the file says of a routine itself; None with the problem noted."""
    values = model_values(Routine, row, ("name", "about", "attention_minutes", "on_shelf"))
    if "school_class" not in row.values:
        return values
    if not row.get("school_class"):
        return {**values, "school_class": None}
    building = building_of(run, row) if row.get("building") else None
    if building is None:
        if not row.get("building"):
            run.fault(
                row, "building", "It doesn't say in which building the class is.", "Fill the building's code."
            )
        return None
    found = looked_up(run, row, "school_class", run.lookups.school_class, building, row.values["school_class"])
    return {**values, "school_class": found} if found is not None else None


def _write_parts(run: TableRun, group: list[ParsedRow], routine: Routine, known: Mapping[str, int]) -> None:
    """The parts in the order of the file; those that are saved and too many are taken out."""
    saved = list(RoutinePart.objects.in_use().filter(routine=routine))
    names = {pk: name for name, pk in known.items()}
    for at, row in enumerate(group):
        part = saved[at] if at < len(saved) else RoutinePart(routine=routine)
        values = _part_values(run, row, known)
        if values is None:
            continue
        before = {need.equipment_id: need.count for need in part.needs.all()} if part.pk else {}
        beside = {"needs": _told(before, names)}
        run.put(row, _PartAsTold(known), part, values, beside=beside if part.pk else None)
    for part in saved[len(group) :]:
        run.remove(group[-1], part_take_out, part)


def _told(needs: Mapping[int, int], names: Mapping[int, str]) -> str:
    return needs_write(sorted((names.get(pk, ""), count) for pk, count in needs.items()))


def _part_values(run: TableRun, row: ParsedRow, known: Mapping[str, int]) -> dict[str, Any] | None:
    values = model_values(RoutinePart, row, OF_PART)
    if "when_short" in row.values:
        values["when_short"] = int(row.get("when_short", RoutinePart.Short.SHRINKS))
    if "activity" in row.values:
        name = row.get("activity")
        values["activity"] = looked_up(run, row, "activity", activity_named, run, name) if name else None
        if name and values["activity"] is None:
            return None
    if "needs" in row.values:
        found = looked_up(run, row, "needs", needs_named, row.get("needs", "") or "", known)
        if found is None:
            return None
        values["needs"] = _told(found, {pk: name for name, pk in known.items()})
    return values


def activity_named(run: TableRun, name: str) -> Activity:
    """An activity in use by its name. Raises CellError."""
    found = _in_use(Activity, run, name)
    if found is None:
        names = Activity.objects.in_use().filter(district=run.district).values_list("name", flat=True)
        raise CellError(f"There is no activity “{name}”.", f"{nearest(name, list(names))} Or add it first.")
    return found


def needs_named(text: str, known: Mapping[str, int]) -> dict[int, int]:
    """Equipment as it is written. Raises CellError."""
    try:
        return needs_read(text, known)
    except NeedsError as error:
        said, _, remedy = str(error).partition(". ")
        raise CellError(f"{said}.", remedy or "Correct this cell.") from error


class _PartAsTold:
    """Saves a part whose equipment is given as text."""

    def __init__(self, known: Mapping[str, int]) -> None:
        self.known = known

    def __call__(self, *, actor: Person, row: RoutinePart, values: Mapping[str, Any]) -> RoutinePart:
        told = dict(values)
        if "needs" in told:
            told["needs"] = needs_read(told["needs"], self.known)
        return part_save(actor=actor, row=row, values=told)
