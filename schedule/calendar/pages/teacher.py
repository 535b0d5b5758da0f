"""A teacher's rules: contract hours, lunch, preparation, meetings, own drive times."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from accounts.guards import ends_foreseen
from accounts.models import Person
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, effects_digest, list_page, person_of
from accounts.selectors import teachers_of
from caseload.plans.names import NAME_BUTTON, NAME_SAID, name_warnings
from schedule.calendar.forms import ContractHoursForm, MeetingForm, TeacherRulesForm
from schedule.calendar.models import ContractDay, Meeting, TeacherRules
from schedule.calendar.services import records
from travel.drives.models import OwnDriveTime

CHANGE = "week.change"


def rules_page(teacher: Person) -> str:
    """Address of a teacher's rules."""
    return reverse("teacher_rules_of", args=[teacher.pk])


def rules_crumbs(teacher: Person) -> Crumbs:
    """The teacher's rules."""
    return [("Rules", rules_page(teacher))]


def find_teacher(person: Person, pk: int) -> Person:
    """The person's own self, or for a coordinator any teacher of the district. Raises `Http404`."""
    if not person.is_coordinator and pk != person.pk:
        raise Http404
    return get_object_or_404(teachers_of(person.district), pk=pk)


def _changing(request: HttpRequest) -> Person:
    person = person_of(request)
    if not person.has_perm(CHANGE):
        raise PermissionDenied
    return person


@require_safe
def teacher_rules(request: HttpRequest) -> HttpResponse:
    """A teacher's own rules; a coordinator chooses whose."""
    person = _changing(request)
    if person.is_teacher:
        return redirect(rules_page(person))
    return render(
        request, "schedule/teacher_choice.html", {"page": list_page(request, teachers_of(person.district))}
    )


@require_safe
def teacher_rules_of(request: HttpRequest, teacher: int) -> HttpResponse:
    """Everything that one teacher asks of a week."""
    person = _changing(request)
    owner = find_teacher(person, teacher)
    context = {
        "owner": owner,
        "is_own": owner == person,
        "rules": TeacherRules.objects.filter(teacher=owner).select_related("start_place", "end_place").first(),
        "days": ContractDay.objects.filter(teacher=owner),
        "meetings": Meeting.objects.filter(teacher=owner).select_related("building"),
        "drives": OwnDriveTime.objects.filter(teacher=owner).select_related("origin", "destination"),
    }
    return render(request, "schedule/teacher_rules.html", context)


class TeacherRulesFormPage(RecordFormPage[TeacherRules]):
    """Lunch, preparation and the like; there is one row a teacher."""

    model = TeacherRules
    form_class = TeacherRulesForm
    permission = CHANGE
    noun = "set of rules"

    def new_row(self) -> TeacherRules:
        """The teacher's row, or a new one."""
        teacher = find_teacher(self.person, self.kwargs["teacher"])
        found = TeacherRules.objects.filter(teacher=teacher).first()
        return found or TeacherRules(teacher=teacher, district=teacher.district)

    def title(self, row: TeacherRules) -> str:
        return "Change lunch, preparation and limits"

    def saved_message(self, row: TeacherRules) -> str:
        return "The rules are saved. They count from the next plan on."

    def save(self, row: TeacherRules, values: Mapping[str, Any]) -> TeacherRules:
        return records.teacher_rules_save(actor=self.person, row=row, values=values)

    def back(self, row: TeacherRules) -> str:
        return rules_page(row.teacher)

    def crumbs(self, row: TeacherRules) -> Crumbs:
        return rules_crumbs(row.teacher)


@require_http_methods(["GET", "HEAD", "POST"])
def contract_hours(request: HttpRequest, teacher: int) -> HttpResponse:
    """The contract day of every weekday on one page."""
    person = _changing(request)
    owner = find_teacher(person, teacher)
    days = {day.weekday: day for day in ContractDay.objects.filter(teacher=owner)}
    form = ContractHoursForm(request.POST or None, days=days)
    context = {"form": form, "owner": owner, "crumbs": rules_crumbs(owner), "back": rules_page(owner)}
    if request.method == "POST" and form.is_valid():
        told = _hours_foreseen(person, owner, form)
        if told and request.POST.get("effects_seen") != effects_digest(told):
            context |= {"effects": told, "effects_seen": effects_digest(told)}
            return render(request, "schedule/contract_hours_form.html", context)
        if not form.errors:
            records.contract_hours_save(actor=person, teacher=owner, hours=form.hours())
            messages.success(request, "The contract hours are saved. They count from the next plan on.")
            return redirect(rules_page(owner))
    return render(
        request, "schedule/contract_hours_form.html", context, status=422 if request.method == "POST" else 200
    )


def _hours_foreseen(person: Person, owner: Person, form: ContractHoursForm) -> list[str]:
    """Planned sessions that fall outside; problems stand in the form: all weekdays can be saved, or none."""
    hours, day = form.hours(), ContractDay(teacher=owner)
    try:
        return ends_foreseen(
            person, day, lambda: records.contract_hours_save(actor=person, teacher=owner, hours=hours)
        )
    except ValidationError as error:
        for weekday, problems in error.message_dict.items():
            form.add_error(f"end_{weekday}", problems)
    return []


class MeetingFormPage(RecordFormPage[Meeting]):
    """Something that blocks the teacher."""

    model = Meeting
    form_class = MeetingForm
    permission = CHANGE
    noun = "meeting"
    effects_said, effects_button = NAME_SAID, NAME_BUTTON

    def effects(self, row: Meeting, values: Mapping[str, Any]) -> list[str]:
        """Ask about a student's name in the title."""
        return name_warnings(self.person, values["title"])

    def new_row(self) -> Meeting:
        """For the teacher that the address names."""
        teacher = find_teacher(self.person, self.kwargs["teacher"])
        return Meeting(teacher=teacher, district=teacher.district)

    def save(self, row: Meeting, values: Mapping[str, Any]) -> Meeting:
        return records.meeting_save(actor=self.person, row=row, values=values)

    def back(self, row: Meeting) -> str:
        return rules_page(row.teacher)

    def crumbs(self, row: Meeting) -> Crumbs:
        return rules_crumbs(row.teacher)

    def delete_address(self, row: Meeting) -> str:
        return reverse("meeting_delete", args=[row.pk])


class MeetingDeletePage(RecordDeletePage[Meeting]):
    """Delete a meeting."""

    model = Meeting
    permission = CHANGE
    noun = "meeting"

    def delete(self, row: Meeting) -> None:
        records.meeting_delete(actor=self.person, row=row)

    def back(self, row: Meeting) -> str:
        return rules_page(row.teacher)

    def crumbs(self, row: Meeting) -> Crumbs:
        return rules_crumbs(row.teacher)
