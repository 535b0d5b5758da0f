"""Background work of the caseload floor (found by the jobs floor at start)."""

from accounts.models import District
from caseload.plans.services.enrollments import students_show_today
from jobs.registry import regular_work


@regular_work("students' records")
def show_what_holds_today() -> None:
    """A move, or another caseload teacher, shows in the student's record from its day on."""
    for district in District.objects.all():
        students_show_today(district=district)
