"""Pages of a student's supports, cautions and contacts, and of a class's contacts."""

from collections.abc import Callable, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    RecordPage,
    do_and_say,
    find_changeable,
    find_visible,
    person_of,
    seen_only,
)
from accounts.selectors import today_of
from caseload.care import services
from caseload.care.forms import CautionForm, ContactForm, SupportForm
from caseload.care.models import Caution, Contact, Support
from caseload.care.selectors import care_of, contacts_of, contacts_of_class, last_change, past_care
from caseload.plans.hooks import Panel
from caseload.plans.models import SchoolClass, Student
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.students import student_crumbs, student_page
from caseload.plans.selectors import waits_for_plan
from travel.places.pages.buildings import building_crumbs

CHANGE = "caseload.change"
type Row = Support | Caution | Contact


def care_panel(request: HttpRequest, student: Student) -> Panel:
    """The part of a student's page about care."""
    person = person_of(request)
    values = {
        "student": student,
        "care": care_of(person, [student.pk]).get(student.pk),
        "past": past_care(student, today_of(person)),
        "contacts": contacts_of(person, student),
        "last": last_change(student) if person.has_perm(CHANGE) else None,
        "trying": waits_for_plan(student, today_of(person)) or student.tries.exists(),
        **seen_only(person, student),
    }
    return Panel("caseload/care/_student.html", values)


class _OfStudent[M: Row](AboutStudent, RecordPage[M]):
    """A page about one row of a student's care."""

    permission = CHANGE

    def back(self, row: M) -> str:
        if isinstance(row, Contact) and row.school_class is not None:
            return class_contacts_page(row.school_class)
        return f"{student_page(_student(row))}#care"

    def crumbs(self, row: M) -> Crumbs:
        if isinstance(row, Contact) and row.school_class is not None:
            return class_crumbs(row.school_class)
        return student_crumbs(_student(row))

    def in_title(self, row: models.Model) -> str:
        """The student's initials, or the class."""
        match row:
            case Contact(school_class=SchoolClass()):
                return str(row.school_class)
            case Support() | Caution() | Contact():
                return super().in_title(_student(row))
        return super().in_title(row)


def _student(row: Row) -> Student:
    if row.student is None:
        message = "a contact of a class is about no student"
        raise TypeError(message)
    return row.student


class SupportFormPage(_OfStudent[Support], RecordFormPage[Support]):
    """A new support, or a change to one."""

    model = Support
    form_class = SupportForm
    noun = "support"
    intro = "In the words of the plan or of the note. Whoever may see the student reads it with the name."

    def new_row(self) -> Support:
        """For the student that the address names."""
        return Support(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def save(self, row: Support, values: Mapping[str, Any]) -> Support:
        return services.support_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: Support) -> str:
        return reverse("support_delete", args=[row.pk])


class SupportDeletePage(_OfStudent[Support], RecordDeletePage[Support]):
    """Take a support away."""

    model = Support
    noun = "support"

    def delete(self, row: Support) -> None:
        services.support_remove(actor=self.person, row=row)

    def label(self, row: Support) -> str:
        return f"{row.get_kind_display()}: {row.text}"


class CautionFormPage(_OfStudent[Caution], RecordFormPage[Caution]):
    """A new caution, or a change to one."""

    model = Caution
    form_class = CautionForm
    noun = "caution"
    intro = (
        "What to be careful about and whom to ask; never what is allowed. The student's plan, the physician, the "
        "school nurse, the physical therapist or the plan's team decides."
    )

    def new_row(self) -> Caution:
        """For the student that the address names."""
        return Caution(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def save(self, row: Caution, values: Mapping[str, Any]) -> Caution:
        return services.caution_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: Caution) -> str:
        return reverse("caution_delete", args=[row.pk])


class CautionDeletePage(_OfStudent[Caution], RecordDeletePage[Caution]):
    """Take a caution away."""

    model = Caution
    noun = "caution"

    def delete(self, row: Caution) -> None:
        services.caution_remove(actor=self.person, row=row)

    def label(self, row: Caution) -> str:
        return f"{row.get_kind_display()}: {row.text}"


class ContactFormPage(_OfStudent[Contact], RecordFormPage[Contact]):
    """A new contact of a student or a class, or a change to one."""

    model = Contact
    form_class = ContactForm
    noun = "contact"

    def new_row(self) -> Contact:
        """For the student or the class that the address names."""
        if "school_class" in self.kwargs:
            return Contact(school_class=find_changeable(SchoolClass, self.person, self.kwargs["school_class"]))
        return Contact(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def save(self, row: Contact, values: Mapping[str, Any]) -> Contact:
        return services.contact_save(actor=self.person, row=row, values=values)

    def delete_address(self, row: Contact) -> str:
        return reverse("contact_delete", args=[row.pk])


class ContactDeletePage(_OfStudent[Contact], RecordDeletePage[Contact]):
    """Take a contact away."""

    model = Contact
    noun = "contact"

    def delete(self, row: Contact) -> None:
        services.contact_remove(actor=self.person, row=row)

    def label(self, row: Contact) -> str:
        return f"{row.name}, {row.get_role_display()}"


def class_contacts_page(school_class: SchoolClass) -> str:
    """Address of the page of a class's contacts."""
    return reverse("class_contacts", args=[school_class.pk])


def class_crumbs(school_class: SchoolClass, *, below: bool = True) -> Crumbs:
    """The building, and for a page below it the class's contacts."""
    above = building_crumbs(school_class.building)
    return [*above, (f"Contacts of {school_class}", class_contacts_page(school_class))] if below else above


@require_safe
def class_contacts(request: HttpRequest, pk: int) -> HttpResponse:
    """Whom to ask about a class."""
    person = person_of(request)
    if not person.has_perm("caseload.view"):
        raise PermissionDenied
    found = find_visible(SchoolClass, person, pk)
    context = {
        "school_class": found,
        "contacts": contacts_of_class(person, found),
        "last": last_change(found) if person.has_perm(CHANGE) else None,
        "crumbs": class_crumbs(found, below=False),
    }
    return render(request, "caseload/care/class_contacts.html", context)


@require_POST
def care_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to a student's care."""
    return _take_back(request, Student, pk, _care_or_tries(request))


def _care_or_tries(request: HttpRequest) -> Callable[[Student], str]:
    """Back to the page that the button stands on."""
    tries = request.POST.get("onward") == "tries"
    return lambda row: reverse("try_list", args=[row.pk]) if tries else f"{student_page(row)}#care"


@require_POST
def class_contacts_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo what was done last to a class's contacts."""
    return _take_back(request, SchoolClass, pk, class_contacts_page)


def _take_back[M: (Student, SchoolClass)](
    request: HttpRequest, model: type[M], pk: int, onward: Callable[[M], str]
) -> HttpResponse:
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    row = find_changeable(model, person, pk)
    text = request.POST.get("seen", "")
    seen = int(text) if text.isdecimal() else None
    do_and_say(
        request, lambda: services.care_take_back(actor=person, about=row, seen=seen), "Taken back.", raised=()
    )
    return redirect(onward(row))
