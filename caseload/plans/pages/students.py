"""Pages of students, plans, service lines, holds and classes."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from accounts.dates import span_words
from accounts.forms import RecordForm
from accounts.pages import (
    Crumbs,
    ListPage,
    RecordDeletePage,
    RecordFormPage,
    find_changeable,
    find_visible,
    list_page,
    person_of,
    seen_only,
)
from accounts.selectors import today_of
from caseload.plans import services
from caseload.plans.enrollments import last_day_here
from caseload.plans.forms import (
    PlanForm,
    SchoolClassForm,
    StudentForm,
    StudentHoldForm,
    StudentWithoutPlanForm,
)
from caseload.plans.hooks import care_among, panels_of
from caseload.plans.models import Plan, SchoolClass, Student, StudentHold
from caseload.plans.pages.named import AboutStudent
from caseload.plans.pages.statements import doubts_of, readings_asked, statement_effects
from caseload.plans.reviewed import buildings_seen, enrollments_seen, places_seen
from caseload.plans.selectors import plans_shown, services_listed, students_listed, waits_for_plan
from travel.places.models import Building
from travel.places.pages.buildings import building_crumbs, building_page

CHANGE = "caseload.change"


def student_page(student: Student) -> str:
    """Address of a student's page."""
    return reverse("student_detail", args=[student.pk])


def student_crumbs(student: Student | None = None) -> Crumbs:
    """The list of students, and the student."""
    above = [("Students", reverse("student_list"))]
    return above if student is None or not student.pk else [*above, (student.full_name, student_page(student))]


def _viewer(request: HttpRequest) -> Any:
    person = person_of(request)
    if not person.has_perm("records.view"):
        raise PermissionDenied
    return person


@require_safe
def student_list(request: HttpRequest) -> HttpResponse:
    """The caseload, all of it or one building's, a page of it at a time."""
    person = _viewer(request)
    of_students = Student.objects.visible_to(person).order_by().values("building")
    buildings = Building.objects.visible_to(person).filter(pk__in=of_students)
    chosen = next((one for one in buildings if str(one.pk) == request.GET.get("building")), None)
    today = today_of(person)
    page: ListPage[Student] = list_page(request, students_listed(viewer=person, today=today, building=chosen))
    among = buildings_seen(person)
    care = care_among(person, [one.pk for one in page.rows])
    context = {
        "page": page,
        "students": [
            (one, care.get(one.pk), places_seen(one, today, among), services_listed(one, today))
            for one in page.rows
        ],
        "today": today,
        "mates": {one.person_id for one in person.mates},
        "buildings": buildings,
        "chosen": chosen,
        "ask_first": next((one.ask_first for one in care.values() if one.ask_first), ""),
    }
    return render(request, "caseload/student_list.html", context)


@require_safe
def student_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One student: plans, services, holds, and what rooms above add, such as supports and cautions."""
    person = _viewer(request)
    student = find_visible(Student, person, pk)
    plans = plans_shown(student, today_of(person), person)
    enrollments = enrollments_seen(student, buildings_seen(person))
    context = {
        "student": student,
        "plans": plans,
        "doubts": doubts_of(line for shown in plans for line in shown.plan.lines.all()),
        "waits_for_plan": waits_for_plan(student, today_of(person)),
        "today": today_of(person),
        "enrollments": enrollments,
        "last_day": last_day_here(one.stay for one in enrollments),
        "assignments": student.assignments.select_related("teacher"),
        "panels": panels_of(request, student) if person.has_perm("caseload.view") else [],
        "crumbs": student_crumbs(),
        **seen_only(person, student),
    }
    return render(request, "caseload/student_detail.html", context)


class StudentFormPage(AboutStudent, RecordFormPage[Student]):
    """A new student, or a change to one."""

    model = Student
    form_class: type[RecordForm] = StudentForm
    permission = CHANGE
    noun = "student"

    def new_row(self) -> Student:
        return Student(district=self.person.district)

    def save(self, row: Student, values: Mapping[str, Any]) -> Student:
        return services.student_save(actor=self.person, row=row, values=values)

    def back(self, row: Student) -> str:
        return student_page(row) if row.pk else reverse("student_list")

    def crumbs(self, row: Student) -> Crumbs:
        return student_crumbs(row)

    def delete_address(self, row: Student) -> str:
        return reverse("student_delete", args=[row.pk])


class StudentWithoutPlanPage(StudentFormPage):
    """A student who came before the plan did."""

    form_class = StudentWithoutPlanForm
    intro = (
        "The service entered here is provisional and flagged until the plan comes. A student who moves in gets "
        "services like those of the plan before (34 CFR 300.323)."
    )

    def title(self, row: Student) -> str:
        return "New student without a plan"

    def initial(self) -> dict[str, Any]:
        return {"first_day": today_of(self.person)}

    template_name = "caseload/statement_form.html"

    def effects(self, row: Student, values: Mapping[str, Any]) -> list[str]:
        """What the service is read as."""
        return statement_effects(self.person, values, values.get("first_day"))

    def show(self, row: Student, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With the readings where the statement has two."""
        return super().show(row, form, status, **readings_asked(form), **more)

    def save(self, row: Student, values: Mapping[str, Any]) -> Student:
        """Save student, provisional plan and service together."""
        return services.student_add_without_plan(actor=self.person, row=row, values=values)


