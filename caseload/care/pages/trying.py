"""What to try first with a student who came before the plan did, and the question to the team."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.models import Person
from accounts.pages import do_and_say, find_changeable, find_visible, person_of
from caseload.care import services
from caseload.care.models import Try
from caseload.care.selectors import last_change
from caseload.care.selectors.tries import tries_shown
from caseload.plans.models import Student
from caseload.plans.names import student_names
from caseload.plans.pages.students import student_crumbs

CHANGE = "caseload.change"


def try_page(student: Student) -> str:
    """Address of what is tried with a student."""
    return reverse("try_list", args=[student.pk])


@require_safe
def try_list(request: HttpRequest, pk: int) -> HttpResponse:
    """What to try, what was seen, and the question to the team."""
    person = person_of(request)
    if not person.has_perm("caseload.view"):
        raise PermissionDenied
    student = find_visible(Student, person, pk)
    context = {
        "student": student,
        "shown": tries_shown(person, student, student_names(person).initials.get(student.pk, student.code)),
        "last": last_change(student) if person.has_perm(CHANGE) else None,
        "crumbs": student_crumbs(student),
    }
    return render(request, "caseload/care/tries.html", context)


def _writer(request: HttpRequest) -> Person:
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    return person


@require_POST
def try_add(request: HttpRequest, student: int) -> HttpResponse:
    """Put something on the list."""
    person = _writer(request)
    row = Try(student=find_changeable(Student, person, student))
    values = {"kind": request.POST.get("kind", ""), "text": request.POST.get("text", "").strip()}
    if values["text"]:
        do_and_say(request, lambda: services.try_save(actor=person, row=row, values=values))
    else:
        messages.error(request, "Write what to try, such as a countdown on the fingers.")
    return redirect(f"{try_page(row.student)}#{values['kind'] if values['kind'] in Try.Kind.values else 'try'}")


@require_POST
def try_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what came of it: one tap, and a note if there is one."""
    person = _writer(request)
    row = find_changeable(Try, person, pk)
    names = [name for name in ("outcome", "seen") if name in request.POST]
    values = {name: request.POST[name] for name in names}
    do_and_say(request, lambda: services.try_save(actor=person, row=row, values=values))
    return redirect(f"{try_page(row.student)}#try-{row.pk}")


@require_POST
def try_delete(request: HttpRequest, pk: int) -> HttpResponse:
    """Take it off the list; the page has what takes that back."""
    person = _writer(request)
    row = find_changeable(Try, person, pk)
    student, kind = row.student, row.kind
    services.try_remove(actor=person, row=row)
    return redirect(f"{try_page(student)}#{kind}")


@require_POST
def support_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """Make provisional supports of what helped, or take them away again."""
    person = _writer(request)
    student = find_changeable(Student, person, pk)
    if "take_back" in request.POST:
        count = services.support_sheet_take_back(actor=person, student=student)
        messages.success(
            request, "The provisional supports are taken away. The list stays." if count else "There were none."
        )
    else:
        do_and_say(
            request,
            lambda: services.support_sheet_make(actor=person, student=student),
            "The provisional supports stand with the student now, marked as provisional.",
        )
    return redirect(f"{try_page(student)}#sheet")
