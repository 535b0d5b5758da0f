"""The API of progress reports: what the pages can do, by the same services."""

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import BodySerializer, RolePermission, VisibleRelatedField, actor_of
from accounts.api_fields import DateField
from accounts.errors import ApplicationError
from accounts.files import FILE_TYPES
from accounts.selectors import today_of
from accounts.services import NOT_THERE
from caseload.plans.models import Student
from schedule.calendar.models import MarkingPeriod
from schedule.reports.services import LONGEST_WHY
from schedule.telling.files import report_pdf
from schedule.telling.models import ProgressReport, ReportSentence
from schedule.telling.models.report import LONGEST
from schedule.telling.selectors.reports import ToldReport, report_view, shown_sentences
from schedule.telling.services import reports as services
from schedule.telling.services.period import period_reports_begin, period_reports_take_back
from schedule.telling.services.sending import AUDIENCES, pdf_file, report_send


class ReportSentenceSerializer(serializers.ModelSerializer[ReportSentence]):
    """One part: what the program drafted, what a person made of it, and who has read it."""

    class Meta:
        model = ReportSentence
        fields = ("id", "audience", "language", "topic", "goal", "drafted", "text", "read_by", "read_at")
        read_only_fields = fields


class ProgressReportSerializer(serializers.ModelSerializer[ProgressReport]):
    """A report without its parts; `content` is what was signed."""

    class Meta:
        model = ProgressReport
        fields = (
            "id", "student", "kind", "name", "first_day", "last_day", "family_language", "revision", "signed_by",
            "signed_at", "signed_name", "content", "removed_at",
        )  # fmt: skip
        read_only_fields = fields


class ProgressReportDetailSerializer(serializers.Serializer[Any]):
    """A report with its parts, in order, and the reading grade of the family's version."""

    report = ProgressReportSerializer()
    sentences = ReportSentenceSerializer(many=True)
    reading_grade = serializers.FloatField(allow_null=True)
    reading_measure = serializers.CharField()


class NewReportSerializer(BodySerializer):
    """Whom it is about, for what, and which dates."""

    student = VisibleRelatedField(queryset=Student.objects.all())
    kind = serializers.ChoiceField(choices=ProgressReport.Kind.choices)
    name = serializers.CharField(max_length=80)
    first_day = DateField()
    last_day = DateField()
    family_language = serializers.ChoiceField(choices=ProgressReport.Language.choices, default="en")


class SentenceWordsSerializer(BodySerializer):
    """The new words of one part, or the same, and whether they were read."""

    id = serializers.IntegerField(min_value=1)
    text = serializers.CharField(max_length=LONGEST, allow_blank=True)
    read = serializers.BooleanField(default=False)


class ReportWordsSerializer(BodySerializer):
    """Parts to be worded, and the revision that was seen."""

    expected_revision = serializers.IntegerField(min_value=1)
    sentences = SentenceWordsSerializer(many=True)


class ReportActSerializer(BodySerializer):
    """What is done; `name` to sign, `language` to choose the family's."""

    act = serializers.ChoiceField(choices=["sign", "reopen", "draft_again", "language", "remove", "restore"])
    expected_revision = serializers.IntegerField(min_value=1)
    name = serializers.CharField(max_length=120, required=False, default="", allow_blank=True)
    language = serializers.CharField(max_length=2, required=False, default="", allow_blank=True)


class ReportFileSerializer(BodySerializer):
    """For whom the file is."""

    audience = serializers.ChoiceField(choices=AUDIENCES)
    why = serializers.CharField(max_length=LONGEST_WHY, required=False, default="", allow_blank=True)


class ProgressApi(APIView):
    """What these views share."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission = write_permission = services.WRITE

    def row(self, request: Request, pk: int) -> ProgressReport:
        """The report, if the person may see it."""
        rows = ProgressReport.objects.visible_to(actor_of(request)).select_related("student__district")
        found = rows.filter(pk=pk).first()
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return found

    def body(self, kind: type[BodySerializer], request: Request) -> dict[str, Any]:
        """What was sent, checked."""
        asked = kind(data=request.data, context={"request": request, "view": self})
        asked.is_valid(raise_exception=True)
        return dict(asked.validated_data)

    def shown(self, view: ToldReport, status: int = 200) -> Response:
        """A report with its parts."""
        values = {
            "report": view.row,
            "sentences": shown_sentences(view.row),
            "reading_grade": view.grade.grade,
            "reading_measure": view.grade.measure,
        }
        return Response(ProgressReportDetailSerializer(values).data, status=status)

    def view(self, request: Request, pk: int) -> ToldReport:
        """As the person sees it now."""
        actor = actor_of(request)
        return report_view(actor, self.row(request, pk), today_of(actor))


class ProgressReportsApi(ProgressApi):
    """Progress reports of the students whom one sees."""

    @extend_schema(responses=ProgressReportSerializer(many=True), operation_id="progress_reports")
    def get(self, request: Request) -> Response:
        """The latest first; removed ones are not among them."""
        rows = ProgressReport.objects.visible_to(actor_of(request)).kept()
        return Response(ProgressReportSerializer(rows, many=True).data)

    @extend_schema(
        request=NewReportSerializer,
        responses={201: ProgressReportDetailSerializer},
        operation_id="progress_report_begin",
    )
    def post(self, request: Request) -> Response:
        """Begin one, with drafted sentences that nobody has read."""
        actor = actor_of(request)
        row = services.report_begin(actor=actor, today=today_of(actor), **self.body(NewReportSerializer, request))
        return self.shown(self.view(request, row.pk), status=201)


class RefusedSerializer(serializers.Serializer[Any]):
    """Whose report couldn't be begun, and why."""

    student = serializers.IntegerField()
    why = serializers.CharField()


