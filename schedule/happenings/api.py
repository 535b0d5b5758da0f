"""The API of what happened: the same services as the page."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, actor_of
from accounts.api_fields import MomentField
from accounts.idempotency.services import moment_get
from schedule.calendar.models import Happening
from schedule.happenings.effects import HappeningEffects
from schedule.happenings.services.foreseeing import happening_foresee
from schedule.happenings.services.saying import SAY, happening_say, happening_take_back


class HappeningSerializer(RecordSerializer[Happening]):
    """One thing that happened; without a last date on one day, without times all day, without buildings in every
    school."""

    at = MomentField(
        write_only=True,
        required=False,
        allow_null=True,
        default=None,
        help_text="When it was said, if that is sent later: “from now on” is from then on.",
    )

    class Meta:
        model = Happening
        fields = (
            "id", "kind", "teacher", "buildings", "space", "school_class", "student", "grades", "first_date",
            "last_date", "start", "end", "minutes", "goes_on", "note", "said_by", "said_at", "taken_back_by",
            "taken_back_at", "at",
        )  # fmt: skip
        read_only_fields = ("said_by", "said_at", "taken_back_by", "taken_back_at")
        extra_kwargs = {"last_date": {"required": False}, "buildings": {"required": False}}


class HappeningEffectsSerializer(DataclassSerializer[HappeningEffects]):
    """What it does: sessions, drives, minutes by what the district's table does with them, whom it concerns."""

    class Meta:
        dataclass = HappeningEffects


class HappeningViewSet(ReadViewSet[Happening]):
    """What happened, and what was taken back."""

    serializer_class = HappeningSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = SAY
    prefetch = ("buildings",)
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(request=HappeningSerializer, responses={201: HappeningSerializer})
    def create(self, request: Request) -> Response:
        """Save it, with the calendar's entries and the log of what fell out up to today."""
        row = happening_say(actor=actor_of(request), **self._sent(request))
        return Response(self.get_serializer(row).data, status=201)

    @extend_schema(
        operation_id="happenings_effects", request=HappeningSerializer, responses=HappeningEffectsSerializer
    )
    @action(detail=False, methods=["post"])
    def effects(self, request: Request) -> Response:
        """What it would do; nothing is saved."""
        found = happening_foresee(actor=actor_of(request), **self._sent(request))
        return Response(HappeningEffectsSerializer(found).data)

    @extend_schema(operation_id="happenings_take_back", request=None, responses=HappeningSerializer)
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Take it back whole; a second time changes nothing."""
        row = happening_take_back(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(row).data)

    def _sent(self, request: Request) -> dict[str, Any]:
        body = self.get_serializer(data=request.data)
        body.is_valid(raise_exception=True)
        values = dict(body.validated_data)
        said = moment_get(values.pop("at", None))
        return {"buildings": values.pop("buildings", ()), "values": values, "now": said}
