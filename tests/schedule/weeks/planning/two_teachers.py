"""A student whom two teachers serve, each in a room of their own. Invented names only."""

from accounts.models import Person
from caseload.plans.models import ServiceLine, Student
from schedule.calendar.models import ContractDay, TeacherRules
from schedule.weeks.models import WeekPlan
from schedule.weeks.services.weeks import week_publish
from tests.conftest import Cast
from tests.schedule.builders import at, make_ground
from travel.places.models import Space


def make_rules(cast: Cast, teacher: Person) -> TeacherRules:
    """Contract hours from 8:00 to 15:00 and the usual rules."""
    for weekday in range(5):
        ContractDay.objects.create(
            district=cast.district, teacher=teacher, weekday=weekday, start=at("8:00"), end=at("15:00")
        )
    return TeacherRules.objects.create(district=cast.district, teacher=teacher, preparation_minutes=30)


def also_served_by(teacher: Person, student: Student) -> ServiceLine:
    """A line of the student's plan with another teacher: 2 x 30 a week, one to one, in Room 9."""
    plan = student.plans.get()
    line = ServiceLine.objects.create(
        plan=plan,
        provider=teacher,
        statement="2 x 30 min/week",
        times=2,
        minutes=30,
        setting=ServiceLine.Setting.ONE_TO_ONE,
        start=plan.start,
        end=plan.end,
    )
    line.allowed_spaces.add(Space.objects.create(building=student.building, name="Room 9", kind="classroom"))
    return line


def make_two_teachers(cast: Cast) -> ServiceLine:
    """Ground for both teachers; the mate's line for the cast's student, who has two sessions a week with each."""
    make_ground(cast)
    make_rules(cast, cast.mate)
    return also_served_by(cast.mate, cast.student)


def publish(week: WeekPlan) -> WeekPlan:
    """Put it in force, as its teacher does."""
    return week_publish(actor=week.teacher, week=week, expected_revision=week.revision)
