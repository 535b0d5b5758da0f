"""Whose week it is: every page, service and API call about one week starts here."""

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import working_as
from schedule.weeks.models import WeekPlan

NOT_FOUND = "There is no such week."


def teacher_require(actor: Person, teacher: Person) -> None:
    """Refuse a teacher whose weeks are not the actor's to plan, as if there were none."""
    own = actor.is_teacher and teacher.pk == actor.pk
    answers = actor.is_coordinator and actor.district_id is not None and actor.district_id == teacher.district_id
    if not (own or answers):
        raise ApplicationError("There is no such teacher.", code="not_found", status=404)


def week_require(actor: Person, week: WeekPlan) -> None:
    """Refuse a week that is not the actor's to change, as if it didn't exist."""
    own = actor.is_teacher and week.teacher_id == actor.pk
    answers = actor.is_coordinator and actor.district_id == week.district_id
    if not (own or answers):
        raise ApplicationError(NOT_FOUND, code="not_found", status=404)


def planning_as(person: Person, teacher: Person) -> Person:
    """Who asked for a plan, in the role in which they may: for the own weeks the teacher's."""
    roles = (Person.Role.TEACHER,) if person.pk == teacher.pk else ()
    return working_as(person, *roles, Person.Role.COORDINATOR)
