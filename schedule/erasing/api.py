"""The API of keeping records: rules, holds, words with parents, lists, and erasing what one names."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField
from accounts.errors import ApplicationError
from accounts.services import NOT_THERE
from caseload.plans.models import Student
from caseload.retention import services
from caseload.retention.models import (
    ErasedRows,
    ErasureHold,
    ErasureRun,
    ParentsWord,
    PermanentRecord,
    RetentionRule,
)
from schedule.erasing.services.runs import erasure_confirm, erasure_list


class RetentionRuleSerializer(RecordSerializer[RetentionRule]):
    """`years` null: kept without end. The rule of a kind with the latest first day that has come holds."""

    class Meta:
        model = RetentionRule
        fields = ("id", "kind", "years", "counts_from", "first_day", "decided_by", "keeps_permanent")


class RetentionRuleViewSet(RecordViewSet[RetentionRule]):
    """How long which records are kept; without a rule of their kind, without end. Saving one erases nothing."""

    serializer_class = RetentionRuleSerializer
    read_permission = write_permission = services.KEEP
    save_service = services.retention_rule_save
    delete_service = services.retention_rule_delete


class ErasureHoldSerializer(RecordSerializer[ErasureHold]):
    """`last_day` null: until further notice."""

    class Meta:
        model = ErasureHold
        fields = ("id", "student", "reason", "words", "first_day", "last_day")


class ErasureHoldViewSet(RecordViewSet[ErasureHold]):
    """What holds a student's records back, whatever the rules say."""

    serializer_class = ErasureHoldSerializer
    filters = {"student": "student_id"}
    read_permission = write_permission = services.KEEP
    save_service = services.erasure_hold_save
    delete_service = services.erasure_hold_delete
    parents = ("student",)


class ParentsWordSerializer(RecordSerializer[ParentsWord]):
    """What parents were told, or asked for, and on which day."""

    class Meta:
        model = ParentsWord
        fields = ("id", "student", "kind", "said_on", "how")


class ParentsWordViewSet(RecordViewSet[ParentsWord]):
    """Words with parents (34 CFR 300.624)."""

    serializer_class = ParentsWordSerializer
    filters = {"student": "student_id"}
    read_permission = write_permission = services.KEEP
    save_service = services.parents_word_save
    delete_service = services.parents_word_delete
    parents = ("student",)


class PermanentRecordSerializer(RecordSerializer[PermanentRecord]):
    """What is kept of a student whose records are erased."""

    class Meta:
        model = PermanentRecord
        fields = ("id", "code", "first_name", "last_name", "grade", "year_completed", "schools", "made_at")


class PermanentRecordViewSet(ReadViewSet[PermanentRecord]):
    """Permanent records (34 CFR 300.624(b))."""

    serializer_class = PermanentRecordSerializer
    read_permission = write_permission = services.KEEP


class ErasedRowsSerializer(serializers.ModelSerializer[ErasedRows]):
    """What was erased: the id that the student had, by which rule, how many rows of which table."""

    class Meta:
        model = ErasedRows
        fields = ("kind", "student_number", "rule_number", "at", "parents_told_on", "tables")
        read_only_fields = fields


class ErasureRunSerializer(serializers.ModelSerializer[ErasureRun]):
    """A list: `listed` says by id what goes, what stays and why; `kept` what was held back after all."""

    erased = ErasedRowsSerializer(many=True, read_only=True)

    class Meta:
        model = ErasureRun
        fields = (
            "id", "made_by", "made_at", "as_of", "student_number", "digest", "listed", "confirmed_by",
            "confirmed_at", "kept", "erased", "ended_at",
        )  # fmt: skip
        read_only_fields = fields


class ErasureAskedSerializer(BodySerializer):
    """As of which day (else today); one student only at the parents' request."""

    as_of = DateField(required=False, allow_null=True)
    student = VisibleRelatedField(queryset=Student.objects.all(), required=False, allow_null=True)


class ErasureConfirmSerializer(BodySerializer):
    """The digest of the list as it was read."""

    digest = serializers.CharField(max_length=64)


class ErasureApi(APIView):
    """What these views share."""

    permission_classes = (RolePermission,)
    read_permission = write_permission = services.KEEP

    def run(self, request: Request, pk: int) -> ErasureRun:
        """A list of the district; raises `ApplicationError` (404) for any other."""
        found = ErasureRun.objects.visible_to(actor_of(request)).filter(pk=pk).first()
        if found is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return found

    def body(self, kind: type[BodySerializer], request: Request) -> dict[str, Any]:
        """What was sent, checked."""
        serializer = kind(data=request.data, context={"request": request})
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)


class ErasureListsApi(ErasureApi):
    """Lists of what would be erased."""

    @extend_schema(operation_id="erasure_lists", responses=ErasureRunSerializer(many=True))
    def get(self, request: Request) -> Response:
        """The latest twenty."""
        rows = ErasureRun.objects.visible_to(actor_of(request))[:20]
        return Response(ErasureRunSerializer(rows, many=True).data)

    @extend_schema(
        operation_id="erasure_list_make", request=ErasureAskedSerializer, responses={201: ErasureRunSerializer}
    )
    def post(self, request: Request) -> Response:
        """Make one. Nothing is erased by it."""
        asked = self.body(ErasureAskedSerializer, request)
        run = erasure_list(actor=actor_of(request), as_of=asked.get("as_of"), student=asked.get("student"))
        return Response(ErasureRunSerializer(run).data, status=201)


class ErasureListApi(ErasureApi):
    """One list."""

    @extend_schema(operation_id="erasure_list", responses=ErasureRunSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """As it was made, and what became of it."""
        return Response(ErasureRunSerializer(self.run(request, pk)).data)


class ErasureConfirmApi(ErasureApi):
    """Erasing what a list names."""

    @extend_schema(
        operation_id="erasure_confirm", request=ErasureConfirmSerializer, responses={202: ErasureRunSerializer}
    )
    def post(self, request: Request, pk: int) -> Response:
        """In the background, for good. Refused (`changed_since`) where the list of now is another one."""
        run = self.run(request, pk)
        digest = self.body(ErasureConfirmSerializer, request)["digest"]
        confirmed = erasure_confirm(actor=actor_of(request), run=run, digest=digest)
        return Response(ErasureRunSerializer(confirmed).data, status=202)
