"""A district's own rows as the tables that can be imported: sending them back changes nothing."""

from collections.abc import Callable, Iterable, Iterator

from django.db.models import F

from accounts.models import Person
from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.care.selectors import care_texts
from caseload.care.written import ON_RECORD
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold
from caseload.progress.models import DataPoint, StudentGoal
from schedule.aides.models import AideHours
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    CalendarEntry,
    ClassDayTime,
    ClassMeeting,
    DayRotation,
    MarkingPeriod,
    SchoolYear,
    SpaceFreeTime,
    WordRule,
)
from schedule.class_hour.models import Routine
from schedule.class_hour.needs import needs_write
from schedule.class_hour.selectors.routines import routines_for, served_seen
from schedule.equipment.models import Activity, EquipmentStock
from schedule.imports.files.cells import Values, code_of, fields_of
from schedule.imports.files.export_mileage import trips, vouchers
from schedule.imports.files.export_serving import (
    common_meetings,
    contract_days,
    covers,
    joint_sessions,
    meetings,
    own_drive_times,
    posts,
    teacher_rules,
)
from schedule.imports.files.export_staff import people_rows
from schedule.imports.files.values import write_cell, write_goals
from schedule.imports.tables.columns import Table
from schedule.stations.selectors.asking import stations_for
from travel.places.models import Building, Space


def export_rows(viewer: Person, table: Table) -> Iterator[tuple[str, ...]]:
    """The rows of a table that the viewer may see, as text by column."""
    for values in _EXPORTS[table.kind](viewer, table):
        yield tuple(write_cell(column, values.get(column.name)) for column in table.columns)


def _buildings(viewer: Person, table: Table) -> Iterable[Values]:
    return (fields_of(row, table) for row in Building.objects.visible_to(viewer).order_by("code"))


def _bell_schedules(viewer: Person, table: Table) -> Iterable[Values]:
    del table
    periods = BellPeriod.objects.visible_to(viewer).select_related("schedule__building")
    since = F("first_day").asc(nulls_first=True)
    for period in periods.order_by("schedule__building__code", "schedule__name", since, "start", "end", "name"):
        yield {
            "building": period.schedule.building.code,
            "schedule": period.schedule.name,
            "first_day": period.first_day,
            "schedule_kind": period.schedule.kind,
            "passing_minutes": period.schedule.passing_minutes,
            "period": period.name,
            "period_kind": period.kind,
            "start": period.start,
            "end": period.end,
            "grades": period.grades,
        }


def _rotations(viewer: Person, table: Table) -> Iterable[Values]:
    since = ("building__code", "grades", "name", F("first_day").asc(nulls_first=True))
    rows = DayRotation.objects.visible_to(viewer).select_related("building").order_by(*since)
    return (fields_of(row, table, "building") | {"building": row.building.code} for row in rows)


def _bell_days(viewer: Person, table: Table) -> Iterable[Values]:
    del table
    rows = BellRule.objects.visible_to(viewer).select_related("building", "schedule")
    return (
        {"building": row.building.code, "day": row.day, "schedule": row.schedule.name}
        for row in rows.order_by("building__code", "day")
    )


def _spaces(viewer: Person, table: Table) -> Iterable[Values]:
    rows = Space.objects.visible_to(viewer).select_related("building").order_by("building__code", "name")
    return (fields_of(row, table, "building") | {"building": row.building.code} for row in rows)


def _space_times(viewer: Person, table: Table) -> Iterable[Values]:
    rows = SpaceFreeTime.objects.visible_to(viewer).select_related("space__building")
    for row in rows.order_by("space__building__code", "space__name", "pk"):
        links = {"building": row.space.building.code, "space": row.space.name}
        yield fields_of(row, table, *links) | links


def _classes(viewer: Person, table: Table) -> Iterable[Values]:
    rows = SchoolClass.objects.visible_to(viewer).select_related("building").order_by("building__code", "code")
    return (fields_of(row, table, "building") | {"building": row.building.code} for row in rows)


def _class_days(viewer: Person, table: Table) -> Iterable[Values]:
    rows = ClassDayTime.objects.visible_to(viewer).select_related("school_class__building")
    for row in rows.order_by("school_class__building__code", "school_class__code", "pk"):
        links = {"building": row.school_class.building.code, "school_class": row.school_class.code}
        yield fields_of(row, table, *links) | links


def _class_times(viewer: Person, table: Table) -> Iterable[Values]:
    rows = ClassMeeting.objects.visible_to(viewer).select_related("school_class__building", "space")
    for row in rows.order_by("school_class__building__code", "school_class__code", "pk"):
        links = {
            "building": row.school_class.building.code,
            "school_class": row.school_class.code,
            "space": row.space.name if row.space else "",
        }
        yield fields_of(row, table, *links) | links


def _school_years(viewer: Person, table: Table) -> Iterable[Values]:
    return (fields_of(row, table) for row in SchoolYear.objects.visible_to(viewer).order_by("first_day"))


