"""The API of who needs attention first, and of how each service is likely to end."""

import datetime as dt
from dataclasses import dataclass

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import actor_of
from schedule.attention.selectors.attention import Attention, attention
from schedule.attention.selectors.forecast import LineOutlook, line_outlooks, teacher_ledgers
from schedule.weeks.api.teacher_view import TEACHER, MinutesView


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


@dataclass(frozen=True, slots=True)
class OutlookItem:
    """What a service needs by a date, what is planned, and how likely it ends short (0 to 1)."""

    line_id: int
    student_id: int
    student_code: str
    name: str
    until: dt.date
    needed: int
    planned: int
    gap: int
    missed_rate: float
    ends_short: float
    reserve: int | None


class AttentionSerializer(DataclassSerializer[AttentionItem]):
    """A row of the attention page."""

    class Meta:
        dataclass = AttentionItem


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
        )
        for row in found.rows
    ]


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
            seen.forecast.ends_short,
            seen.forecast.reserve,
        )
        for seen in one.outlooks
    ]
