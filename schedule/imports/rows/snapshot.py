"""What an import may touch, before and after, so that exactly that can be taken back.

Services may touch more rows than the one they are asked about (a bell schedule replaces its periods), so the
difference between two snapshots of a district's rows says what was done, whichever services did it.
"""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core import serializers
from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import ForeignKey, Model, Q, QuerySet

from accounts.models import CoveredSession, District, Invitation, Person, PersonRole, Substitution
from caseload.care.models import Caution, CautionTag, Contact, Support
from caseload.plans.models import (
    CaseloadAssignment,
    ContinuingService,
    Enrollment,
    Plan,
    SchoolClass,
    ServiceLine,
    Student,
    StudentHold,
)
from caseload.progress.models import DataPoint, StudentGoal
from schedule.aides.models import AideHours
from schedule.assigning.models import TeacherPost
from schedule.calendar.models import (
    BellPeriod,
    BellRule,
    BellSchedule,
    CalendarEntry,
    ClassDayTime,
    ClassMeeting,
    ContractDay,
    DayRotation,
    MarkingPeriod,
    Meeting,
    SchoolYear,
    SpaceFreeTime,
    TeacherRules,
    WordRule,
)
from schedule.class_hour.models import PartEquipment, Routine, RoutinePart
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from schedule.joint.models import JointService
from schedule.meetings.models import CommonMeeting
from schedule.stations.models import Station, StationEquipment, StationGoal
from travel.drives.models import OwnDriveTime
from travel.mileage.models import Trip, Voucher, VoucherAnswer, VoucherLine, VoucherStep
from travel.places.models import Building, BuildingStaff, Space

_BATCH = 500
# How each table's rows are reached from their district, and which models its import writes.
_PATHS: dict[type[Model], str | tuple[str, ...]] = {
    Building: "district",
    Person: "district",
    PersonRole: "person__district",
    Invitation: "district",
    BuildingStaff: "building__district",
    BellSchedule: "building__district",
    BellPeriod: "schedule__building__district",
    DayRotation: "building__district",
    BellRule: "building__district",
    Space: "building__district",
    SpaceFreeTime: "space__building__district",
    SchoolClass: "building__district",
    ClassDayTime: "school_class__building__district",
    ClassMeeting: "school_class__building__district",
    Student: "district",
    Enrollment: "student__district",
    CaseloadAssignment: "student__district",
    Plan: "student__district",
    ContinuingService: "student__district",
    ServiceLine: "plan__student__district",
    JointService: "service__student__district",
    StudentHold: "student__district",
    CautionTag: "district",
    Support: "student__district",
    Caution: "student__district",
    Contact: ("student__district", "school_class__building__district"),
    AideHours: ("contact__student__district", "contact__school_class__building__district"),
    StudentGoal: "student__district",
    DataPoint: "goal__student__district",
    TeacherRules: "district",
    ContractDay: "district",
    TeacherPost: "district",
    Meeting: "district",
    CommonMeeting: "district",
    Substitution: "teacher__district",
    CoveredSession: "substitution__teacher__district",
    OwnDriveTime: "district",
    Trip: "district",
    Voucher: "district",
    VoucherLine: "voucher__district",
    VoucherStep: "voucher__district",
    VoucherAnswer: "voucher__district",
    Activity: "district",
    Equipment: "district",
    EquipmentStock: "equipment__district",
    Routine: "district",
    RoutinePart: "routine__district",
    PartEquipment: "part__routine__district",
    Station: "district",
    StationEquipment: "station__district",
    StationGoal: "station__district",
    CalendarEntry: "district",
    SchoolYear: "district",
    WordRule: "district",
    MarkingPeriod: "district",
}
WRITTEN_BY: dict[str, tuple[type[Model], ...]] = {
    "buildings": (Building,),
    # Another mail address ends what was mailed to the one before.
    "people": (Person, PersonRole, BuildingStaff, Invitation),
    # A renamed period is renamed wherever it is named.
    "bell-schedules": (BellSchedule, BellPeriod, SpaceFreeTime, ClassMeeting, StudentHold),
    "rotations": (DayRotation,),
    "bell-days": (BellRule,),
    "school-years": (SchoolYear,),
    "marking-periods": (MarkingPeriod,),
    "special-days": (CalendarEntry,),
    "calendar-words": (WordRule,),
    "spaces": (Space,),
    "space-times": (SpaceFreeTime,),
    "classes": (SchoolClass,),
    "class-days": (ClassDayTime,),
    "class-times": (ClassMeeting,),
    "students": (Student, Enrollment, CaseloadAssignment, Support, Caution),
    "plans": (Plan, ContinuingService, ServiceLine),
    "joint-sessions": (JointService,),
    "student-holds": (StudentHold,),
    "caution-tags": (CautionTag,),
    "supports": (Support,),
    "cautions": (Caution,),
    "contacts": (Contact,),
    "aide-hours": (AideHours,),
    "goals": (StudentGoal,),
    "goal-data": (DataPoint,),
    "teacher-rules": (TeacherRules,),
    "contract-days": (ContractDay,),
    "posts": (TeacherPost,),
    "meetings": (Meeting,),
    "common-meetings": (CommonMeeting,),
    # Who came by a link is a person without a sign-in.
    "covers": (Person, PersonRole, Substitution, CoveredSession),
    "own-drive-times": (OwnDriveTime,),
    "trips": (Trip,),
    "vouchers": (Voucher, VoucherLine, VoucherStep, VoucherAnswer),
    "activities": (Activity,),
    "equipment": (Equipment, EquipmentStock),
    "routines": (Routine, RoutinePart, PartEquipment),
    "stations": (Station, StationEquipment, StationGoal),
    # The answer to a question about an event is kept among the words.
    "calendar": (SchoolYear, CalendarEntry, WordRule),
}

