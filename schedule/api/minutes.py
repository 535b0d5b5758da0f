"""The API of what is owed and how it is caught up with: attention, make-ups, forecasts, reports."""

import datetime as dt
from dataclasses import dataclass
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import RefusesUnknownFields, RolePermission, actor_of
from accounts.api_fields import DateField, IdField
from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.models import Person
from caseload.models import Student
from caseload.report_data import Report
from schedule.api.runs import RunSerializer
from schedule.models import WeekPlan
from schedule.selectors.attention import Attention, attention
from schedule.selectors.forecast import LineOutlook, line_outlooks, teacher_ledgers
from schedule.selectors.make_ups import MakeUpNeed, line_to_make_up, make_up_needs, make_up_slots
from schedule.selectors.reports import building_report, district_report_shown, student_report, teacher_report
from schedule.selectors.runs import run_detail
from schedule.selectors.week_pages import district_today, teacher_for, teachers_for
from schedule.selectors.weeks import week_get
from schedule.services.make_ups import make_up_book, make_up_cancel, make_ups_plan
from schedule.services.reports import district_report_start
from travel.models import Building

NOT_FOUND = "There is nothing here that you can see."
TEACHER = OpenApiParameter("teacher", OpenApiTypes.INT, description="A teacher's id; oneself if left out.")


def _day(name: str, words: str) -> OpenApiParameter:
    return OpenApiParameter(name, OpenApiTypes.DATE, description=words)


@dataclass(frozen=True, slots=True)
class AttentionItem:
    """One thing that waits. `kind` in words; `minutes` are those that it is about."""

    kind: str
    words: str
    due: dt.date
    student_id: int | None
    student_code: str
    line_id: int | None
    entry_id: int | None
    minutes: int


@dataclass(frozen=True, slots=True)
class NeedItem:
    """A service with open minutes, and by when they should be made up."""

    line_id: int
    student_id: int
    student_code: str
    statement: str
    open_minutes: int
    booked_minutes: int
    due: dt.date | None


@dataclass(frozen=True, slots=True)
class SlotItem:
    """A moment at which a make-up fits; `words` say what it costs."""

    date: dt.date
    start: dt.time
    minutes: int
    building_code: str
    space_name: str
    period: str
    added_drive_minutes: int
    wishes_missed: int
    late: bool
    in_force: bool
    words: str


@dataclass(frozen=True, slots=True)
class OutlookItem:
    """What a service needs by a date, what is planned, and how likely it ends short (0 to 1)."""

    line_id: int
    student_id: int
    student_code: str
    name: str
    until: dt.date
    needed: int
    planned: int
    gap: int
    missed_rate: float
    ends_short: float
    reserve: int | None


@dataclass(frozen=True, slots=True)
class BookedWeek:
    """The week that a booking changed, as a version or a draft."""

    week_id: int
    status: str
    version: int | None
    revision: int


class AttentionSerializer(DataclassSerializer[AttentionItem]):
    """A row of the attention page."""

    class Meta:
        dataclass = AttentionItem


class NeedSerializer(DataclassSerializer[NeedItem]):
    """A service with minutes to make up."""

    class Meta:
        dataclass = NeedItem


class SlotSerializer(DataclassSerializer[SlotItem]):
    """A slot for a make-up."""

    class Meta:
        dataclass = SlotItem


class OutlookSerializer(DataclassSerializer[OutlookItem]):
    """The outlook of a service."""

    class Meta:
        dataclass = OutlookItem


class BookedSerializer(DataclassSerializer[BookedWeek]):
    """What a booking changed."""

    class Meta:
        dataclass = BookedWeek


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


class _Body(RefusesUnknownFields, serializers.Serializer[Any]):
    """What an action takes."""


class BookSerializer(_Body):
    """One slot."""

    date = DateField()
    start = serializers.TimeField()
    minutes = serializers.IntegerField(min_value=1, max_value=480)


class CancelSerializer(_Body):
    """A booked make-up by its week and uid."""

    week = IdField()
    uid = serializers.UUIDField()


class PlanAllSerializer(_Body):
    """Whose make-ups, over how many weeks."""

    teacher = IdField(required=False)
    weeks = serializers.IntegerField(min_value=1, max_value=6, default=4)