class PeriodBegunSerializer(serializers.Serializer[Any]):
    """What one press began, and who is left for the next."""

    begun = serializers.IntegerField()
    refused = RefusedSerializer(many=True)
    left = serializers.IntegerField()


class PeriodTakenBackSerializer(serializers.Serializer[Any]):
    """How many were removed."""

    removed = serializers.IntegerField()


class PeriodReportsApi(ProgressApi):
    """The progress reports of one marking period together."""

    @extend_schema(request=None, responses=PeriodBegunSerializer, operation_id="progress_reports_begin_all")
    def post(self, request: Request, pk: int) -> Response:
        """Begin those of everybody who has none; safe to send twice."""
        actor = actor_of(request)
        found = period_reports_begin(actor=actor, period=self.period(request, pk), today=today_of(actor))
        refused = [{"student": student.pk, "why": why} for student, why in found.refused]
        told = {"begun": found.begun, "refused": refused, "left": found.left}
        return Response(PeriodBegunSerializer(told).data)

    @extend_schema(responses={200: PeriodTakenBackSerializer}, operation_id="progress_reports_take_back")
    def delete(self, request: Request, pk: int) -> Response:
        """Remove the drafts that the person began and nobody has worked on; each can be brought back."""
        actor = actor_of(request)
        count = period_reports_take_back(actor=actor, period=self.period(request, pk), now=timezone.now())
        return Response(PeriodTakenBackSerializer({"removed": count}).data)

    def period(self, request: Request, pk: int) -> MarkingPeriod:
        """A marking period that the person may see."""
        found = MarkingPeriod.objects.visible_to(actor_of(request)).filter(pk=pk).first()
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return found


class ProgressReportApi(ProgressApi):
    """One progress report."""

    @extend_schema(responses=ProgressReportDetailSerializer, operation_id="progress_report")
    def get(self, request: Request, pk: int) -> Response:
        """As it stands."""
        return self.shown(self.view(request, pk))

    @extend_schema(
        request=ReportWordsSerializer, responses=ProgressReportDetailSerializer, operation_id="progress_report_word"
    )
    def patch(self, request: Request, pk: int) -> Response:
        """Word its parts, and say which were read; who words one has read it."""
        row, values = self.row(request, pk), self.body(ReportWordsSerializer, request)
        sentences = values["sentences"]
        services.sentences_save(
            actor=actor_of(request),
            report=row,
            words={one["id"]: one["text"] for one in sentences},
            read={one["id"] for one in sentences if one["read"]},
            expected_revision=values["expected_revision"],
            now=timezone.now(),
        )
        return self.shown(self.view(request, pk))


class ProgressReportActApi(ProgressApi):
    """Sign a progress report, open it again, draft it again, choose its language, remove it, bring it back."""

    @extend_schema(
        request=ReportActSerializer, responses=ProgressReportDetailSerializer, operation_id="progress_report_act"
    )
    def post(self, request: Request, pk: int) -> Response:
        """Refused (unread) to sign while nobody has read one of its parts."""
        row = self.row(request, pk)
        self._act(request, row, self.body(ReportActSerializer, request))
        return self.shown(self.view(request, pk))

    def _act(self, request: Request, row: ProgressReport, values: dict[str, Any]) -> None:
        actor, today, now = actor_of(request), today_of(actor_of(request)), timezone.now()
        known: dict[str, Any] = {"actor": actor, "report": row, "expected_revision": values["expected_revision"]}
        match values["act"]:
            case "sign":
                services.report_sign(**known, name=values["name"], today=today, now=now)
            case "reopen":
                services.report_reopen(**known)
            case "draft_again":
                services.report_draft_again(**known, today=today)
            case "language":
                services.report_language_choose(**known, language=values["language"], today=today)
            case "remove":
                services.report_remove(**known, now=now)
            case _:
                services.report_restore(actor=actor, report=row)


class ProgressReportFileApi(ProgressApi):
    """A signed progress report as PDF."""

    @extend_schema(
        request=ReportFileSerializer,
        responses={(200, FILE_TYPES["pdf"]): OpenApiTypes.BINARY},
        operation_id="progress_report_file",
    )
    def post(self, request: Request, pk: int) -> HttpResponse:
        """For the team or the family; that it was made, by whom, when and why is recorded."""
        row, values = self.row(request, pk), self.body(ReportFileSerializer, request)
        view = self.view(request, pk)
        made = report_send(
            actor=actor_of(request),
            report=row,
            audience=values["audience"],
            why=values["why"],
            make=lambda: pdf_file(row, values["audience"], report_pdf(view, values["audience"])),
            form="pdf",
        )
        headers = {"Content-Disposition": f'attachment; filename="{made.name}"', "Cache-Control": "no-store"}
        return HttpResponse(made.content, content_type=made.content_type, headers=headers)