# Of a person only what the table says is ever kept: no password, not even as a hash, and nothing of their sign-ins.
KEPT_OF: dict[type[Model], tuple[str, ...]] = {
    Person: (
        "username", "first_name", "last_name", "email", "district", "role", "last_day", "is_active", "by_link",
    ),
    # Nor anything of the link.
    Invitation: (
        "district", "person", "made_at", "ends_at", "on_paper", "sent_at", "failed", "stopped_at", "used_at",
    ),
}  # fmt: skip

type Key = tuple[str, str]
type Snapshot = dict[Key, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Change:
    """One row that was made (`before` is None), changed, or deleted (`after` is None)."""

    model: str
    object_id: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None


def models_of(kinds: Iterable[str]) -> tuple[type[Model], ...]:
    """Every model that imports of these kinds can touch, each once, those that others point to first."""
    return tuple(dict.fromkeys(model for kind in kinds for model in WRITTEN_BY[kind]))


def rows_of(model: type[Model], district: District) -> QuerySet[Model]:
    """A district's rows of one of those models."""
    paths = _PATHS[model]
    ways = Q()
    for path in (paths,) if isinstance(paths, str) else paths:
        ways |= Q(**{path: district})
    return model._meta.base_manager.filter(ways)


@dataclass(frozen=True, slots=True)
class Links:
    """The table of a many-to-many field, and its columns for the row that has the field and for the linked one."""

    field: str
    table: type[Model]
    own: str
    other: str

    def of(self, keys: object) -> QuerySet[Model]:
        """The links of some rows (keys, or a queryset)."""
        return self.table._meta.base_manager.filter(**{f"{self.own}__in": keys})


def links_of(model: type[Model]) -> Iterator[Links]:
    """Every table that links a model's rows with others."""
    for field in model._meta.local_many_to_many:
        table = field.remote_field.through
        if table is not None:
            yield Links(field.name, table, f"{field.m2m_field_name()}_id", f"{field.m2m_reverse_field_name()}_id")


def take_snapshot(district: District, kinds: Iterable[str]) -> Snapshot:
    """Every row of the district that imports of these kinds can touch, as plain JSON values."""
    found: Snapshot = {}
    for model in models_of(kinds):
        found |= _stored(model, rows_of(model, district))
    return found


def _sorted_lists(fields: dict[str, Any]) -> dict[str, Any]:
    """Many-to-many keys in one order, so that equal rows compare as equal."""
    return {name: sorted(value) if isinstance(value, list) else value for name, value in fields.items()}


def compare_snapshots(before: Snapshot, after: Snapshot) -> list[Change]:
    """What differs between two snapshots: made rows first, in the order of their models."""
    changed = [key for key in after if before.get(key) != after[key]]
    gone = [key for key in before if key not in after]
    return [Change(*key, before.get(key), after.get(key)) for key in changed + gone]


def current_states(keys: Iterable[Key]) -> Snapshot:
    """Rows as a snapshot would show them now; those that are gone are not among them."""
    found: Snapshot = {}
    for label, pks in _by_model(keys).items():
        model = model_of(label)
        for rows in _in_batches(model, "pk", pks):
            found |= _stored(model, rows)
    return found


def _by_model(keys: Iterable[Key]) -> dict[str, list[str]]:
    """Keys of rows by their model, in the order given."""
    by_model: dict[str, list[str]] = {}
    for label, pk in keys:
        by_model.setdefault(label, []).append(pk)
    return by_model


def _in_batches(model: type[Model], name: str, pks: list[str]) -> Iterator[QuerySet[Model]]:
    """Rows whose field `name` is among the keys, a few hundred keys at a time (databases limit their number)."""
    for start in range(0, len(pks), _BATCH):
        yield model._meta.base_manager.filter(**{f"{name}__in": pks[start : start + _BATCH]})


def _stored(model: type[Model], rows: Iterable[Model]) -> Snapshot:
    """Rows of a model as plain JSON values by their keys."""
    found: Snapshot = {}
    for stored in serializers.serialize("python", rows, fields=KEPT_OF.get(model)):
        fields = json.loads(json.dumps(stored["fields"], cls=DjangoJSONEncoder))
        found[stored["model"], str(stored["pk"])] = _sorted_lists(fields)
    return found


def find_row(model_label: str, object_id: str) -> Model | None:
    """A row, or None if it is gone."""
    return model_of(model_label)._meta.base_manager.filter(pk=object_id).first()


def find_dependent(own: Iterable[Key]) -> tuple[Model, Model] | None:
    """A row among `own` and one outside that points to it, and so would go or change if it were deleted."""
    return next(dependents_of(own), None)


def dependents_of(own: Iterable[Key]) -> Iterator[tuple[Model, Model]]:
    """Every row among `own` that one outside points to, with that one."""
    keys = set(own)
    for label, pks in _by_model(sorted(keys)).items():
        for relation in model_of(label)._meta.get_fields(include_hidden=True):
            field = getattr(relation, "field", None)
            if not (relation.auto_created and not relation.concrete and isinstance(field, ForeignKey)):
                continue
            for pointing in _in_batches(field.model, field.name, pks):
                for one in pointing:
                    owner = _owner(one)
                    if (owner._meta.label_lower, str(owner.pk)) not in keys:
                        yield getattr(one, field.name), owner


def _owner(row: Model) -> Model:
    """The row itself; for a line of a many-to-many table, the row that has the many-to-many field."""
    made_for: Any = row._meta.auto_created  # the model that holds the many-to-many field; Django's stubs say bool
    if not made_for:
        return row
    for field in row._meta.concrete_fields:
        if isinstance(field, ForeignKey) and field.related_model is made_for:
            owner: Model = getattr(row, field.name)
            return owner
    return row


def model_of(label: str) -> type[Model]:
    """The model of a label such as `travel.building`."""
    return apps.get_model(label)