def _marking_periods(viewer: Person, table: Table) -> Iterable[Values]:
    rows = MarkingPeriod.objects.visible_to(viewer).select_related("school_year").order_by("first_day")
    return (fields_of(row, table, "school_year") | {"school_year": row.school_year.name} for row in rows)


def _special_days(viewer: Person, table: Table) -> Iterable[Values]:
    """The calendar's own; what was said to have happened is taken back where it was said."""
    rows = (
        CalendarEntry.objects.visible_to(viewer).filter(happening=None).select_related("building", "bell_schedule")
    )
    for row in rows.order_by("first_date", "building__code", "pk"):
        links = {
            "building": code_of(row.building),
            "bell_schedule": row.bell_schedule.name if row.bell_schedule else "",
        }
        yield fields_of(row, table, *links) | links


def _calendar_words(viewer: Person, table: Table) -> Iterable[Values]:
    return (fields_of(row, table) for row in WordRule.objects.visible_to(viewer))


def _caution_tags(viewer: Person, table: Table) -> Iterable[Values]:
    return (fields_of(row, table) for row in CautionTag.objects.visible_to(viewer))


def _students(viewer: Person, table: Table) -> Iterable[Values]:
    rows = list(
        Student.objects.visible_to(viewer)
        .select_related("building", "home_class", "caseload_teacher")
        .order_by("code")
    )
    written = care_texts([row.pk for row in rows])
    for row in rows:
        links: Values = {
            "building": row.building.code,
            "home_class": code_of(row.home_class),
            "caseload_teacher": row.caseload_teacher.username,
            "from_day": None,
            **written[row.pk],
        }
        yield fields_of(row, table, *links) | links


def _plans(viewer: Person, table: Table) -> Iterable[Values]:
    linked = ("plan__student", "service", "provider", "building", "pushed_into", "held_in__building")
    rows = ServiceLine.objects.visible_to(viewer).select_related(*linked)
    for row in rows.prefetch_related("allowed_spaces").order_by("plan__student__code", "plan__start", "pk"):
        links = {
            "student": row.plan.student.code,
            "plan_start": row.plan.start,
            "plan_end": row.plan.end,
            "annual_review": row.plan.annual_review,
            "provisional": row.plan.status == Plan.Status.PROVISIONAL,
            "from_day": None,
            "service": row.service_id,
            "revision": row.service.revision,
            "reading": row.reading if row.reading_chosen else "",
            "provider": row.provider.username,
            "building": code_of(row.building),
            "pushed_into": code_of(row.pushed_into),
            "allowed_spaces": [space.name for space in row.allowed_spaces.all()],
            "held_in_building": code_of(row.held_in.building) if row.held_in is not None else "",
            "held_in": row.held_in.name if row.held_in is not None else "",
        }
        yield fields_of(row, table, *links) | links


def _student_holds(viewer: Person, table: Table) -> Iterable[Values]:
    rows = StudentHold.objects.visible_to(viewer).select_related("student").order_by("student__code", "pk")
    return (fields_of(row, table, "student") | {"student": row.student.code} for row in rows)


def _supports(viewer: Person, table: Table) -> Iterable[Values]:
    rows = Support.objects.visible_to(viewer).exclude(source=ON_RECORD).select_related("student", "other_student")
    for row in rows.order_by("student__code", "pk"):
        other = row.other_student.code if row.other_student is not None else ""
        links = {"student": row.student.code, "other_student": other}
        yield fields_of(row, table, *links) | links


def _cautions(viewer: Person, table: Table) -> Iterable[Values]:
    rows = Caution.objects.visible_to(viewer).exclude(source=ON_RECORD).select_related("student")
    for row in rows.prefetch_related("tags").order_by("student__code", "pk"):
        links = {"student": row.student.code, "tags": [tag.name for tag in row.tags.all()]}
        yield fields_of(row, table, *links) | links


def _contacts(viewer: Person, table: Table) -> Iterable[Values]:
    rows = Contact.objects.visible_to(viewer).select_related("student", "school_class__building")
    for row in rows.order_by("student__code", "school_class__building__code", "school_class__code", "pk"):
        links = {
            "student": row.student.code if row.student is not None else "",
            "building": row.school_class.building.code if row.school_class is not None else "",
            "school_class": code_of(row.school_class),
        }
        yield fields_of(row, table, *links) | links


def _aide_hours(viewer: Person, table: Table) -> Iterable[Values]:
    del table
    rows = AideHours.objects.visible_to(viewer).select_related(
        "contact__student", "contact__school_class__building"
    )
    for row in rows.order_by(
        "contact__student__code", "contact__school_class__building__code", "contact__school_class__code",
        "contact", "first_day",
    ):  # fmt: skip
        contact = row.contact
        yield {
            "student": contact.student.code if contact.student is not None else "",
            "building": contact.school_class.building.code if contact.school_class is not None else "",
            "school_class": code_of(contact.school_class),
            "name": contact.name,
            "first_day": row.first_day,
            "times": row.times,
        }


