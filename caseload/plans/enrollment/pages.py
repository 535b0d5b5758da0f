"""Pages of where a student is: moving, leaving, correcting what was entered, programs elsewhere."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.forms import RecordForm
from accounts.models import AuditEntry, Person
from accounts.pages import Crumbs, RecordFormPage, do_and_say, find_changeable, person_of
from accounts.selectors import today_of
from caseload.plans import services
from caseload.plans.enrollment.forms import EnrollmentForm, HandOverForm, LeaveForm, MoveForm
from caseload.plans.enrollment.selectors import HAND_OVER, hand_overs, students_to_hand_over
from caseload.plans.enrollments import last_day_here
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import CaseloadAssignment, Enrollment, Student, enrollment_nearest, stays_of
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.students import CHANGE, student_crumbs, student_page


class _EnrollmentPage(AboutStudent, RecordFormPage[Enrollment]):
    """A change of where a student is: the minutes that it changes are shown before it is saved."""

    model = Enrollment
    permission = CHANGE
    noun = "enrollment"

    @property
    def student(self) -> Student:
        """Read anew each time: what is tried out for its effects leaves no trace."""
        if "pk" in self.kwargs:
            return self.find_row().student
        return find_changeable(Student, self.person, self.kwargs["student"])

    def effects(self, row: Enrollment, values: Mapping[str, Any]) -> list[str]:
        """Period by period, of all the student's services."""
        student = self.student
        return effects_foreseen(self.person, student, lambda: self.save(self._fresh(row), values))

    def _fresh(self, row: Enrollment) -> Enrollment:
        """The row as it is saved; a new one with its student as saved."""
        return self.find_row() if row.pk else Enrollment(student=self.student, is_program=row.is_program)

    def back(self, row: Enrollment) -> str:
        """The student's page."""
        return student_page(row.student)

    def crumbs(self, row: Enrollment) -> Crumbs:
        """The student."""
        return student_crumbs(row.student)


