"""The API of plans of several teachers: ask for one, watch it, stop it, publish all of its drafts."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, VisibleRelatedField, actor_of
from accounts.api_fields import DateField
from accounts.models import Person
from schedule.together.models import TogetherPlan
from schedule.together.selectors import TogetherView, together_view
from schedule.together.services import MOST_SECONDS, together_plan_start, together_plan_stop, together_publish
from schedule.weeks.aims import AIM_WORDS, Aim

MAY = "together.plan"


class TogetherPlanSerializer(RecordSerializer[TogetherPlan]):
    """What was asked, and where that stands."""

    state = serializers.CharField(source="job.state", read_only=True)

    class Meta:
        model = TogetherPlan
        fields = ("id", "monday", "teachers", "aim", "time_limit", "asked_at", "state")
        read_only_fields = fields


class TogetherSerializer(DataclassSerializer[TogetherView]):
    """How far a plan is, and what it has found."""

    class Meta:
        dataclass = TogetherView


class PlanTogetherSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which teachers, and a date of the week."""

    teachers = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER), many=True)
    monday = DateField(help_text="Any date of the week.")
    time_limit = serializers.IntegerField(
        default=10, min_value=1, max_value=MOST_SECONDS, help_text="Seconds of work each time a week is planned."
    )
    aim = serializers.ChoiceField(choices=list(AIM_WORDS.items()), default=Aim.USUAL_TIMES)


class TogetherPlanViewSet(ReadViewSet[TogetherPlan]):
    """Weeks of several teachers planned together, for coordinators."""

    serializer_class = TogetherPlanSerializer
    read_permission = write_permission = MAY
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[TogetherPlan]:
        """With the job's row."""
        return super().get_queryset().select_related("job", "district").prefetch_related("teachers")

    @extend_schema(responses=TogetherSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so while it is planned."""
        return self._view(self.get_object())

    @extend_schema(request=PlanTogetherSerializer, responses={201: TogetherSerializer})
    def create(self, request: Request) -> Response:
        """Plan several teachers' weeks together in the background."""
        body = PlanTogetherSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        values = {**body.validated_data, "aim": Aim(body.validated_data["aim"])}
        row = together_plan_start(actor=actor_of(request), **values)
        return self._view(row, status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=TogetherSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """End with the best so far."""
        return self._view(together_plan_stop(actor=actor_of(request), row=self.get_object()))

    @extend_schema(request=None, responses=TogetherSerializer)
    @action(detail=True, methods=["post"])
    def publish(self, request: Request, pk: int) -> Response:
        """Put all of its drafts in force, or none."""
        row = self.get_object()
        together_publish(actor=actor_of(request), row=row)
        return self._view(row)

    def _view(self, row: TogetherPlan, code: int = status.HTTP_200_OK) -> Response:
        return Response(TogetherSerializer(together_view(actor_of(self.request), row)).data, status=code)
