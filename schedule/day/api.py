"""The API of the day sheet: the same selector and services as the page."""

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import RefusesUnknownFields, RolePermission, actor_of, little, wants_little
from accounts.api_fields import IdField, MomentField
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import permission_require
from schedule.day.data import DaySheet
from schedule.day.selectors.sheet import day_sheet
from schedule.day.services import TAP, leg_arrive, leg_start, leg_undo
from schedule.weeks.pages.request import date_of
from schedule.weeks.selectors.pages import NO_TEACHER, teacher_for

DATE = OpenApiParameter("date", OpenApiTypes.DATE, OpenApiParameter.PATH)
AT = "When it was tapped, if that is sent later: then the tap is of that moment and its day."
TEACHER = OpenApiParameter(
    "teacher", OpenApiTypes.INT, description="Id; if left out, the first teacher whom you may see."
)


class DaySheetSerializer(DataclassSerializer[DaySheet]):
    """A teacher's day from the week in force, as far as the person who asks may see it."""

    class Meta:
        dataclass = DaySheet
        # The API has a building's phone at the building.
        exclude = ("phones",)


class DayQuery(RefusesUnknownFields, serializers.Serializer[Any]):
    """Whose day."""

    teacher = IdField(required=False, default=None)


class TapSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A drive of the day by its key, and the odometer (miles) where it was read."""

    leg = serializers.CharField(max_length=60)
    at = MomentField(required=False, allow_null=True, default=None, help_text=AT)
    odometer = serializers.DecimalField(max_digits=8, decimal_places=1, min_value=0, required=False)


class UndoSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A drive of the day by its key, and which tap was a mistake."""

    leg = serializers.CharField(max_length=60)
    at = MomentField(required=False, allow_null=True, default=None, help_text=AT)
    tap = serializers.ChoiceField(choices=[("start", "start"), ("arrive", "arrive")])


class DayApi(APIView):
    """A day sheet."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.view"

    @extend_schema(operation_id="day_retrieve", parameters=[DATE, TEACHER], responses=DaySheetSerializer)
    def get(self, request: Request, date: str) -> Response:
        """What stands on a date."""
        asked = DayQuery(data=request.query_params)
        asked.is_valid(raise_exception=True)
        viewer = actor_of(request)
        teacher = teacher_for(viewer, asked.validated_data["teacher"])
        if teacher is None:
            raise ApplicationError(NO_TEACHER, code="not_found", status=404)
        return Response(DaySheetSerializer(day_sheet(viewer, teacher, date_of(date), whole=True)).data)


class TapApi(APIView):
    """What taps share: they are of the day that one drives, today, and safe to send twice."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.view"

    def values(self, request: Request, body: type[serializers.Serializer[Any]]) -> dict[str, Any]:
        """What was sent, by somebody who drives."""
        permission_require(actor_of(request), TAP)
        sent = body(data=request.data)
        sent.is_valid(raise_exception=True)
        return dict(sent.validated_data)

    def teacher(self, request: Request) -> Person:
        """Whose day it is: a teacher's own; for a substitute the teacher asked for, else the first covered."""
        actor = actor_of(request)
        asked = DayQuery(data=request.query_params)
        asked.is_valid(raise_exception=True)
        found = actor if actor.is_teacher else teacher_for(actor, asked.validated_data["teacher"])
        if found is None:
            raise ApplicationError(NO_TEACHER, code="not_found", status=404)
        return found

    def answer(self, request: Request, date: str) -> Response:
        """The day as it stands after a tap; with ``Prefer: return=minimal`` only that it was taken."""
        if wants_little(request):
            return little(200)
        sheet = day_sheet(actor_of(request), self.teacher(request), date_of(date), whole=True)
        return Response(DaySheetSerializer(sheet).data)


class DayStartApi(TapApi):
    """A drive begins."""

    @extend_schema(
        operation_id="day_start", parameters=[DATE, TEACHER], request=TapSerializer, responses=DaySheetSerializer
    )
    def post(self, request: Request, date: str) -> Response:
        """Leave the parking lot."""
        values = self.values(request, TapSerializer)
        leg_start(actor=actor_of(request), teacher=self.teacher(request), date=date_of(date), **values)
        return self.answer(request, date)


class DayArriveApi(TapApi):
    """A drive ends."""

    @extend_schema(
        operation_id="day_arrive", parameters=[DATE, TEACHER], request=TapSerializer, responses=DaySheetSerializer
    )
    def post(self, request: Request, date: str) -> Response:
        """Park at the other end."""
        values = self.values(request, TapSerializer)
        leg_arrive(actor=actor_of(request), teacher=self.teacher(request), date=date_of(date), **values)
        return self.answer(request, date)


class DayUndoApi(TapApi):
    """A tap was a mistake."""

    @extend_schema(
        operation_id="day_undo", parameters=[DATE, TEACHER], request=UndoSerializer, responses=DaySheetSerializer
    )
    def post(self, request: Request, date: str) -> Response:
        """Take it back."""
        values = self.values(request, UndoSerializer)
        leg_undo(actor=actor_of(request), teacher=self.teacher(request), date=date_of(date), **values)
        return self.answer(request, date)