class MinutesView(APIView):
    """Signed in, with the role."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.change"

    def teacher(self, asked: object) -> Person:
        """The teacher asked for, or the first that the person may see. Raises `ApplicationError` (404)."""
        wanted = id_read(str(asked)) if asked else None
        found = teacher_for(actor_of(self.request), wanted) if wanted or not asked else None
        if found is None:
            raise ApplicationError(NOT_FOUND, code="not_found", status=404)
        return found

    def day(self, name: str) -> dt.date | None:
        """A date in the query. Raises `ValidationError` for what is no date."""
        text = self.request.query_params.get(name)
        field = DateField()
        return field.run_validation(text) if text else None

    @property
    def today(self) -> dt.date:
        """Today where the district is."""
        return district_today(actor_of(self.request))


class AttentionApi(MinutesView):
    """Who needs attention first."""

    @extend_schema(parameters=[TEACHER], responses=AttentionSerializer(many=True), operation_id="attention")
    def get(self, request: Request) -> Response:
        """What waits with a teacher's students, the most urgent first."""
        found = attention(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        return Response(AttentionSerializer(_attention_items(found), many=True).data)


def _attention_items(found: Attention) -> list[AttentionItem]:
    return [
        AttentionItem(
            row.label,
            row.words,
            row.due,
            row.student.pk if row.student else None,
            row.student.code if row.student else "",
            row.line_id,
            row.entry_id,
            row.minutes,
        )
        for row in found.rows
    ]


class ForecastApi(MinutesView):
    """How each service is likely to end."""

    @extend_schema(parameters=[TEACHER], responses=OutlookSerializer(many=True), operation_id="forecasts")
    def get(self, request: Request) -> Response:
        """Each service until the marking period's end and its own."""
        teacher = self.teacher(request.query_params.get("teacher"))
        loaded = teacher_ledgers(actor_of(request), teacher, self.today)
        items = [item for one in line_outlooks(loaded) for item in _outlook_items(one)]
        return Response(OutlookSerializer(items, many=True).data)


def _outlook_items(one: LineOutlook) -> list[OutlookItem]:
    return [
        OutlookItem(
            one.line.pk,
            one.student.pk,
            one.student.code,
            seen.name,
            seen.until,
            seen.forecast.needed,
            seen.forecast.planned,
            seen.forecast.gap,
            seen.forecast.rate,
            seen.forecast.ends_short,
            seen.forecast.reserve,
        )
        for seen in one.outlooks
    ]


class MakeUpsApi(MinutesView):
    """Services with minutes to make up."""

    @extend_schema(parameters=[TEACHER], responses=NeedSerializer(many=True), operation_id="make_ups")
    def get(self, request: Request) -> Response:
        """The earliest date first."""
        needs = make_up_needs(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        return Response(NeedSerializer([_need_item(one) for one in needs], many=True).data)


def _need_item(one: MakeUpNeed) -> NeedItem:
    booked = sum(make_up.minutes for make_up in one.booked)
    return NeedItem(one.line.pk, one.student.pk, one.student.code, one.line.statement, one.minutes, booked, one.due)


class MakeUpSlotsApi(MinutesView):
    """Slots of one service."""

    @extend_schema(
        parameters=[_day("until", "Last date to look at; the due date if left out.")],
        responses=SlotSerializer(many=True),
        operation_id="make_up_slots",
    )
    def get(self, request: Request, line_id: int) -> Response:
        """The best first."""
        actor = actor_of(request)
        found = make_up_slots(actor, line_to_make_up(actor, line_id), self.today, self.day("until"))
        items = [
            SlotItem(
                one.date,
                dt.time(one.start // 60, one.start % 60),
                one.minutes,
                one.building_code,
                one.space_name,
                one.period,
                one.added_drive_minutes,
                one.wishes_missed,
                one.late,
                one.in_force,
                one.words,
            )
            for one in found.slots
        ]
        return Response(SlotSerializer(items, many=True).data)

    @extend_schema(request=BookSerializer, responses={201: BookedSerializer}, operation_id="make_up_book")
    def post(self, request: Request, line_id: int) -> Response:
        """Book one slot; the same booking sent twice is stored once."""
        actor = actor_of(request)
        line = line_to_make_up(actor, line_id)
        body = BookSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        week = make_up_book(actor=actor, line=line, today=self.today, **body.validated_data)
        return Response(_booked(week), status=201)


def _booked(week: WeekPlan) -> dict[str, Any]:
    data: dict[str, Any] = BookedSerializer(BookedWeek(week.pk, week.status, week.version, week.revision)).data
    return data


class MakeUpCancelApi(MinutesView):
    """Taking a booking back."""

    @extend_schema(request=CancelSerializer, responses=BookedSerializer, operation_id="make_up_cancel")
    def post(self, request: Request) -> Response:
        """Its minutes are open again."""
        body = CancelSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        week = week_get(actor, body.validated_data["week"])
        return Response(_booked(make_up_cancel(actor=actor, week=week, uid=str(body.validated_data["uid"]))))


class MakeUpsPlanApi(MinutesView):
    """Planning all make-ups."""

    @extend_schema(request=PlanAllSerializer, responses={201: RunSerializer}, operation_id="make_ups_plan")
    def post(self, request: Request) -> Response:
        """Place everything that is open, in the background."""
        body = PlanAllSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        teacher = self.teacher(body.validated_data.get("teacher"))
        run = make_ups_plan(actor=actor, teacher=teacher, today=self.today, weeks=body.validated_data["weeks"])
        return Response(RunSerializer(run_detail(actor, run)).data, status=201)


class ReportView(MinutesView):
    """A report as data. Files are made on the reports' pages, where each is written down."""

    read_permission = write_permission = "caseload.view"

    def shown(self, report: Report) -> Response:
        """The report's parts."""
        return Response(ReportSerializer(report).data)


class StudentReportApi(ReportView):
    """A student's service record."""

    @extend_schema(
        parameters=[_day("first", "First date of the sessions."), _day("last", "Up to which date.")],
        responses=ReportSerializer,
        operation_id="report_student",
    )
    def get(self, request: Request, pk: int) -> Response:
        """Figures up to the last date, sessions from the first on."""
        actor = actor_of(request)
        student = Student.objects.visible_to(actor).filter(pk=pk).first()
        if student is None:
            raise ApplicationError(NOT_FOUND, code="not_found", status=404)
        last = self.day("last") or self.today
        first = self.day("first") or last.replace(day=1)
        return self.shown(student_report(actor, student, first, last, self.today))


class TeacherReportApi(ReportView):
    """A teacher's month."""

    read_permission = write_permission = "week.change"

    @extend_schema(
        parameters=[_day("month", "Any day of the month.")],
        responses=ReportSerializer,
        operation_id="report_teacher",
    )
    def get(self, request: Request, pk: int) -> Response:
        """The sessions of the month by student."""
        actor = actor_of(request)
        teacher = teachers_for(actor).filter(pk=pk).first()
        if teacher is None:
            raise ApplicationError(NOT_FOUND, code="not_found", status=404)
        return self.shown(teacher_report(actor, teacher, self.day("month") or self.today, self.today))


class BuildingReportApi(ReportView):
    """A building."""

    @extend_schema(
        parameters=[_day("last", "Up to which date.")], responses=ReportSerializer, operation_id="report_building"
    )
    def get(self, request: Request, pk: int) -> Response:
        """Its students whom the person may see."""
        actor = actor_of(request)
        building = Building.objects.visible_to(actor).filter(pk=pk).first()
        if building is None:
            raise ApplicationError(NOT_FOUND, code="not_found", status=404)
        return self.shown(building_report(actor, building, self.day("last") or self.today, self.today))


class DistrictReportApi(ReportView):
    """A district, for coordinators."""

    @extend_schema(
        parameters=[_day("last", "Up to which date.")], responses=ReportSerializer, operation_id="report_district"
    )
    def get(self, request: Request) -> Response:
        """By building and by teacher."""
        return self.shown(district_report_shown(actor_of(request), self.day("last") or self.today, self.today))

    @extend_schema(
        parameters=[_day("last", "Up to which date.")],
        request=None,
        responses={202: None},
        operation_id="report_district_start",
    )
    def post(self, request: Request) -> Response:
        """Have a large district's report worked out in the background; get it again later."""
        district_report_start(actor=actor_of(request), as_of=self.day("last") or self.today)
        return Response(status=202)
