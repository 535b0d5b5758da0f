"""The API of who needs attention first, and of how each service is likely to end."""

import datetime as dt
from dataclasses import dataclass

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import BodySerializer, actor_of
from accounts.api_fields import IdField
from schedule.attention.selectors.attention import Attention, attention
from schedule.attention.selectors.forecast import LineOutlook, line_outlooks, teacher_ledgers
from schedule.attention.selectors.rows import KIND_WORDS
from schedule.attention.selectors.shared import SharedCause, shared_causes
from schedule.attention.services import shared_cause_plan
from schedule.weeks.api.runs import RunSerializer
from schedule.weeks.api.teacher_view import TEACHER, MinutesView
from schedule.weeks.selectors.runs import run_detail


@dataclass(frozen=True, slots=True)
class AttentionItem:
    """One thing that waits. `kind` in words; `minutes` are those that it is about."""

    kind: str
    words: str
    due: dt.date
    student_id: int | None
    student_code: str
    line_id: int | None
    entry_id: int | None
    minutes: int
    cause: str


@dataclass(frozen=True, slots=True)
class SharedCauseItem:
    """What several rows share, said once. `plannable`: one press plans their minutes as make-ups."""

    kind: str
    cause: str
    words: str
    due: dt.date
    rows: int
    services: int
    minutes: int
    line_ids: list[int]
    plannable: bool


@dataclass(frozen=True, slots=True)
class OutlookItem:
    """What a service needs by a date, what is planned, and how likely it ends short (0 to 1).

    `missed_rate` is the share of sessions to expect to be missed; in eight of ten cases the true one lies between
    `missed_rate_low` and `missed_rate_high`.
    """

    line_id: int
    student_id: int
    student_code: str
    name: str
    until: dt.date
    needed: int
    planned: int
    gap: int
    missed_rate: float
    missed_rate_low: float
    missed_rate_high: float
    ends_short: float
    reserve: int | None


class AttentionSerializer(DataclassSerializer[AttentionItem]):
    """A row of the attention page."""

    class Meta:
        dataclass = AttentionItem


class SharedCauseSerializer(DataclassSerializer[SharedCauseItem]):
    """A cause that several rows share."""

    class Meta:
        dataclass = SharedCauseItem


class CausePlanSerializer(BodySerializer):
    """A cause as the list of causes names it."""

    teacher = IdField(required=False)
    cause = serializers.CharField(max_length=400)


class OutlookSerializer(DataclassSerializer[OutlookItem]):
    """The outlook of a service."""

    class Meta:
        dataclass = OutlookItem


class AttentionApi(MinutesView):
    """Who needs attention first."""

    @extend_schema(parameters=[TEACHER], responses=AttentionSerializer(many=True), operation_id="attention")
    def get(self, request: Request) -> Response:
        """What waits with a teacher's students, the most urgent first."""
        found = attention(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        return Response(AttentionSerializer(_attention_items(found), many=True).data)


def _attention_items(found: Attention) -> list[AttentionItem]:
    return [
        AttentionItem(
            row.label,
            row.words,
            row.due,
            row.student.pk if row.student else None,
            row.student.code if row.student else "",
            row.line_id,
            row.entry_id,
            row.minutes,
            row.cause,
        )
        for row in found.rows
    ]


class SharedCausesApi(MinutesView):
    """What several rows that wait have in common."""

    @extend_schema(
        parameters=[TEACHER], responses=SharedCauseSerializer(many=True), operation_id="attention_causes"
    )
    def get(self, request: Request) -> Response:
        """Causes that three rows or more share, the most urgent kind first; the other rows stand alone."""
        found = attention(actor_of(request), self.teacher(request.query_params.get("teacher")), self.today)
        items = [_cause_item(one) for one in shared_causes(found)]
        return Response(SharedCauseSerializer(items, many=True).data)


def _cause_item(one: SharedCause) -> SharedCauseItem:
    return SharedCauseItem(
        KIND_WORDS[one.kind],
        one.cause,
        one.words,
        one.due,
        len(one.rows),
        one.services,
        one.minutes,
        list(one.lines),
        one.plannable,
    )


class SharedCausePlanApi(MinutesView):
    """Planning what several services share."""

    @extend_schema(request=CausePlanSerializer, responses={201: RunSerializer}, operation_id="attention_plan")
    def post(self, request: Request) -> Response:
        """Plan make-ups for the services that share a cause, in the background."""
        body = CausePlanSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        actor, values = actor_of(request), body.validated_data
        teacher = self.teacher(values.get("teacher"))
        run = shared_cause_plan(actor=actor, teacher=teacher, cause=values["cause"], today=self.today)
        return Response(RunSerializer(run_detail(actor, run)).data, status=201)


class ForecastApi(MinutesView):
    """How each service is likely to end."""

    @extend_schema(parameters=[TEACHER], responses=OutlookSerializer(many=True), operation_id="forecasts")
    def get(self, request: Request) -> Response:
        """Each service until the marking period's end and its own."""
        teacher = self.teacher(request.query_params.get("teacher"))
        loaded = teacher_ledgers(actor_of(request), teacher, self.today)
        items = [item for one in line_outlooks(loaded) for item in _outlook_items(one)]
        return Response(OutlookSerializer(items, many=True).data)


def _outlook_items(one: LineOutlook) -> list[OutlookItem]:
    return [
        OutlookItem(
            one.line.pk,
            one.student.pk,
            one.student.code,
            seen.name,
            seen.until,
            seen.forecast.needed,
            seen.forecast.planned,
            seen.forecast.gap,
            seen.forecast.rate,
            seen.forecast.rate_low,
            seen.forecast.rate_high,
            seen.forecast.ends_short,
            seen.forecast.reserve,
        )
        for seen in one.outlooks
    ]