class StudentDeletePage(AboutStudent, RecordDeletePage[Student]):
    """Delete a student."""

    model = Student
    permission = CHANGE
    noun = "student"

    def delete(self, row: Student) -> None:
        services.student_delete(actor=self.person, row=row)

    def label(self, row: Student) -> str:
        """The name: the person may see it."""
        return self.called(row)

    def back(self, row: Student) -> str:
        return student_page(row)

    def after(self, row: Student) -> str:
        return reverse("student_list")

    def crumbs(self, row: Student) -> Crumbs:
        return student_crumbs(row)


class PlanFormPage(AboutStudent, RecordFormPage[Plan]):
    """A new plan, or a change to one; a new one takes the place of a provisional one."""

    model = Plan
    form_class = PlanForm
    permission = CHANGE
    noun = "plan"

    def new_row(self) -> Plan:
        """For the student that the address names."""
        return Plan(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def save(self, row: Plan, values: Mapping[str, Any]) -> Plan:
        if row.pk:
            return services.plan_save(actor=self.person, row=row, values=values)
        return services.plan_replace_provisional(actor=self.person, row=row, values=values)

    def show(self, row: Plan, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """Say what becomes of provisional services."""
        waiting = not row.pk and row.student.plans.filter(status=Plan.Status.PROVISIONAL).exists()
        if waiting:
            more["intro"] = "The provisional services end the day before this plan starts. Add its services next."
        return super().show(row, form, status, **more)

    def back(self, row: Plan) -> str:
        return student_page(row.student)

    def crumbs(self, row: Plan) -> Crumbs:
        return student_crumbs(row.student)

    def delete_address(self, row: Plan) -> str:
        return reverse("plan_delete", args=[row.pk])


class PlanDeletePage(AboutStudent, RecordDeletePage[Plan]):
    """Delete a plan."""

    model = Plan
    permission = CHANGE
    noun = "plan"

    def delete(self, row: Plan) -> None:
        services.plan_delete(actor=self.person, row=row)

    def label(self, row: Plan) -> str:
        return f"{self.called(row.student)}, {span_words(row.start, row.end)}"

    def back(self, row: Plan) -> str:
        return student_page(row.student)

    def crumbs(self, row: Plan) -> Crumbs:
        return student_crumbs(row.student)


class HoldFormPage(AboutStudent, RecordFormPage[StudentHold]):
    """A time when a student can't be taken."""

    model = StudentHold
    form_class = StudentHoldForm
    permission = CHANGE
    noun = "time"
    intro = "When the student can't be taken. Give a period of the building's bells, or two clock times."

    def new_row(self) -> StudentHold:
        """For the student that the address names."""
        return StudentHold(student=find_changeable(Student, self.person, self.kwargs["student"]))

    def title(self, row: StudentHold) -> str:
        return "Change a time when the student can't be taken" if row.pk else "Time when the student can't be taken"

    def save(self, row: StudentHold, values: Mapping[str, Any]) -> StudentHold:
        return services.hold_save(actor=self.person, row=row, values=values)

    def back(self, row: StudentHold) -> str:
        return student_page(row.student)

    def crumbs(self, row: StudentHold) -> Crumbs:
        return student_crumbs(row.student)

    def delete_address(self, row: StudentHold) -> str:
        return reverse("hold_delete", args=[row.pk])


class HoldDeletePage(AboutStudent, RecordDeletePage[StudentHold]):
    """The student can be taken then."""

    model = StudentHold
    permission = CHANGE
    noun = "time"

    def delete(self, row: StudentHold) -> None:
        services.hold_delete(actor=self.person, row=row)

    def back(self, row: StudentHold) -> str:
        return student_page(row.student)

    def crumbs(self, row: StudentHold) -> Crumbs:
        return student_crumbs(row.student)


class ClassFormPage(RecordFormPage[SchoolClass]):
    """A new class of a building, or a change to one."""

    model = SchoolClass
    form_class = SchoolClassForm
    permission = CHANGE
    noun = "class"

    def new_row(self) -> SchoolClass:
        """In the building that the address names."""
        return SchoolClass(building=find_changeable(Building, self.person, self.kwargs["building"]))

    def save(self, row: SchoolClass, values: Mapping[str, Any]) -> SchoolClass:
        return services.school_class_save(actor=self.person, row=row, values=values)

    def back(self, row: SchoolClass) -> str:
        return building_page(row.building)

    def crumbs(self, row: SchoolClass) -> Crumbs:
        return building_crumbs(row.building)

    def delete_address(self, row: SchoolClass) -> str:
        return reverse("class_delete", args=[row.pk])


class ClassDeletePage(RecordDeletePage[SchoolClass]):
    """Delete a class."""

    model = SchoolClass
    permission = CHANGE
    noun = "class"

    def delete(self, row: SchoolClass) -> None:
        services.school_class_delete(actor=self.person, row=row)

    def back(self, row: SchoolClass) -> str:
        return building_page(row.building)

    def crumbs(self, row: SchoolClass) -> Crumbs:
        return building_crumbs(row.building)
