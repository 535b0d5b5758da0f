"""Who hears of a change of a teacher's day: it follows from what changed."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Case, CharField, Q, Value, When

from accounts.models import District, Person, Substitution, held_on
from caseload.care.models import Contact
from schedule.calendar.selectors.covers import covers_between
from schedule.notices.day_changes import KnownDay
from schedule.notices.models import Hearing, NoticeSettings, PushDevice
from travel.places.models import BuildingStaff


@dataclass(frozen=True, slots=True)
class Hearer:
    """One person, or one contact of a class, and the part of a day that concerns them.

    `buildings`: an office's own; `classes`: of the class that a contact is kept with; `sessions`: by uid, of who
    stands in for some alone; all None: all of it.
    """

    person: Person | None = None
    contact: Contact | None = None
    buildings: frozenset[int] | None = None
    classes: frozenset[int] | None = None
    sessions: frozenset[str] | None = None
    hearing: Hearing | None = None
    devices: tuple[PushDevice, ...] = ()

    @property
    def key(self) -> str:
        """Tells one from every other."""
        return f"p{self.person.pk}" if self.person is not None else f"c{self.contact.pk if self.contact else 0}"

    @property
    def mail_to(self) -> str:
        """Where mail goes; empty: nowhere."""
        if self.hearing is not None:
            return self.hearing.mail_to
        if self.person is not None:
            return self.person.email
        return self.contact.email if self.contact is not None else ""

    @property
    def hears_at_once(self) -> bool:
        """Whether changes to the next 24 hours are told."""
        return self.hearing is None or self.hearing.at_once

    @property
    def hears_in_the_evening(self) -> bool:
        """Whether tomorrow is told; a contact has no say and hears only what changes."""
        return self.person is not None and (self.hearing is None or self.hearing.in_the_evening)

    @property
    def may_know_students(self) -> bool:
        """Whether students may be named where the district allows it: to who may see them on pages."""
        return self.person is not None and self.buildings is None and self.person.has_perm("caseload.view")

    def part(self, day: KnownDay) -> KnownDay:
        """What of a day concerns them."""
        if self.buildings is not None:
            return day.of_schools(self.buildings)
        if self.sessions is not None:
            return day.of_sessions(self.sessions)
        return day.of_classes(self.classes) if self.classes is not None else day


def hearers_of(teacher: Person, date: dt.date, days: Iterable[KnownDay]) -> tuple[Hearer, ...]:
    """The teacher, who stands in, the coordinators, the offices of its schools and the contacts of its classes."""
    sessions = [one for day in days for one in day.sessions]
    if teacher.district is None:
        return ()
    parts: dict[Person, frozenset[int] | None] = dict.fromkeys(_colleagues(teacher, date, teacher.district))
    # Who hears of the whole day anyway isn't told of one school's part beside it.
    schools = set[int]().union(*(one.schools for one in sessions))
    for person, its in _offices(schools, date).items():
        parts.setdefault(person.act_as(Person.Role.OFFICE), its)
    hearings = Hearing.objects.select_related("person").in_bulk([one.pk for one in parts], field_name="person_id")
    devices = _devices(parts)
    told = [
        Hearer(
            person,
            buildings=its,
            sessions=covered_sessions(person, teacher, date),
            hearing=hearings.get(person.pk),
            devices=devices.get(person.pk, ()),
        )
        for person, its in parts.items()
    ]
    classes = {one.class_id for one in sessions if one.class_id is not None}
    return (*told, *_contacts(teacher.district, classes))


def covered_sessions(person: Person, teacher: Person, date: dt.date) -> frozenset[str] | None:
    """By uid, the sessions of a date that a substitute gives; None for all, and for whoever is no substitute."""
    if person.role != Person.Role.SUBSTITUTE:
        return None
    own = covers_between([teacher.pk], date, date).by(person).on(date)
    if any(not one.sessions for one in own):
        return None
    return frozenset(uid for one in own for uid in one.sessions)


def _devices(people: Iterable[Person]) -> dict[int, tuple[PushDevice, ...]]:
    """The devices that are turned on, by person."""
    found: dict[int, tuple[PushDevice, ...]] = {}
    for row in PushDevice.objects.filter(person__in=[one.pk for one in people], ended_at=None):
        found[row.person_id] = (*found.get(row.person_id, ()), row)
    return found


def _offices(buildings: set[int], date: dt.date) -> dict[Person, frozenset[int]]:
    """Who works in which of these schools' offices."""
    found: dict[Person, set[int]] = {}
    offices = Person.objects.filter(held_on(date, Person.Role.OFFICE), is_active=True)
    staff = BuildingStaff.objects.filter(building__in=buildings, person__in=offices)
    for row in staff.select_related("person").order_by("person", "building"):
        found.setdefault(row.person, set()).add(row.building_id)
    return {person: frozenset(its) for person, its in found.items()}


def _colleagues(teacher: Person, date: dt.date, district: District) -> list[Person]:
    """Each in the role in which the day concerns them."""
    covering = Substitution.objects.filter(teacher=teacher, first_date__lte=date, last_date__gte=date)
    answers = held_on(date, Person.Role.COORDINATOR)
    concerned = Case(
        When(pk=teacher.pk, then=Value(Person.Role.TEACHER)),
        When(answers, then=Value(Person.Role.COORDINATOR)),
        default=Value(Person.Role.SUBSTITUTE),
        output_field=CharField(),
    )
    wanted = Q(pk=teacher.pk) | Q(pk__in=covering.values("substitute")) | answers
    rows = Person.objects.filter(wanted, district=district, is_active=True).annotate(concerned=concerned)
    return [one.act_as(one.concerned) for one in rows.order_by("pk")]


def _contacts(district: District, classes: set[int]) -> list[Hearer]:
    """Classroom teachers by the addresses kept with their classes, where the district writes to them."""
    if not classes or not notice_settings_of(district).tells_classes:
        return []
    rows = Contact.objects.filter(school_class__in=classes, role=Contact.Role.TEACHER).exclude(email="")
    return [Hearer(contact=one, classes=frozenset({one.school_class_id or 0})) for one in rows.order_by("pk")]


def notice_settings_of(district: District) -> NoticeSettings:
    """What the district decided; unsaved where it decided nothing."""
    return NoticeSettings.objects.filter(district=district).first() or NoticeSettings(district=district)


def hearing_of(person: Person) -> Hearing:
    """What a person wants to hear; unsaved where nothing was said."""
    found = Hearing.objects.select_related("person").filter(person=person).first()
    return found or Hearing(person=person, district=person.district)
