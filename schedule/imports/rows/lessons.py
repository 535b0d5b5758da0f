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
from schedule.imports.files.values import CellError, nearest, write_goals
from schedule.imports.rows.care import tag_named
from schedule.imports.rows.context import ParsedRow, TableRun, model_values
from schedule.imports.rows.goals import goals_named
from schedule.imports.rows.schools import building_of, grouped, looked_up, same_in_all

OF_ROUTINE = ("building", "school_class", "students", "about", "attention_minutes", "on_shelf")
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
    # Routines before their variants.
    for group in sorted(grouped(rows, run.table.key), key=lambda one: bool(one[0].get("variant"))):
        teacher = looked_up(run, group[0], "teacher", run.lookups.own_teacher, group[0].get("teacher"))
        values = _routine_values(run, group[0]) if teacher is not None else None
        if teacher is None or values is None or not same_in_all(run, group, OF_ROUTINE):
            continue
        row = _routine_of(run, group[0], teacher)
        routine = run.put(group[0], routine_save, row, {**values, "teacher": teacher}) if row is not None else None
        if routine is not None:
            _write_parts(run, group, routine, known)


def _routine_of(run: TableRun, row: ParsedRow, teacher: Person) -> Routine | None:
    """The routine that a row names, or a new one; None, with the problem noted, for a variant of nothing."""
    name, variant = row.values["name"], row.get("variant")
    own = Routine.objects.in_use().filter(teacher=teacher, name__iexact=name)
    original = own.filter(variant_of=None).first()
    if not variant:
        return original or Routine(district=run.district, teacher=teacher)
    if original is None:
        message = f"There is no routine “{name}” that this can be a variant of."
        run.fault(row, "variant", message, "Bring the routine itself in rows with this column empty.")
        return None
    saved = own.filter(variant_of=original, variant__iexact=variant).first()
    return saved or Routine(district=run.district, teacher=teacher, variant_of=original)


def _routine_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """What the file says of a routine itself; None with the problem noted."""
    values = model_values(Routine, row, ("name", "variant", "about", "attention_minutes", "on_shelf"))
    for column in ("school_class", "students"):
        if row.get("variant") and row.get(column):
            run.fault(row, column, "A variant has the class or group of its routine.", "Leave this cell empty.")
            return None
    if row.get("variant"):
        return values
    group = _group_values(run, row)
    of_class = _class_values(run, row)
    return None if group is None or of_class is None else values | group | of_class


def _group_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """The students whose routine it is, where the file says it; None with the problem noted."""
    if "students" not in row.values:
        return {}
    found = [looked_up(run, row, "students", run.lookups.student, one) for one in row.get("students", ())]
    return None if None in found else {"students": found}


def _class_values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """The class whose routine it is, where the file says it; None with the problem noted."""
    if "school_class" not in row.values:
        return {}
    if not row.get("school_class"):
        return {"school_class": None}
    building = building_of(run, row) if row.get("building") else None
    if building is None:
        if not row.get("building"):
            run.fault(
                row, "building", "It doesn't say in which building the class is.", "Fill the building's code."
            )
        return None
    found = looked_up(run, row, "school_class", run.lookups.school_class, building, row.values["school_class"])
    return {"school_class": found} if found is not None else None


def _write_parts(run: TableRun, group: list[ParsedRow], routine: Routine, known: Mapping[str, int]) -> None:
    """The parts in the order of the file; those that are saved and too many are taken out."""
    saved = list(RoutinePart.objects.in_use().filter(routine=routine))
    names = {pk: name for name, pk in known.items()}
    for at, row in enumerate(group):
        part = saved[at] if at < len(saved) else RoutinePart(routine=routine)
        values = _part_values(run, row, known)
        if values is None:
            continue
        run.put(row, _PartAsTold(run, known), part, values, beside=_beside(part, names))
    for part in saved[len(group) :]:
        run.remove(group[-1], part_take_out, part)


def _beside(part: RoutinePart, names: Mapping[int, str]) -> dict[str, str] | None:
    """What is saved of a part beside its own fields, as a file says it."""
    if not part.pk:
        return None
    needs = {need.equipment_id: need.count for need in part.needs.all()}
    return {"needs": _told(needs, names), "goals": write_goals(part.goals.values_list("student__code", "position"))}


def _told(needs: Mapping[int, int], names: Mapping[int, str]) -> str:
    return needs_write(sorted((names.get(pk, ""), count) for pk, count in needs.items()))


def _part_values(run: TableRun, row: ParsedRow, known: Mapping[str, int]) -> dict[str, Any] | None:
    """A part's fields, equipment and goals as text; None with the problem noted."""
    values = model_values(RoutinePart, row, OF_PART)
    if "when_short" in row.values:
        values["when_short"] = int(row.get("when_short", RoutinePart.Short.SHRINKS))
    for name, found in (("activity", _activity_of), ("needs", _needs_of), ("goals", _goals_of)):
        if name in row.values and not found(run, row, values, known):
            return None
    return values


def _activity_of(run: TableRun, row: ParsedRow, values: dict[str, Any], known: Mapping[str, int]) -> bool:
    """Add the activity that a row names; whether it could be found."""
    del known
    name = row.get("activity")
    values["activity"] = looked_up(run, row, "activity", activity_named, run, name) if name else None
    return not name or values["activity"] is not None


def _needs_of(run: TableRun, row: ParsedRow, values: dict[str, Any], known: Mapping[str, int]) -> bool:
    """Add the equipment; whether it could be read."""
    found = looked_up(run, row, "needs", needs_named, row.get("needs", "") or "", known)
    values["needs"] = _told(found or {}, {pk: name for name, pk in known.items()})
    return found is not None


def _goals_of(run: TableRun, row: ParsedRow, values: dict[str, Any], known: Mapping[str, int]) -> bool:
    """Add the goals; whether they could be found."""
    del known
    found = looked_up(run, row, "goals", goals_named, run, row.get("goals", "") or "")
    values["goals"] = write_goals((one.student.code, one.position) for one in found or ())
    return found is not None


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
    """Saves a part whose equipment and goals are given as text."""

    def __init__(self, run: TableRun, known: Mapping[str, int]) -> None:
        self.run = run
        self.known = known

    def __call__(self, *, actor: Person, row: RoutinePart, values: Mapping[str, Any]) -> RoutinePart:
        told = dict(values)
        if "needs" in told:
            told["needs"] = needs_read(told["needs"], self.known)
        if "goals" in told:
            told["goals"] = goals_named(self.run, told["goals"])
        return part_save(actor=actor, row=row, values=told)
