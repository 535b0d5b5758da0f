"""What pages about a student's rows share: how the student is called on them."""

from django.db import models
from django.http import HttpRequest

from accounts.pages import person_of
from caseload.plans.models import Enrollment, Plan, ServiceLine, Student, StudentHold
from caseload.plans.names import student_names


class AboutStudent:
    """A page about a student or about something of a student's."""

    request: HttpRequest

    def called(self, student: Student) -> str:
        """The student's name for whoever looks."""
        return student_names(person_of(self.request)).full.get(student.pk, student.code)

    def in_title(self, row: models.Model) -> str:
        """The student's initials, for the page's title."""
        student = _student_of(row)
        return student_names(person_of(self.request)).initials.get(student.pk, student.code)


def _student_of(row: models.Model) -> Student:
    match row:
        case Student():
            return row
        case Plan() | StudentHold() | Enrollment():
            return row.student
        case ServiceLine():
            return row.plan.student
    message = f"{type(row).__name__} is nothing of a student's"
    raise TypeError(message)
