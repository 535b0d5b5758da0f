"""Reads of packets: what stands in one, and links to them."""

import datetime as dt
import hashlib
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace

from django.db.models import Count, Max, Q, QuerySet
from django.urls import reverse

from accounts.models import Person, Substitution
from caseload.care.models import Contact
from caseload.care.seen import seen_note
from caseload.plans.models import Student
from caseload.plans.names import student_names
from schedule.class_hour.selectors.load import load_list
from schedule.day.data import DayPerson, DaySheet
from schedule.day.selectors.sheet import day_sheet
from schedule.packet.data import Packet, PacketContact, PacketDay, PacketLine, PacketPlace, PacketStudent
from schedule.packet.models import PacketLink
from schedule.stations.selectors.showing import rotations_shown
from travel.places.models import Building

MOST_DAYS = 14


def link_address(site: str, secret: str) -> str:
    """What is handed to whoever comes by a link; `site`: scheme and host."""
    return site + reverse("packet_open", args=[secret])


def packet_of(viewer: Person, teacher: Person, first: dt.date, last: dt.date, only: Collection[str] = ()) -> Packet:
    """The packet of a teacher's days as the viewer may see them; of `MOST_DAYS` at most, closed days left out.

    With `only`, of the sessions with these uids and no others.

    The caller has chosen a teacher whom the viewer may ask for.
    """
    sheets = list(_sheets(viewer, teacher, first, last))
    if only:
        sheets = [one for sheet in sheets if (one := _cut(sheet, only)).lines]
    people = {one.student_id: one for one in _people(sheets) if one.care is not None}
    return Packet(
        str(teacher),
        first,
        last,
        tuple(_day(viewer, teacher, sheet, whole=not only) for sheet in sheets),
        tuple(_students(people.values())),
        tuple(_places(viewer, sheets)),
        tuple(_contacts(viewer, people)),
    )


def _sheets(viewer: Person, teacher: Person, first: dt.date, last: dt.date) -> Iterator[DaySheet]:
    """The days on which anything stands."""
    for number in range(min((last - first).days + 1, MOST_DAYS)):
        sheet = day_sheet(viewer, teacher, first + dt.timedelta(days=number))
        if sheet.lines:
            yield sheet


def _cut(sheet: DaySheet, only: Collection[str]) -> DaySheet:
    """A day of which only some sessions are meant: their lines alone."""
    lines = tuple(one for one in sheet.lines if one.session is not None and one.session.uid in only)
    return replace(sheet, lines=lines, begin=None, other_drives=())


def _day(viewer: Person, teacher: Person, sheet: DaySheet, *, whole: bool) -> PacketDay:
    """A day with what to load for all of it, and the stations of its sessions."""
    rotations = rotations_shown(viewer, [line.session.uid for line in sheet.sessions if line.session is not None])
    lines = (PacketLine(one, rotations.get(one.session.uid) if one.session else None) for one in sheet.lines)
    load = load_list(viewer, teacher, sheet.date)
    return PacketDay(
        sheet, load if whole else replace(load, car=(), stops=(), bring_back=(), clashes=()), tuple(lines)
    )


def _people(sheets: Sequence[DaySheet]) -> Iterator[DayPerson]:
    return (one for sheet in sheets for line in sheet.sessions for one in line.people)


def _students(people: Iterable[DayPerson]) -> Iterator[PacketStudent]:
    """Those about whom something is written down, by name."""
    for one in sorted(people, key=lambda one: one.name):
        if one.care is not None and one.care.is_written:
            yield PacketStudent(one.student_id, one.name or one.code, one.care)


def _places(viewer: Person, sheets: Sequence[DaySheet]) -> Iterator[PacketPlace]:
    """The buildings that the days go to."""
    buildings = {line.building_id for sheet in sheets for line in sheet.lines if line.building_id is not None}
    for one in Building.objects.visible_to(viewer).filter(pk__in=buildings):
        yield PacketPlace(one.name, one.address, one.parking, one.door, one.office_phone, one.office_contact)


def _contacts(viewer: Person, students: Iterable[int]) -> Iterator[PacketContact]:
    """Of the students themselves and of their classes."""
    ids = list(students)
    classes = Student.objects.visible_to(viewer).filter(pk__in=ids).values("home_class")
    seen_note(ids)
    rows = Contact.objects.visible_to(viewer).filter(Q(student__in=ids) | Q(school_class__in=classes))
    names = student_names(viewer).full
    for one in rows.exclude(role=Contact.Role.PARENT).select_related("school_class", "student").order_by("pk"):
        about = names.get(one.student_id or 0, "") if one.school_class is None else str(one.school_class)
        yield PacketContact(about, one.name, one.get_role_display(), one.phone, one.email, one.note)


def secret_hash(secret: str) -> str:
    """What is stored of a link's secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def link_opening(secret: str, now: dt.datetime) -> PacketLink | None:
    """The link of a secret, while it opens something; who made it must still be there."""
    found = PacketLink.objects.open_at(now).filter(secret_hash=secret_hash(secret))
    return found.select_related("teacher", "made_by", "district", "person__district").first()


def link_of_person(person: Person, now: dt.datetime) -> PacketLink | None:
    """The link by which somebody stands in, while it opens something."""
    return PacketLink.objects.open_at(now).filter(person=person).first()


def link_sessions(link: PacketLink) -> frozenset[str]:
    """The sessions at which somebody stands in by a link; none: all of its days."""
    if link.person is None:
        return frozenset()
    covers = Substitution.objects.filter(substitute=link.person, teacher=link.teacher)
    return frozenset(map(str, covers.values_list("sessions__session_uid", flat=True))) - {"None"}


def links_listed(viewer: Person, teacher: Person) -> QuerySet[PacketLink]:
    """A teacher's links that the viewer sees, the latest first, each with `times` opened and when `last_seen`."""
    rows = PacketLink.objects.visible_to(viewer).filter(teacher=teacher)
    return rows.select_related("made_by").annotate(times=Count("views"), last_seen=Max("views__seen_at"))
