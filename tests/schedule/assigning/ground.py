"""Two teachers whose students are at the wrong ends of the road: each drives to the other's school."""

import datetime as dt

from accounts.models import Person
from caseload.plans.naming import unmarked
from caseload.plans.services.enrollments import student_enroll
from jobs.runner import run_job
from schedule.assigning.models import AssigningProposal, AssigningRun
from schedule.assigning.selectors.standing import ProposalStanding, run_get
from schedule.assigning.services.runs import assigning_start
from schedule.calendar.models import TeacherRules
from tests.conftest import Cast
from tests.schedule.builders import make_ground, make_line
from tests.schedule.weeks.planning.two_teachers import make_rules

DAY = dt.date(2026, 10, 5)
"""A Monday, from which students would change teacher."""
TWICE = {"setting": "one_to_one", "largest_group": 1, "times": 2, "statement": "2 x 30 min/week"}
BEFORE = dt.datetime(2026, 9, 8, 12, tzinfo=dt.UTC)


def make_crossed(cast: Cast) -> Cast:
    """The teacher's base is north, with one student there and two south; the mate's is south, with two north.

    Every one of the students is served twice a week by themselves. The cast's own two are out of it.
    """
    make_ground(cast)
    make_rules(cast, cast.mate)
    TeacherRules.objects.filter(teacher=cast.teacher).update(start_place=cast.north, end_place=cast.north)
    TeacherRules.objects.filter(teacher=cast.mate).update(start_place=cast.south, end_place=cast.south)
    cast.line.delete()
    cast.student.delete()
    cast.mates_student.delete()
    for code, building, teacher in (
        ("N1", cast.north, cast.teacher),
        ("S1", cast.south, cast.teacher),
        ("S2", cast.south, cast.teacher),
        ("N2", cast.north, cast.mate),
        ("N3", cast.north, cast.mate),
    ):
        line = make_line(cast, code, building=building, teacher=teacher, **TWICE)  # type: ignore[arg-type]
        student_enroll(student=line.plan.student)
    return cast


def proposed(cast: Cast, **asked: object) -> AssigningRun:
    """A question of both teachers, worked by its job."""
    both = [cast.teacher, cast.mate]
    values: dict[str, object] = {"teachers": both, "first_day": DAY, "minutes": 1, "now": BEFORE}
    row = assigning_start(actor=cast.coordinator, **{**values, **asked})  # type: ignore[arg-type]
    run_job(row.job_id)
    return run_get(cast.coordinator, row.pk)


def first_of(row: AssigningRun) -> AssigningProposal:
    """The first proposal after today's."""
    return row.proposals.get(position=1)


def with_teacher(row: AssigningProposal, teacher: Person) -> set[str]:
    """Codes of the students whom a proposal gives to a teacher, by the labels of their services."""
    standing = ProposalStanding(row)
    given = {one for one, who in standing.now.assignment.items() if who == str(teacher.pk)}
    return {unmarked(one.label) for one in standing.question.services if one.id in given}
