"""Reads of aides' hours: for planning, and for the page that lists them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q

from accounts.models import Person
from accounts.selectors import LastChange, last_change_of, today_of
from caseload.care.models import Contact, Support
from caseload.care.seen import seen_note
from caseload.plans.models import SchoolClass, Student
from caseload.plans.names import student_names
from schedule.aides.hours import Aide, AidesNeeded, Days, HoursFrom, read_hours
from schedule.aides.models import AideHours

UNDO = "aide_hours_take_back"


def aides_needed(students: Collection[int], buildings: Collection[int]) -> AidesNeeded:
    """Who of these students needs an aide, and the aides with their hours in these buildings.

    Three queries at most, one where nobody needs an aide.
    """
    needs: dict[int, list[Days]] = defaultdict(list)
    for one in Support.objects.filter(student__in=students, kind=Support.Kind.AIDE):
        needs[one.student_id].append((one.first_day, one.last_day))
    if not needs:
        return AidesNeeded()
    of_students: dict[int, list[Aide]] = defaultdict(list)
    of_classes: dict[int, list[Aide]] = defaultdict(list)
    theirs = Q(student__in=list(needs)) | Q(school_class__building__in=buildings)
    for row in Contact.objects.filter(theirs, role=Contact.Role.AIDE).prefetch_related("aide_hours"):
        if row.student_id is not None:
            of_students[row.student_id].append(aide_of(row))
        elif row.school_class_id is not None:
            of_classes[row.school_class_id].append(aide_of(row))
    return AidesNeeded(
        {key: tuple(days) for key, days in needs.items()},
        {key: tuple(aides) for key, aides in of_students.items()},
        {key: tuple(aides) for key, aides in of_classes.items()},
    )


def aide_of(row: Contact) -> Aide:
    """An aide among the contacts, as the pure rules take it."""
    return Aide(row.name, tuple(HoursFrom(one.first_day, read_hours(one.times)) for one in row.aide_hours.all()))


# ---- the page ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AideShown:
    """An aide with whose the aide is, who needs one there, and the hours: now, from later days, and before."""

    contact: Contact
    of: str
    needed_by: tuple[str, ...]
    now: AideHours | None
    later: tuple[AideHours, ...]
    before: tuple[AideHours, ...]
    last: LastChange | None


@dataclass(frozen=True, slots=True)
class AidesListed:
    """All aides whom a viewer may see, and students who need an aide where none is named."""

    aides: tuple[AideShown, ...]
    without: tuple[tuple[int, str], ...]


def aides_listed(viewer: Person) -> AidesListed:
    """Aides of the viewer's students and of their classes. It is noted whose need for an aide was shown."""
    today, names = today_of(viewer), student_names(viewer).full
    students = list(Student.objects.visible_to(viewer))
    contacts = _aides_of(viewer, students)
    need = _needing(students, today)
    seen_note(one.pk for one in need)
    own = {one.student_id for one in contacts}
    shown = tuple(_shown(one, _needed_by(one, need, own), names, today) for one in contacts)
    return AidesListed(shown, tuple((one.pk, names.get(one.pk, one.code)) for one in _without_aide(need, contacts)))


def _without_aide(need: Iterable[Student], contacts: Collection[Contact]) -> list[Student]:
    own = {one.student_id for one in contacts}
    classes = {one.school_class_id for one in contacts} - {None}
    return [one for one in need if one.pk not in own and one.home_class_id not in classes]


def _aides_of(viewer: Person, students: Collection[Student]) -> list[Contact]:
    classes = {one.home_class_id for one in students if one.home_class_id}
    theirs = Q(student__in=[one.pk for one in students]) | Q(school_class__in=classes)
    rows = Contact.objects.visible_to(viewer).filter(theirs, role=Contact.Role.AIDE)
    return list(rows.select_related("student", "school_class__building").prefetch_related("aide_hours"))


def _needing(students: Collection[Student], today: dt.date) -> list[Student]:
    """Those who need an aide today, or will."""
    rows = Support.objects.filter(student__in=[one.pk for one in students], kind=Support.Kind.AIDE)
    lasts = rows.filter(Q(last_day__isnull=True) | Q(last_day__gte=today))
    found = set(lasts.values_list("student_id", flat=True))
    return [one for one in students if one.pk in found]


def _needed_by(contact: Contact, need: Iterable[Student], own: Collection[int | None]) -> list[Student]:
    """Whose sessions go by this aide's hours: the student's own, else those of the class."""
    if contact.student_id is not None:
        return [one for one in need if one.pk == contact.student_id]
    return [one for one in need if one.home_class_id == contact.school_class_id and one.pk not in own]


def _shown(contact: Contact, needed_by: Iterable[Student], names: Mapping[int, str], today: dt.date) -> AideShown:
    hours = sorted(contact.aide_hours.all(), key=lambda one: one.first_day)
    begun = [one for one in hours if one.first_day <= today]
    return AideShown(
        contact,
        _whose(contact, names),
        tuple(names.get(one.pk, one.code) for one in needed_by),
        begun[-1] if begun else None,
        tuple(one for one in hours if one.first_day > today),
        tuple(reversed(begun[:-1])),
        last_hours_change(contact),
    )


def _whose(contact: Contact, names: Mapping[int, str]) -> str:
    if isinstance(contact.school_class, SchoolClass):
        return f"{contact.school_class}, {contact.school_class.building}"
    return names.get(contact.student_id or 0, contact.student.code if contact.student else "")


def last_hours_change(contact: Contact) -> LastChange | None:
    """What was done last to the hours of an aide."""
    gone = Q(changes__contact__0=contact.pk) | Q(changes__contact__1=contact.pk)
    rows = contact.aide_hours.values_list("pk", flat=True)
    return last_change_of(AideHours, contact.district, rows, undo=UNDO, about=gone)
