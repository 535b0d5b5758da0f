"""Reads of packets: what stands in one, and links to them."""

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator, Sequence

from django.db.models import Count, Max, Q, QuerySet

from accounts.models import Person
from caseload.care.models import Contact
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


def packet_of(viewer: Person, teacher: Person, first: dt.date, last: dt.date) -> Packet:
    """The packet of a teacher's days as the viewer may see them; of `MOST_DAYS` at most, closed days left out.

    The caller has chosen a teacher whom the viewer may ask for.
    """
    sheets = list(_sheets(viewer, teacher, first, last))
    people = {one.student_id: one for one in _people(sheets) if one.care is not None}
    return Packet(
        str(teacher),
        first,
        last,
        tuple(_day(viewer, teacher, sheet) for sheet in sheets),
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


def _day(viewer: Person, teacher: Person, sheet: DaySheet) -> PacketDay:
    """A day with what to load, and the stations of its sessions."""
    rotations = rotations_shown(viewer, [line.session.uid for line in sheet.sessions if line.session is not None])
    lines = (PacketLine(one, rotations.get(one.session.uid) if one.session else None) for one in sheet.lines)
    return PacketDay(sheet, load_list(viewer, teacher, sheet.date), tuple(lines))


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
    return found.select_related("teacher", "made_by", "district").first()


def links_listed(viewer: Person, teacher: Person) -> QuerySet[PacketLink]:
    """A teacher's links that the viewer sees, the latest first, each with `times` opened and when `last_seen`."""
    rows = PacketLink.objects.visible_to(viewer).filter(teacher=teacher)
    return rows.select_related("made_by").annotate(times=Count("views"), last_seen=Max("views__seen_at"))
