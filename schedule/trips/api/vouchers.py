"""The API of vouchers: lines, sums, questions that were answered, and what became of them."""

from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, actor_of
from accounts.files import FILE_TYPES
from schedule.trips import services
from schedule.trips.api.shared import CHANGE, ExactDecimalField, ExactSerializer, checked
from schedule.trips.data import AnswerView, StepView, Sums, VoucherRow, VoucherView
from schedule.trips.files import voucher_file, voucher_file_name
from schedule.trips.selectors.vouchers import voucher_view
from travel.mileage.entries import Entry
from travel.mileage.models import Voucher
from travel.mileage.questions import VoucherQuestion
from travel.mileage.selectors import voucher_get


class SumsSerializer(ExactSerializer[Sums]):
    """Sums of lines, in total with parking and tolls."""

    total = ExactDecimalField(read_only=True)

    class Meta:
        dataclass = Sums


class VoucherRowSerializer(ExactSerializer[VoucherRow]):
    """A submitted voucher in a list."""

    sums = SumsSerializer()

    class Meta:
        dataclass = VoucherRow


class VoucherQuestionSerializer(ExactSerializer[VoucherQuestion]):
    """What is to be answered before submitting, and the keys of the trips that it is about."""

    class Meta:
        dataclass = VoucherQuestion


class StepSerializer(ExactSerializer[StepView]):
    """What a voucher became, by whom and when."""

    class Meta:
        dataclass = StepView


class AnswerViewSerializer(ExactSerializer[AnswerView]):
    """A question that was answered."""

    class Meta:
        dataclass = AnswerView


class EntrySerializer(ExactSerializer[Entry]):
    """A line as it was submitted."""

    class Meta:
        dataclass = Entry


class VoucherRateSerializer(BodySerializer):
    """Sums of the lines that one rate paid."""

    rate = ExactDecimalField(max_digits=None, decimal_places=None)
    miles = serializers.DecimalField(max_digits=8, decimal_places=1)
    amount = serializers.DecimalField(max_digits=9, decimal_places=2)
    parking = serializers.DecimalField(max_digits=9, decimal_places=2)
    tolls = serializers.DecimalField(max_digits=9, decimal_places=2)
    total = serializers.DecimalField(max_digits=10, decimal_places=2)


class VoucherDetailSerializer(ExactSerializer[VoucherView]):
    """A voucher with its lines and sums."""

    entries = EntrySerializer(many=True)
    sums = SumsSerializer()
    by_rate = serializers.SerializerMethodField()
    steps = StepSerializer(many=True)
    in_force = StepSerializer(many=True)
    answers = AnswerViewSerializer(many=True)
    title = serializers.CharField(read_only=True)

    class Meta:
        dataclass = VoucherView

    @extend_schema(responses=VoucherRateSerializer(many=True))
    def get_by_rate(self, view: VoucherView) -> list[dict[str, Any]]:
        """Sums by rate."""
        names = ("miles", "amount", "parking", "tolls", "total")
        rows = [{"rate": rate, **{name: getattr(sums, name) for name in names}} for rate, sums in view.by_rate]
        return list(VoucherRateSerializer(rows, many=True).data)


class VoucherSerializer(RecordSerializer[Voucher]):
    """A voucher without its lines."""

    class Meta:
        model = Voucher
        fields = (
            "id",
            "teacher",
            "month",
            "number",
            "edition",
            "supplement_of",
            "status",
            "submitted_at",
            "submitted_by",
        )
        read_only_fields = fields


class StepWordsSerializer(BodySerializer):
    """Why it goes back (needed there), or what the finance office knows the payment by."""

    words = serializers.CharField(max_length=300, allow_blank=True, default="")


class FileQuery(BodySerializer):
    """Which kind of file."""

    form = serializers.ChoiceField(choices=list(FILE_TYPES))


class VoucherViewSet(ReadViewSet[Voucher]):
    """Vouchers: the teacher's own, and for a coordinator the district's."""

    serializer_class = VoucherSerializer
    filters = {"teacher": "teacher_id"}
    http_method_names = ["get", "head", "post", "options"]
    read_permission = write_permission = CHANGE

    @extend_schema(responses=VoucherDetailSerializer)
    def retrieve(self, request: Request, pk: int) -> Response:
        """Its lines and sums."""
        return self._shown(request, pk)

    @extend_schema(request=None, responses=VoucherDetailSerializer)
    @action(detail=True, methods=["post"])
    def approve(self, request: Request, pk: int) -> Response:
        """It is checked, and may be paid."""
        services.voucher_approve(**self._asked(request, pk))
        return self._shown(request, pk)

    @extend_schema(request=StepWordsSerializer, responses=VoucherDetailSerializer)
    @action(detail=True, methods=["post"], url_path="return", url_name="return")
    def give_back(self, request: Request, pk: int) -> Response:
        """Return it with the reason: its trips can be corrected, and it is submitted again."""
        words = checked(StepWordsSerializer, request, request.data)["words"]
        services.voucher_return(**self._asked(request, pk), words=words)
        return self._shown(request, pk)

    @extend_schema(request=StepWordsSerializer, responses=VoucherDetailSerializer)
    @action(detail=True, methods=["post"], url_path="take-back", url_name="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """The teacher takes it back before anybody has approved it."""
        words = checked(StepWordsSerializer, request, request.data)["words"]
        services.voucher_take_back(**self._asked(request, pk), words=words)
        return self._shown(request, pk)

    @extend_schema(request=StepWordsSerializer, responses=VoucherDetailSerializer)
    @action(detail=True, methods=["post"])
    def pay(self, request: Request, pk: int) -> Response:
        """It is paid."""
        words = checked(StepWordsSerializer, request, request.data)["words"]
        services.voucher_pay(**self._asked(request, pk), words=words)
        return self._shown(request, pk)

    @extend_schema(request=None, responses=VoucherDetailSerializer)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take the last step back."""
        services.voucher_step_undo(**self._asked(request, pk))
        return self._shown(request, pk)

    def _asked(self, request: Request, pk: int) -> dict[str, Any]:
        actor = actor_of(request)
        return {"actor": actor, "voucher": voucher_get(actor, pk), "now": timezone.now()}

    def _shown(self, request: Request, pk: int) -> Response:
        actor = actor_of(request)
        return Response(VoucherDetailSerializer(voucher_view(voucher_get(actor, pk), actor)).data)

    @extend_schema(
        parameters=[FileQuery],
        responses={(200, media_type): OpenApiTypes.BINARY for media_type in FILE_TYPES.values()},
    )
    @action(detail=True, pagination_class=None, filterset_class=None)
    def file(self, request: Request, pk: int) -> HttpResponse:
        """As CSV, XLSX or PDF."""
        view = voucher_view(voucher_get(actor_of(request), pk))
        form = checked(FileQuery, request, request.query_params.dict())["form"]
        name = voucher_file_name(view, form)
        headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
        return HttpResponse(voucher_file(view, form), content_type=FILE_TYPES[form], headers=headers)
