"""A class hour: a Monday's session of a class with a routine of four parts."""

import datetime as dt
from dataclasses import dataclass

import pytest

from accounts.models import Person
from schedule.class_hour.models import Routine, RoutinePart
from schedule.class_hour.services import part_save, routine_save
from schedule.equipment.models import Activity, Equipment, EquipmentStock
from schedule.equipment.services import activity_save
from schedule.weeks.models import PlannedSession
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, make_ground
from tests.schedule.log_builders import publish_session


@dataclass
class Lesson:
    """The cast with a routine of its class, and the session that has it. The routine takes 30 minutes."""

    cast: Cast
    routine: Routine
    session: PlannedSession
    spots: Equipment
    tag: Activity

    @property
    def day(self) -> dt.date:
        """The Monday."""
        return self.session.date

    def parts(self) -> list[RoutinePart]:
        """Those in use, in order."""
        return list(RoutinePart.objects.in_use().filter(routine=self.routine))


def make_lesson(cast: Cast, day: dt.date = MONDAY) -> Lesson:
    """The whole of it; the class's session is 8:30 to 9:00 in the school's first period."""
    if not cast.north.bell_schedules.exists():
        make_ground(cast)
    session = publish_session(day, [cast.line])
    PlannedSession.objects.filter(pk=session.pk).update(school_class=cast.room4, period="1")
    session.refresh_from_db()
    spots = Equipment.objects.create(district=cast.district, name="Poly spots")
    EquipmentStock.objects.create(equipment=spots, carried_by=cast.teacher, count=12)
    tag = activity_save(actor=cast.teacher, row=Activity(), values={"name": "Shadow tag", "about": "Two and two."})
    routine = routine_save(
        actor=cast.teacher, row=Routine(), values={"name": "Room 4 lesson", "school_class": cast.room4}
    )
    add_part(cast.teacher, routine, kind="warm_up", minutes=5, least_minutes=3, cue="The drum stops", is_known=True)
    add_part(
        cast.teacher, routine, activity=tag, minutes=10, least_minutes=6, when_short=0, needs={spots.pk: 8},
        set_up="Spots in two rows", set_up_by="Mr. Osei",
    )  # fmt: skip
    add_part(cast.teacher, routine, kind="stations", minutes=12, least_minutes=8, needs={spots.pk: 5})
    add_part(cast.teacher, routine, kind="cool_down", minutes=3, least_minutes=3, when_short=2)
    return Lesson(cast, routine, session, spots, tag)


def add_part(actor: Person, routine: Routine, **values: object) -> RoutinePart:
    """One more part."""
    return part_save(actor=actor, row=RoutinePart(routine=routine), values=values)


@pytest.fixture
def lesson(cast: Cast) -> Lesson:
    """A class hour."""
    return make_lesson(cast)
