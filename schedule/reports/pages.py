"""Reports of minutes on screen and as files. A file is made by a POST, which is written down."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views import View
from django.views.decorators.http import require_http_methods, require_safe

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.models.mate import alone
from accounts.pages import find_changeable, find_visible, list_page, person_of
from accounts.services import district_of
from caseload.ledger.report_data import Report
from caseload.plans.models import Student
from caseload.plans.reviewed import Span, building_spans, student_spans
from schedule.calendar.models import SchoolYear
from schedule.log.known import KnownOn
from schedule.reports.audit_rows import COLUMNS
from schedule.reports.forms import DatesForm, ExportForm, MonthForm, ReportUntilForm, SessionFileForm
from schedule.reports.selectors.known import known_of
from schedule.reports.selectors.people import student_report, teacher_report
from schedule.reports.selectors.places import building_report, district_report_shown
from schedule.reports.services import (
    ReportFile,
    district_report_start,
    exports_of,
    report_export,
    session_file_export,
    student_archive,
)
from schedule.weeks.selectors.pages import district_today, teachers_for
from travel.places.models import Building


@require_safe
@permission_required("records.view", raise_exception=True)
def report_home(request: HttpRequest) -> HttpResponse:
    """Every report that this person may make, and the files that were made."""
    viewer = person_of(request)
    students = Student.objects.visible_to(viewer)
    teachers = teachers_for(viewer) if viewer.has_perm("week.change") else ()
    buildings = Building.objects.visible_to(viewer).filter(pk__in=students.order_by().values("building"))
    context = {
        "students": list_page(request, students.select_related("building")),
        "teachers": list_page(request, teachers, name="teachers"),
        "buildings": list_page(request, buildings, name="buildings"),
        "exports": exports_of(viewer),
    }
    return render(request, "schedule/reports/home.html", context)


class ReportPage(View):
    """One report: its choices in the address, the file by a POST."""

    permission: ClassVar[str] = "records.view"
    http_method_names = ["get", "head", "post", "options"]
    form_class: ClassVar[type[forms.Form]]
    may_start = False

    @property
    def viewer(self) -> Person:
        """Who is signed in."""
        return person_of(self.request)

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Ask the role first."""
        if not person_of(request).has_perm(self.permission):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def subject(self) -> models.Model:
        """The row that the report is about."""
        raise NotImplementedError

    def report(self, subject: models.Model, values: dict[str, Any], today: dt.date) -> Report:
        """The report itself."""
        raise NotImplementedError

    def known(self, values: dict[str, Any], today: dt.date) -> KnownOn | None:
        """As of which evening it is told; None for now."""
        district = self.viewer.district
        return known_of(district, values["known"], today) if district is not None else None

    def initial(self, today: dt.date) -> dict[str, Any]:
        """The choices where the address makes none."""
        return {"last": today}

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """On screen."""
        subject = self.subject()
        form, report = self._made(subject)
        return self._show(form, report, ExportForm())

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """As a file."""
        subject = self.subject()
        form, report = self._made(subject)
        export = ExportForm(request.POST)
        if report is None or not export.is_valid():
            return self._show(form, report, export, status=422)
        try:
            made = report_export(
                actor=self.viewer,
                district=_district(subject),
                subject=subject,
                report=report,
                form=export.cleaned_data["form"],
                why=export.cleaned_data["why"],
            )
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            export.add_error(None, error.message)
            return self._show(form, report, export, status=error.status)
        return sent(made)

    def _made(self, subject: models.Model) -> tuple[forms.Form, Report | None]:
        today = district_today(self.viewer)
        initial = {**self.initial(today), "known": ""}
        asked = {name: self.request.GET[name] for name in initial if name in self.request.GET}
        form = self.form_class({**initial, **asked})
        if not form.is_valid():
            return form, None
        try:
            return form, self.report(subject, form.cleaned_data, today)
        except ApplicationError as error:
            if error.status in {403, 404}:
                raise
            form.add_error(None, error.message)
            self.may_start = error.code == "ask_for_it"
            return form, None

    def _show(self, form: forms.Form, report: Report | None, export: ExportForm, status: int = 200) -> HttpResponse:
        context = {
            "form": form,
            "report": report,
            "export": export,
            "crumbs": [("Reports", reverse("report_home"))],
            "asked": self.request.GET.urlencode(),
            "may_start": self.may_start,
        }
        return render(self.request, "schedule/reports/report.html", context, status=status if report else 422)


def _district(subject: models.Model) -> District:
    return subject if isinstance(subject, District) else district_of(subject)


class StudentReport(ReportPage):
    """A student's service record; from the first day of the school year unless the address says otherwise."""

    form_class = DatesForm

    def subject(self) -> models.Model:
        """The student, if the person may see them, and not by a team alone: the page gives files."""
        return find_visible(Student, alone(self.viewer), self.kwargs["pk"])

    def initial(self, today: dt.date) -> dict[str, Any]:
        """The school year so far."""
        years = SchoolYear.objects.filter(district=self.viewer.district, first_day__lte=today)
        year = years.order_by("-first_day").first()
        usual = year.first_day if year else today.replace(day=1), today
        first, last = _within(student_spans(self.viewer, _as(Student, self.subject())), usual)
        return {"first": first, "last": last}

    def report(self, subject: models.Model, values: dict[str, Any], today: dt.date) -> Report:
        """The service record."""
        return student_report(
            self.viewer, _as(Student, subject), values["first"], values["last"], today, self.known(values, today)
        )


