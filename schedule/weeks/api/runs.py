"""The API of planning runs: start one, watch it, stop it."""

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
from accounts.models import Person, held_ever
from schedule.weeks.aims import AIM_WORDS, Aim
from schedule.weeks.data import RunView
from schedule.weeks.models import PlanRun
from schedule.weeks.selectors.runs import run_detail
from schedule.weeks.services.runs import LONGEST_RUN, plan_run_start, plan_run_stop

CHANGE = "week.change"


class PlanRunSerializer(RecordSerializer[PlanRun]):
    """What was asked of the planner, and where that stands."""

    state = serializers.CharField(source="job.state", read_only=True)

    class Meta:
        model = PlanRun
        fields = (
            "id",
            "teacher",
            "first_date",
            "first_time",
            "last_date",
            "seed",
            "time_limit",
            "keep_pins",
            "aim",
            "requested_at",
            "state",
        )
        read_only_fields = fields


class RunSerializer(DataclassSerializer[RunView]):
    """How far a run is, the best that it has so far, and the drafts that it made."""

    class Meta:
        dataclass = RunView


class StartSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which weeks to plan; `teacher` is the person who asks where none is given.

    Of a week in force that is under way the rest is planned, from now or from the first date (`first_time`).
    """

    teacher = VisibleRelatedField(queryset=Person.objects.filter(held_ever(Person.Role.TEACHER)), required=False)
    first_date = DateField()
    last_date = DateField()
    seed = serializers.IntegerField(default=1, min_value=0, max_value=2**31 - 1)
    time_limit = serializers.IntegerField(
        default=20,
        min_value=1,
        max_value=LONGEST_RUN,
        help_text="Seconds of work a week; on a busy machine the clock leaves it up to three times as many.",
    )
    keep_pins = serializers.BooleanField(default=True)
    aim = serializers.ChoiceField(
        choices=list(AIM_WORDS.items()),
        default=Aim.USUAL_TIMES,
        help_text="What comes first once owed minutes are placed and the contract's wishes are met.",
    )


class PlanRunViewSet(ReadViewSet[PlanRun]):
    """Runs of the planner. One runs at a time for a teacher: asking for the same dates again gives that one."""

    serializer_class = PlanRunSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = CHANGE
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[PlanRun]:
        """With the job's row."""
        return super().get_queryset().select_related("job", "teacher", "district")

    @extend_schema(responses=RunSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so while it runs."""
        return self._view(self.get_object())

    @extend_schema(request=StartSerializer, responses={201: RunSerializer})
    def create(self, request: Request) -> Response:
        """Start the planner in the background."""
        body = StartSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        values = {"teacher": actor, **body.validated_data}
        run = plan_run_start(actor=actor, **{**values, "aim": Aim(values["aim"])})
        return self._view(run, status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=RunSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """End with the best so far."""
        return self._view(plan_run_stop(actor=actor_of(request), run=self.get_object()))

    def _view(self, run: PlanRun, code: int = status.HTTP_200_OK) -> Response:
        return Response(RunSerializer(run_detail(actor_of(self.request), run)).data, status=code)