class StudentMovePage(_EnrollmentPage):
    """Another school, class or grade from a day on."""

    form_class: type[RecordForm] = MoveForm
    intro = (
        "Days before the move keep the school's calendar, its minutes and its log. Services that are pushed into a "
        "class, or held to spaces, go on in the new class and in any space. Sessions published for later days "
        "have to be planned again."
    )

    def new_row(self) -> Enrollment:
        """Where the student is today, to begin from."""
        student = self.student
        now = enrollment_nearest(student, today_of(self.person))
        return Enrollment(student=student, building=now.building, home_class=now.home_class, grade=now.grade)

    def title(self, row: Enrollment) -> str:
        """The page's title."""
        return "Move to another school, class or grade"

    def save(self, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
        """From the day on."""
        place = {name: value for name, value in values.items() if name != "from_day"}
        return services.student_move(
            actor=self.person, student=row.student, from_day=values["from_day"], values=place
        )

    def saved_message(self, row: Enrollment) -> str:
        """Where, and since when."""
        since = f" from {date_words(row.first_day)}" if row.first_day else ""
        return f"{row.building}{since}. You can take this back on this page."


class StudentLeavePage(_EnrollmentPage):
    """A student's last day here."""

    form_class: type[RecordForm] = LeaveForm
    intro = "Nothing of the past goes. Programs end with the school; minutes are owed up to the last day."

    def new_row(self) -> Enrollment:
        """With the last day that is known."""
        student = self.student
        return Enrollment(student=student, last_day=last_day_here(stays_of(student)))

    def title(self, row: Enrollment) -> str:
        """The page's title."""
        return "The student leaves"

    def save(self, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
        """At the school and at every program."""
        return services.student_leave(actor=self.person, student=row.student, last_day=values["last_day"])

    def saved_message(self, row: Enrollment) -> str:
        """Until when."""
        return f"The last day is {date_words(row.last_day)}." if row.last_day else "The student stays."


class ProgramNewPage(_EnrollmentPage):
    """A program elsewhere that the plan names, beside the student's school."""

    form_class: type[RecordForm] = EnrollmentForm
    noun = "program elsewhere"
    intro = "Such as a morning program. A service can then name its building and counts by that one's calendar."

    def new_row(self) -> Enrollment:
        """With the student's grade."""
        student = self.student
        return Enrollment(student=student, is_program=True, grade=student.grade)

    def save(self, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
        """Beside the school."""
        return services.enrollment_save(actor=self.person, row=row, values=values)


class EnrollmentCorrectPage(_EnrollmentPage):
    """What was always wrong: every day since its first is counted anew."""

    form_class: type[RecordForm] = EnrollmentForm
    intro = (
        "This corrects what was entered wrong: every day of it is counted by what you enter. A student who "
        "moves is moved from a day on instead."
    )

    def title(self, row: Enrollment) -> str:
        """The page's title."""
        return "Correct an enrollment"

    def save(self, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
        """All its days."""
        return services.enrollment_save(actor=self.person, row=row, values=values)


@require_POST
def enrollment_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a move or a program back in one press."""
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    row = find_changeable(Enrollment, person, pk)
    student = row.student
    do_and_say(
        request,
        lambda: services.enrollment_take_back(actor=person, row=row),
        "Taken back: the student is where they were before.",
    )
    return redirect(student_page(student))


class HandOverPage(RecordFormPage[CaseloadAssignment]):
    """A caseload, or some of its students, to another teacher from a day on; earlier ones are taken back here."""

    model = CaseloadAssignment
    form_class: type[RecordForm] = HandOverForm
    permission = CHANGE
    noun = "hand-over"
    template_name = "caseload/hand_over.html"
    intro = (
        "Students and the services that the teacher provides go over on the first day. What was logged before "
        "stays with the teacher before, and so do the reports of those months."
    )

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Only who answers for the district."""
        if not person_of(request).is_coordinator:
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def title(self, row: CaseloadAssignment) -> str:
        """The page's title."""
        return "Hand a caseload over"

    def initial(self) -> dict[str, Any]:
        """Whose it is, where a link says so."""
        asked = self.request.GET
        return {"giver": id_read(asked.get("giver", asked.get("teacher", "")))}

    def effects(self, row: CaseloadAssignment, values: Mapping[str, Any]) -> list[str]:
        """Who goes over, by name."""
        return services.hand_over_foreseen(**self._asked(values))

    def _students(self, values: Mapping[str, Any]) -> list[Student]:
        chosen = list(values["students"])
        return chosen or list(students_to_hand_over(values["giver"], values["first_day"]))

    def save(self, row: CaseloadAssignment, values: Mapping[str, Any]) -> CaseloadAssignment:
        """In one step."""
        services.caseload_hand_over(**self._asked(values))
        return row

    def _asked(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """As the service takes it."""
        asked = {"giver": values["giver"], "receiver": values["teacher"], "from_day": values["first_day"]}
        return {"actor": self.person, "students": self._students(values), **asked}

    def saved_message(self, row: CaseloadAssignment) -> str:
        """How to take it back."""
        return "The caseload is handed over. You can take this back below."

    def show(self, row: CaseloadAssignment, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With the hand-overs before."""
        district = self.person.district
        told = [hand_over_told(one) for one in hand_overs(district)] if district is not None else []
        return super().show(row, form, status, hand_overs=told, **more)

    def back(self, row: CaseloadAssignment) -> str:
        """Stays here, where it can be taken back."""
        return reverse("caseload_hand_over")

    def crumbs(self, row: CaseloadAssignment) -> Crumbs:
        """The list of students."""
        return student_crumbs()


def hand_over_told(entry: AuditEntry) -> tuple[int, str]:
    """A hand-over's id, and in words who gave to whom and from when."""
    giver, receiver = entry.changes["teacher"]
    people = Person.objects.in_bulk([giver, receiver])
    day = date_words(dt.date.fromisoformat(entry.changes["first_day"][1]))
    return entry.pk, f"{people.get(giver)} to {people.get(receiver)} from {day}"


@require_POST
def hand_over_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a hand-over back in one press."""
    person = person_of(request)
    if not person.is_coordinator:
        raise PermissionDenied
    entry = get_object_or_404(AuditEntry, pk=pk, district=person.district, action=HAND_OVER)
    try:
        services.caseload_hand_over_undo(actor=person, entry=entry)
    except ApplicationError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "Taken back: the caseload is where it was before.")
    return redirect("caseload_hand_over")
