"""What a packet holds: plain values, cut down to what the viewer may see."""

import datetime as dt
from dataclasses import dataclass

from caseload.care.written import Care
from schedule.class_hour.data import LoadList
from schedule.day.data import DayLine, DaySheet
from schedule.stations.selectors.showing import RotationView


@dataclass(frozen=True, slots=True)
class PacketLine:
    """One thing of the day; ``rotation``: who is at which station, where that is worked out."""

    line: DayLine
    rotation: RotationView | None = None


@dataclass(frozen=True, slots=True)
class PacketDay:
    """A day of the packet: its sheet, whose sessions have their routines and stations, and what to load for it."""

    sheet: DaySheet
    load: LoadList
    lines: tuple[PacketLine, ...]


@dataclass(frozen=True, slots=True)
class PacketPlace:
    """A building that the days go to: the way in, and the office."""

    name: str
    address: str
    parking: str
    door: str
    office_phone: str
    office_contact: str


@dataclass(frozen=True, slots=True)
class PacketContact:
    """Whom to ask about a student or a class. Parents are never among them: the school's office reaches these."""

    about: str
    name: str
    role: str
    phone: str
    email: str
    note: str


@dataclass(frozen=True, slots=True)
class PacketStudent:
    """A student of these days about whom something is written down."""

    student_id: int
    name: str
    care: Care


@dataclass(frozen=True, slots=True)
class Packet:
    """All that is needed to stand in for a teacher from a day to a day."""

    teacher_name: str
    first: dt.date
    last: dt.date
    days: tuple[PacketDay, ...]
    students: tuple[PacketStudent, ...]
    places: tuple[PacketPlace, ...]
    contacts: tuple[PacketContact, ...]

    @property
    def cautioned(self) -> tuple[PacketStudent, ...]:
        """Students with a caution, who come first."""
        return tuple(one for one in self.students if one.care.cautions)

    @property
    def ask_first(self) -> str:
        """Whom to ask before an activity, once; empty where nobody has a caution."""
        return next((one.care.ask_first for one in self.cautioned), "")
