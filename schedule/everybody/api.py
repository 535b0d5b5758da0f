"""The API of everybody's week: who could be planned, ask for it, watch it, stop it, take it back."""

import datetime as dt
from typing import Any

from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, VisibleRelatedField, actor_of
from accounts.api_fields import DateField
from accounts.models import Person
from schedule.everybody.models import EverybodyPlan
from schedule.everybody.selectors.sharing import TeacherStanding, teachers_standing
from schedule.everybody.selectors.shown import EverybodyView, everybody_view
from schedule.everybody.services import (
    MOST_SECONDS,
    everybody_start,
    everybody_stop,
    everybody_take_back,
)
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.planning.load import monday_of
from schedule.weeks.selectors.pages import district_today

MAY = "together.plan"


class EverybodyPlanSerializer(RecordSerializer[EverybodyPlan]):
    """What was asked, and whether it is over."""

    class Meta:
        model = EverybodyPlan
        fields = ("id", "monday", "aim", "time_limit", "asked_at", "stopped_at", "ended_at", "taken_back_at")
        read_only_fields = fields


class EverybodySerializer(DataclassSerializer[EverybodyView]):
    """How far a plan is, teacher by teacher."""

    class Meta:
        dataclass = EverybodyView


class TeacherStandingSerializer(DataclassSerializer[TeacherStanding]):
    """How a teacher's week stands."""

    class Meta:
        dataclass = TeacherStanding


class OfAWeekSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which week."""

    monday = DateField(required=False, help_text="Any date of the week; without one the next week.")


class PlanEverybodySerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which teachers, and a date of the week."""

    monday = DateField(help_text="Any date of the week.")

    teachers = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER), many=True)
    time_limit = serializers.IntegerField(
        default=20, min_value=1, max_value=MOST_SECONDS, help_text="Seconds of work a teacher."
    )
    aim = serializers.ChoiceField(choices=list(AIM_WORDS.items()), default=Aim.USUAL_TIMES)


class EverybodyPlanViewSet(ReadViewSet[EverybodyPlan]):
    """One week of many teachers, planned in the background, for coordinators."""

    serializer_class = EverybodyPlanSerializer
    read_permission = write_permission = MAY
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(responses=EverybodySerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so while it is planned."""
        return self._view(self.get_object())

    @extend_schema(
        parameters=[
            OpenApiParameter("monday", str, description="Any date of the week; without one the next week.")
        ],
        responses=TeacherStandingSerializer(many=True),
        filters=False,
    )
    @action(detail=False, methods=["get"], pagination_class=None)
    def standing(self, request: Request) -> Response:
        """Who could be planned in a week, and how each week stands."""
        asked = OfAWeekSerializer(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        viewer = actor_of(request)
        date = asked.validated_data.get("monday") or district_today(viewer) + dt.timedelta(days=7)
        rows = teachers_standing(viewer, monday_of(date))
        return Response(TeacherStandingSerializer(rows, many=True).data)

    @extend_schema(request=PlanEverybodySerializer, responses={201: EverybodySerializer})
    def create(self, request: Request) -> Response:
        """Plan a week of many teachers in the background."""
        body = PlanEverybodySerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        values = {**body.validated_data, "aim": Aim(body.validated_data["aim"])}
        return self._view(everybody_start(actor=actor_of(request), **values), status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=EverybodySerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """End with what there is so far."""
        return self._view(everybody_stop(actor=actor_of(request), plan=self.get_object()))

    @extend_schema(request=None, responses=EverybodySerializer)
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Set every draft that it made aside; what is in force stays."""
        plan = self.get_object()
        everybody_take_back(actor=actor_of(request), plan=plan)
        plan.refresh_from_db()
        return self._view(plan)

    def _view(self, plan: EverybodyPlan, code: int = status.HTTP_200_OK) -> Response:
        return Response(EverybodySerializer(everybody_view(actor_of(self.request), plan)).data, status=code)