class TeacherReport(ReportPage):
    """A teacher's month; the present one unless the address names another."""

    permission = "week.change"
    form_class = MonthForm

    def subject(self) -> models.Model:
        """The teacher, if it is the person or one of a coordinator's."""
        return get_object_or_404(teachers_for(self.viewer), pk=self.kwargs["pk"])

    def initial(self, today: dt.date) -> dict[str, Any]:
        return {"month": today}

    def report(self, subject: models.Model, values: dict[str, Any], today: dt.date) -> Report:
        """The month."""
        return teacher_report(self.viewer, _as(Person, subject), values["month"], today, self.known(values, today))


class BuildingReport(ReportPage):
    """The students of a building whom the person may see."""

    form_class = ReportUntilForm

    def subject(self) -> models.Model:
        """The building."""
        return find_visible(Building, self.viewer, self.kwargs["pk"])

    def initial(self, today: dt.date) -> dict[str, Any]:
        """Today, or the last date that a reviewer sees."""
        spans = building_spans(self.viewer, _as(Building, self.subject()))
        return {"last": _within(spans, (today, today))[1]}

    def report(self, subject: models.Model, values: dict[str, Any], today: dt.date) -> Report:
        """The building."""
        return building_report(
            self.viewer, _as(Building, subject), values["last"], today, self.known(values, today)
        )


class DistrictReport(ReportPage):
    """The district by building and teacher, for coordinators."""

    form_class = ReportUntilForm

    def subject(self) -> models.Model:
        """The person's district."""
        if self.viewer.district is None or not self.viewer.is_coordinator:
            raise PermissionDenied
        return self.viewer.district

    def report(self, subject: models.Model, values: dict[str, Any], today: dt.date) -> Report:
        """The district; a large one as it was worked out in the background."""
        return district_report_shown(self.viewer, values["last"], today, self.known(values, today))

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Ask for the report of a large district, or take it as a file."""
        if "start" not in request.POST:
            return super().post(request, *args, **kwargs)
        self.subject()
        form = self.form_class({**self.initial(district_today(self.viewer)), **request.GET.dict()})
        if form.is_valid():
            values, today = form.cleaned_data, district_today(self.viewer)
            try:
                district_report_start(actor=self.viewer, as_of=values["last"], known=self.known(values, today))
            except ApplicationError as error:
                messages.error(request, error.message)
        return redirect(request.get_full_path())


class SessionFilePage(View):
    """The auditor's file: what each column means, and the file by a POST."""

    http_method_names = ["get", "head", "post", "options"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """For coordinators."""
        if not person_of(request).has_perm("audit.export"):
            raise PermissionDenied
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest) -> HttpResponse:
        """The form, from the first day of last month to its last."""
        last = district_today(person_of(request)).replace(day=1) - dt.timedelta(days=1)
        initial = {"first": last.replace(day=1), "last": last}
        return self._show(SessionFileForm(viewer=person_of(request), initial=initial))

    def post(self, request: HttpRequest) -> HttpResponse:
        """The file."""
        viewer = person_of(request)
        form = SessionFileForm(request.POST, viewer=viewer)
        if form.is_valid():
            try:
                made = session_file_export(actor=viewer, form=request.POST.get("form", ""), **form.cleaned_data)
            except ApplicationError as error:
                form.add_error(None, error.message)
            else:
                return sent(made)
        return self._show(form, status=422)

    def _show(self, form: SessionFileForm, status: int = 200) -> HttpResponse:
        context = {"form": form, "columns": COLUMNS, "crumbs": [("Reports", reverse("report_home"))]}
        return render(self.request, "schedule/reports/sessions.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required("caseload.change", raise_exception=True)
def student_archive_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Everything that is kept about one student, as one file."""
    viewer = person_of(request)
    student = find_changeable(Student, viewer, pk)
    context = {"student": student, "crumbs": [("Reports", reverse("report_home"))]}
    if request.method != "POST":
        return render(request, "schedule/reports/archive.html", context)
    why = request.POST.get("why", "")
    try:
        return sent(student_archive(actor=viewer, student=student, why=why))
    except ApplicationError as error:
        context |= {"problem": error.message, "why": why}
        return render(request, "schedule/reports/archive.html", context, status=422)


def _within(spans: Sequence[Span], usual: Span) -> Span:
    """The usual dates, cut to the latest that a reviewer sees; as they are for everyone else."""
    if not spans:
        return usual
    begin, end = spans[-1]
    last = max(begin, min(end, usual[1]))
    return min(max(begin, usual[0]), last), last


def sent(made: ReportFile) -> HttpResponse:
    """A file as an answer that nobody keeps."""
    headers = {"Content-Disposition": f'attachment; filename="{made.name}"', "Cache-Control": "no-store"}
    return HttpResponse(made.content, content_type=made.content_type, headers=headers)


def _as[M: models.Model](model: type[M], row: models.Model) -> M:
    if not isinstance(row, model):
        message = f"{row!r} is no {model.__name__}"
        raise TypeError(message)
    return row