def _goals(viewer: Person, table: Table) -> Iterable[Values]:
    rows = StudentGoal.objects.visible_to(viewer).select_related("student", "parent")
    for row in rows.order_by("student__code", "start", "position", "pk"):
        links = {"student": row.student.code, "parent": row.parent.position if row.parent is not None else None}
        yield fields_of(row, table, *links) | links


def _goal_data(viewer: Person, table: Table) -> Iterable[Values]:
    rows = DataPoint.objects.counted().visible_to(viewer).select_related("goal__student", "taken_by")
    for row in rows.order_by("goal__student__code", "goal__position", "day", "pk"):
        links = {"student": row.goal.student.code, "position": row.goal.position}
        yield fields_of(row, table, *links) | links


def _activities(viewer: Person, table: Table) -> Iterable[Values]:
    rows = Activity.objects.visible_to(viewer).in_use().prefetch_related("caution_tags")
    for row in rows:
        links = {"caution_tags": [tag.name for tag in row.caution_tags.all()]}
        yield fields_of(row, table, *links) | links


def _equipment(viewer: Person, table: Table) -> Iterable[Values]:
    rows = EquipmentStock.objects.visible_to(viewer).filter(equipment__removed_at__isnull=True)
    rows = rows.select_related("equipment", "building", "carried_by")
    for row in rows.order_by("equipment__name", "building__code", "carried_by__username"):
        links = {
            "name": row.equipment.name,
            "building": code_of(row.building),
            "teacher": row.carried_by.username if row.carried_by is not None else "",
        }
        yield fields_of(row, table, *links) | links


def _stations(viewer: Person, table: Table) -> Iterable[Values]:
    for row in stations_for(viewer):
        links: Values = {
            "activity": row.activity.name if row.activity is not None else "",
            "tags": "; ".join(tag.name for tag in row.tags.all()),
            "needs": needs_write(sorted((need.equipment.name, need.count) for need in row.needs.all())),
            "goals": write_goals((one.goal.student.code, one.goal.position) for one in row.goals.all()),
        }
        yield fields_of(row, table, *links) | links


def _routines(viewer: Person, table: Table) -> Iterable[Values]:
    """Those that the viewer may change, each before its variants."""
    rows = routines_for(viewer)
    own = list(rows if viewer.is_coordinator else rows.filter(teacher=viewer))
    in_use = {row.pk for row in own}
    listed = (row for row in own if row.variant_of_id is None or row.variant_of_id in in_use)
    for row in sorted(listed, key=lambda one: (one.variant_of_id or one.pk, one.variant_of_id is not None)):
        group = Student.objects.visible_to(viewer).filter(routines=row).order_by("code")
        codes = "; ".join(group.values_list("code", flat=True))
        yield from _routine_parts(row, table, codes, served_seen(viewer, row))


def _routine_parts(row: Routine, table: Table, group: str, seen: set[int]) -> Iterable[Values]:
    own: Values = {
        "name": row.name,
        "variant": row.variant,
        "teacher": row.teacher.username,
        "building": code_of(row.school_class.building if row.school_class is not None else None),
        "school_class": code_of(row.school_class),
        "students": group,
        "about": row.about,
        "attention_minutes": row.attention_minutes,
        "on_shelf": row.on_shelf,
    }
    for part in row.parts.all():
        links: Values = {
            **own,
            "activity": part.activity.name if part.activity is not None else "",
            "when_short": str(part.when_short),
            "goals": write_goals((one.student.code, one.position) for one in part.goals.all() if one.pk in seen),
            "needs": needs_write(sorted((need.equipment.name, need.count) for need in part.needs.all())),
        }
        yield fields_of(part, table, *links) | links


_EXPORTS: dict[str, Callable[[Person, Table], Iterable[Values]]] = {
    "buildings": _buildings,
    "people": people_rows,
    "bell-schedules": _bell_schedules,
    "rotations": _rotations,
    "bell-days": _bell_days,
    "school-years": _school_years,
    "marking-periods": _marking_periods,
    "special-days": _special_days,
    "calendar-words": _calendar_words,
    "spaces": _spaces,
    "space-times": _space_times,
    "classes": _classes,
    "class-days": _class_days,
    "class-times": _class_times,
    "students": _students,
    "plans": _plans,
    "joint-sessions": joint_sessions,
    "student-holds": _student_holds,
    "caution-tags": _caution_tags,
    "supports": _supports,
    "cautions": _cautions,
    "contacts": _contacts,
    "aide-hours": _aide_hours,
    "goals": _goals,
    "goal-data": _goal_data,
    "teacher-rules": teacher_rules,
    "contract-days": contract_days,
    "posts": posts,
    "meetings": meetings,
    "common-meetings": common_meetings,
    "covers": covers,
    "own-drive-times": own_drive_times,
    "trips": trips,
    "vouchers": vouchers,
    "activities": _activities,
    "equipment": _equipment,
    "routines": _routines,
    "stations": _stations,
}
