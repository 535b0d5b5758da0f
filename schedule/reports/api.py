"""The API of reports of minutes as data."""

from typing import Any

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import BodySerializer, VisibleRelatedField, actor_of
from accounts.api_fields import DateField
from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.models import Person
from accounts.models.mate import alone
from accounts.services import NOT_THERE
from caseload.ledger.report_data import Report
from caseload.plans.models import Student
from schedule.log.known import KnownOn
from schedule.reports.selectors.known import known_of
from schedule.reports.selectors.people import student_report, teacher_report
from schedule.reports.selectors.places import building_report, district_report_shown
from schedule.reports.services import LONGEST_WHY, district_report_start, session_file_export, student_archive
from schedule.weeks.api.teacher_view import MinutesView, day_parameter
from schedule.weeks.selectors.pages import teachers_for
from travel.places.models import Building

KNOWN = day_parameter("known", "As it was known on the evening of this day; now, if none is given.")
LAST = day_parameter("last", "Up to which date.")


class ReportTableSerializer(serializers.Serializer[Any]):
    """A table of a report: columns, rows, and the sums below them."""

    title = serializers.CharField()
    columns = serializers.ListField(child=serializers.CharField())
    rows = serializers.ListField(child=serializers.ListField())
    totals = serializers.ListField()


class ReportSerializer(serializers.Serializer[Any]):
    """A report with the rules in force; its last rule says who decides."""

    kind = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    facts = serializers.ListField(child=serializers.ListField(child=serializers.CharField()))
    tables = ReportTableSerializer(many=True)
    rules = serializers.ListField(child=serializers.CharField())
    notes = serializers.ListField(child=serializers.CharField())


class ReportView(MinutesView):
    """A report as data. Files are made on the reports' pages, where each is written down."""

    read_permission = write_permission = "records.view"

    @property
    def known(self) -> KnownOn | None:
        """As of which evening it is told; None for now."""
        district = actor_of(self.request).district
        return known_of(district, self.day("known"), self.today) if district is not None else None

    def shown(self, report: Report) -> Response:
        """The report's parts."""
        return Response(ReportSerializer(report).data)


class StudentReportApi(ReportView):
    """A student's service record."""

    @extend_schema(
        parameters=[
            day_parameter("first", "First date of the sessions."),
            LAST,
            KNOWN,
        ],
        responses=ReportSerializer,
        operation_id="report_student",
    )
    def get(self, request: Request, pk: int) -> Response:
        """Figures up to the last date, sessions from the first on."""
        actor = alone(actor_of(request))
        student = Student.objects.visible_to(actor).filter(pk=pk).first()
        if student is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        last = self.day("last") or self.today
        first = self.day("first") or last.replace(day=1)
        return self.shown(student_report(actor, student, first, last, self.today, self.known))


class ArchiveSerializer(BodySerializer):
    """Why, or for whom, the file is made; no student's name."""

    why = serializers.CharField(max_length=LONGEST_WHY)


class StudentArchiveApi(ReportView):
    """Everything that is kept about one student."""

    read_permission = write_permission = "caseload.change"

    @extend_schema(
        request=ArchiveSerializer,
        responses={(200, "application/zip"): OpenApiTypes.BINARY},
        operation_id="student_archive",
    )
    def post(self, request: Request, pk: int) -> HttpResponse:
        """A zip with a page and a CSV file a table; that it was made, by whom, when and why is recorded."""
        actor = actor_of(request)
        student = Student.objects.changeable_by(actor).filter(pk=pk).first()
        if student is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        asked = ArchiveSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        made = student_archive(actor=actor, student=student, why=asked.validated_data["why"])
        headers = {"Content-Disposition": f'attachment; filename="{made.name}"', "Cache-Control": "no-store"}
        return HttpResponse(made.content, content_type=made.content_type, headers=headers)


class TeacherReportApi(ReportView):
    """A teacher's month."""

    read_permission = write_permission = "week.change"

    @extend_schema(
        parameters=[day_parameter("month", "Any day of the month."), KNOWN],
        responses=ReportSerializer,
        operation_id="report_teacher",
    )
    def get(self, request: Request, pk: int) -> Response:
        """The sessions of the month by student."""
        actor = actor_of(request)
        teacher = teachers_for(actor).filter(pk=pk).first()
        if teacher is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return self.shown(teacher_report(actor, teacher, self.day("month") or self.today, self.today, self.known))


class BuildingReportApi(ReportView):
    """A building."""

    @extend_schema(
        parameters=[LAST, KNOWN],
        responses=ReportSerializer,
        operation_id="report_building",
    )
    def get(self, request: Request, pk: int) -> Response:
        """Its students whom the person may see."""
        actor = actor_of(request)
        building = Building.objects.visible_to(actor).filter(pk=pk).first()
        if building is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return self.shown(building_report(actor, building, self.day("last") or self.today, self.today, self.known))


class SessionFileSerializer(BodySerializer):
    """Which sessions, as which file, for whom and why (it is kept)."""

    first = DateField()
    last = DateField()
    teacher = VisibleRelatedField(queryset=Person.objects.all(), required=False, allow_null=True, default=None)
    form = serializers.ChoiceField(choices=["csv", "xlsx"])
    why = serializers.CharField(max_length=300)


class SessionFileApi(ReportView):
    """Every session with every version of its log, for an auditor."""

    read_permission = write_permission = "audit.export"

    @extend_schema(
        request=SessionFileSerializer,
        responses={(200, FILE_TYPES[form]): OpenApiTypes.BINARY for form in ("csv", "xlsx")},
        operation_id="report_sessions_file",
    )
    def post(self, request: Request) -> HttpResponse:
        """The file; that it was made, by whom, when and why is recorded."""
        asked = SessionFileSerializer(data=request.data, context={"request": request, "view": self})
        asked.is_valid(raise_exception=True)
        made = session_file_export(actor=actor_of(request), **asked.validated_data)
        headers = {"Content-Disposition": f'attachment; filename="{made.name}"', "Cache-Control": "no-store"}
        return HttpResponse(made.content, content_type=made.content_type, headers=headers)


class DistrictReportApi(ReportView):
    """A district, for coordinators."""

    @extend_schema(
        parameters=[LAST, KNOWN],
        responses=ReportSerializer,
        operation_id="report_district",
    )
    def get(self, request: Request) -> Response:
        """By building and by teacher."""
        return self.shown(
            district_report_shown(actor_of(request), self.day("last") or self.today, self.today, self.known)
        )

    @extend_schema(
        parameters=[LAST, KNOWN],
        request=None,
        responses={202: None},
        operation_id="report_district_start",
    )
    def post(self, request: Request) -> Response:
        """Have a large district's report worked out in the background; get it again later."""
        district_report_start(actor=actor_of(request), as_of=self.day("last") or self.today, known=self.known)
        return Response(status=202)
