"""The API of steps that are done in the background: watch one, stop it."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, actor_of
from accounts.models import Person
from schedule.long_steps.models import LongStep
from schedule.long_steps.selectors import LongStepView, step_view
from schedule.long_steps.services import step_stop


class LongStepSerializer(RecordSerializer[LongStep]):
    """What was asked for, and where that stands."""

    state = serializers.CharField(source="job.state", read_only=True)

    class Meta:
        model = LongStep
        fields = ("id", "kind", "number", "title", "parts", "asked_at", "state")
        read_only_fields = fields


class LongStepViewSerializer(DataclassSerializer[LongStepView]):
    """How far a step is. `state`: waits, at_work, done, refused, stopped, broke_off; only done changed anything."""

    class Meta:
        dataclass = LongStepView


def step_accepted(viewer: Person, row: LongStep) -> Response:
    """The answer to whoever asked for a step: 202 with how far it is, to be asked again under `steps/`."""
    return Response(LongStepViewSerializer(step_view(viewer, row)).data, status=status.HTTP_202_ACCEPTED)


class LongStepViewSet(ReadViewSet[LongStep]):
    """Steps that write the records of many students, for coordinators."""

    serializer_class = LongStepSerializer
    read_permission = write_permission = "long_steps.watch"
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[LongStep]:
        """With the job's row."""
        return super().get_queryset().select_related("job", "district", "asked_by")

    @extend_schema(responses=LongStepViewSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so until `is_over`."""
        return self._view(self.get_object())

    @extend_schema(request=None, responses=LongStepViewSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """Stop it: nothing of it is done."""
        return self._view(step_stop(actor=actor_of(request), row=self.get_object()))

    def _view(self, row: LongStep) -> Response:
        return Response(LongStepViewSerializer(step_view(actor_of(self.request), row)).data)
