"""A class of three with stations, in a session of the teacher's published week."""

from dataclasses import dataclass

import pytest

from caseload.plans.models import ServiceLine, Student
from schedule.stations.choices import RotationChoices
from schedule.stations.models import Station
from schedule.stations.services import rotation_make, station_save
from schedule.weeks.models import PlannedSession
from tests.caseload.progress.builders import make_goal
from tests.conftest import Cast
from tests.schedule.builders import date, make_line
from tests.schedule.log_builders import publish_session


@dataclass
class Gym:
    """The cast with its class: Ada, Ben and Cid, beam and throwing."""

    cast: Cast
    session: PlannedSession
    students: tuple[Student, ...]
    beam: Station
    throwing: Station

    def choices(self, **values: object) -> RotationChoices:
        """Both stations, two rounds of ten minutes."""
        told = {"stations": (self.beam.pk, self.throwing.pk), "rounds": 2, "minutes": 10, **values}
        return RotationChoices(**told)  # type: ignore[arg-type]  # the choices' own

    def make(self, **values: object) -> object:
        """Worked out by the teacher."""
        return rotation_make(actor=self.cast.teacher, session=self.session.uid, choices=self.choices(**values))


@pytest.fixture
def class_of_three(cast: Cast) -> Gym:
    """Each student has a goal at the beam, which takes one at a time."""
    students = [cast.student]
    lines: list[ServiceLine] = [cast.line]
    for code in ("S21", "S22"):
        lines.append(make_line(cast, code))
        students.append(lines[-1].plan.student)
    for student, name in zip(students, ("Ada", "Ben", "Cid"), strict=True):
        student.first_name, student.last_name = name, "Tarn"
        student.save()
    session = publish_session(date(7), lines)
    goals = [make_goal(one) for one in students]
    values = {"name": "Beam", "at_a_time": 1, "goals": goals}
    beam = station_save(actor=cast.teacher, row=Station(), values=values)
    throwing = station_save(actor=cast.teacher, row=Station(), values={"name": "Throwing"})
    return Gym(cast, session, tuple(students), beam, throwing)
