"""The API of the addresses that the district's school calendar is read from."""

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import RecordSerializer, RecordViewSet, RefusesUnknownFields, actor_of
from accounts.api_fields import DateField
from schedule.calendar.models import CalendarSource, WordRule
from schedule.calendar.selectors.sources import questions_of
from schedule.imports.api.tables import EventSerializer, ImportSerializer
from schedule.imports.services import calendar_sources as services


class WaitingSerializer(serializers.Serializer[Any]):
    """What waits since the last decision: counts of days and events, `plain` those that need no look."""

    new = serializers.IntegerField(required=False)
    changed = serializers.IntegerField(required=False)
    gone = serializers.IntegerField(required=False)
    ends = serializers.IntegerField(required=False)
    unrecognised = serializers.IntegerField(required=False)
    plain = serializers.IntegerField(required=False)
    doubtful = serializers.IntegerField(required=False)


class CalendarSourceSerializer(RecordSerializer[CalendarSource]):
    """An address of a published calendar; `waiting` is empty if nothing waits, `problem` after a good reading."""

    # Not the field's own check: webcal is kept as https, and the service says what is wrong.
    address = serializers.CharField(max_length=500)
    waiting = serializers.SerializerMethodField()
    left_out = serializers.ListField(child=serializers.CharField(), read_only=True)
    label_notes = serializers.ListField(child=serializers.CharField(), read_only=True)
    questions = serializers.SerializerMethodField()

    class Meta:
        model = CalendarSource
        fields = (
            "id", "title", "address", "building", "applies_alone", "keeper", "added_at", "read_at", "problem",
            "waiting", "left_out", "label_notes", "questions",
        )  # fmt: skip
        read_only_fields = ("id", "keeper", "added_at", "read_at", "problem", "waiting", "left_out", "questions")

    @extend_schema_field(WaitingSerializer)
    def get_waiting(self, row: CalendarSource) -> Any:
        """Counts, without the days themselves."""
        return {name: count for name, count in row.waiting.items() if name not in {"soon", "questions"}}

    @extend_schema_field(EventSerializer(many=True))
    def get_questions(self, row: CalendarSource) -> Any:
        """The first events whose titles leave open what they are; `answer` takes a title and its kind."""
        return EventSerializer(questions_of(row), many=True).data


class AnswerSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """What the events of one title stand for."""

    title = serializers.CharField(max_length=120)
    kind = serializers.ChoiceField(choices=WordRule.Kind.choices)
    until = DateField(required=False, help_text="The last day of a break, where `asks_end` asks for it.")


class LookSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Whether the preview holds the whole calendar, or what waits."""

    everything = serializers.BooleanField(default=False)


class CalendarSourceViewSet(RecordViewSet[CalendarSource]):
    """Addresses of the school calendar: read every hour, what they bring saved by a decision."""

    serializer_class = CalendarSourceSerializer
    read_permission = write_permission = services.PERMISSION
    save_service = services.source_save
    delete_service = services.source_delete

    @extend_schema(request=None, responses=CalendarSourceSerializer)
    @action(detail=True, methods=["post"])
    def read(self, request: Request, pk: int) -> Response:
        """Have the address read again in the background."""
        row = self.get_object()
        services.source_again(actor=actor_of(request), row=row)
        return Response(self.get_serializer(row).data)

    @extend_schema(request=LookSerializer, responses={201: ImportSerializer})
    @action(detail=True, methods=["post"])
    def preview(self, request: Request, pk: int) -> Response:
        """A preview of what waits, to be committed as an import."""
        body = LookSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        batch = services.source_preview(actor=actor_of(request), row=self.get_object(), **body.validated_data)
        return Response(self._import(batch), status=status.HTTP_201_CREATED)

    @extend_schema(request=AnswerSerializer, responses=ImportSerializer)
    @action(detail=True, methods=["post"])
    def answer(self, request: Request, pk: int) -> Response:
        """Say what the events of a title in doubt are: saved, and kept among the district's words."""
        row = self.get_object()
        body = AnswerSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        batch = services.source_answer(actor=actor_of(request), row=row, **body.validated_data)
        return Response(self._import(batch))

    @extend_schema(request=None, responses=ImportSerializer)
    @action(detail=True, methods=["post"])
    def apply(self, request: Request, pk: int) -> Response:
        """Save the waiting days that are clear-cut, as recognized."""
        return Response(self._import(services.source_apply(actor=actor_of(request), row=self.get_object())))

    def _import(self, batch: Any) -> Any:
        return ImportSerializer(batch, context=self.get_serializer_context()).data
