"""Pages of joint sessions: said from a student's page, where they are listed."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.fields import id_read
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    find_changeable,
    person_of,
    seen_only,
)
from accounts.selectors import today_of
from caseload.plans.hooks import Panel
from caseload.plans.models import ServiceLine, Student
from caseload.plans.pages.students import student_crumbs, student_page
from schedule.joint.forms import JointServiceForm
from schedule.joint.models import JointService
from schedule.joint.selectors import joint_of_student, joint_words, service_words
from schedule.joint.services import joint_service_remove, joint_service_save, joint_service_take_back

CHANGE = "caseload.change"


def joint_panel(request: HttpRequest, student: Student) -> Panel:
    """What of a student's services is given together with another teacher's."""
    person = person_of(request)
    values = {
        "student": student,
        "joint": joint_of_student(person, student, today_of(person)),
        "may_change": person.has_perm(CHANGE) and not seen_only(person, student),
    }
    return Panel("schedule/joint/_student.html", values)


class JointServiceFormPage(RecordFormPage[JointService]):
    """Say that sessions of two services are given together, or change what was said."""

    model = JointService
    form_class = JointServiceForm
    permission = CHANGE
    noun = "joint session"
    intro = (
        "Both weeks then hold the session at the same time, for the same minutes, in the same place. Whoever is "
        "planned second goes by the other's week; each logs their own minutes. What is planned already stays until "
        "it is planned again."
    )

    def new_row(self) -> JointService:
        """For the service that the address names."""
        line = find_changeable(ServiceLine, self.person, self.kwargs["line"])
        return JointService(service=line.service)

    def initial(self) -> dict[str, Any]:
        return {"first_day": today_of(self.person), "times_a_week": 1}

    def title(self, row: JointService) -> str:
        return f"Given together: {service_words(row.service, today_of(self.person))}"

    def in_title(self, row: JointService) -> str:
        """Nothing beside the service."""
        return ""

    def save(self, row: JointService, values: Mapping[str, Any]) -> JointService:
        return joint_service_save(actor=self.person, row=row, values=values)

    def saved_message(self, row: JointService) -> str:
        return "Saved. Plan the week again, so that both have these sessions at the same time."

    def back(self, row: JointService) -> str:
        return student_page(row.service.student)

    def crumbs(self, row: JointService) -> Crumbs:
        return student_crumbs(row.service.student)

    def delete_address(self, row: JointService) -> str:
        return reverse("joint_service_delete", args=[row.pk])


class JointServiceDeletePage(RecordDeletePage[JointService]):
    """Take it away, as if it had never been said."""

    model = JointService
    permission = CHANGE
    noun = "joint session"
    can_be_undone = True

    def delete(self, row: JointService) -> None:
        joint_service_remove(actor=self.person, row=row)

    def label(self, row: JointService) -> str:
        return joint_words(row, today_of(self.person))

    def back(self, row: JointService) -> str:
        return student_page(row.service.student)

    def crumbs(self, row: JointService) -> Crumbs:
        return student_crumbs(row.service.student)


@require_POST
@permission_required(CHANGE, raise_exception=True)
def joint_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to a student's joint sessions."""
    person = person_of(request)
    student, seen = find_changeable(Student, person, pk), id_read(request.POST.get("seen", ""))
    do_and_say(request, lambda: joint_service_take_back(actor=person, student=student, seen=seen), "Taken back.")
    return redirect(student_page(student))
