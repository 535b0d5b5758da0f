"""How students are called on a page: each filter takes `names` of the page's reader (caseload.plans.naming)."""

from django import template

from caseload.plans.models import Student
from caseload.plans.naming import StudentNames

register = template.Library()


@register.filter
def called_for(student: Student, names: StudentNames) -> str:
    """First and last name, told apart from others of that name; the code where the reader may see no name."""
    return names.full.get(student.pk, student.code)


@register.filter
def listed_for(student: Student, names: StudentNames) -> str:
    """The same with the last name first, for lists."""
    return names.listed.get(student.pk, student.code)


@register.filter
def initials_for(student: Student, names: StudentNames) -> str:
    """Initials, for a page's title: it stays in the browser's history."""
    return names.initials.get(student.pk, student.code)
