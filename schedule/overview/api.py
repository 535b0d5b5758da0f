"""The API of how a district stands. Files are made on the page, where each is written down."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.generics import ListAPIView
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import BodySerializer, RolePermission, StablePages, actor_of
from accounts.api_fields import IdField
from accounts.errors import ApplicationError
from accounts.fields import id_read
from accounts.services import NOT_THERE
from caseload.plans.models import ServiceLine
from schedule.overview.models import CountedCause
from schedule.overview.selectors.now import changes_since, month_standing, unserved_students
from schedule.overview.selectors.shown import overview
from schedule.overview.selectors.waiting import waiting_of
from schedule.overview.services import PERMISSION, counts_ask
from schedule.overview.sums import By, ChangeLine, MonthStanding, Overview, OverviewAsked
from schedule.weeks.api.teacher_view import MinutesView

WEEK = dt.timedelta(days=7)


class OverviewAskedSerializer(BodySerializer):
    """Of which part of the district."""

    by = serializers.ChoiceField([(one.value, one.value) for one in By], default=By.TEACHER.value)
    teacher = IdField(required=False, allow_null=True, default=None)
    building = IdField(required=False, allow_null=True, default=None)
    service = serializers.ChoiceField(ServiceLine.Type.choices, required=False, default="")


@dataclass(frozen=True, slots=True)
class DistrictStanding:
    """How a district stands: what was counted, and what is asked for now. `changes` are of the last seven days."""

    counted: Overview
    month: MonthStanding
    students_without_service: int
    changes: tuple[ChangeLine, ...]


class DistrictStandingSerializer(DataclassSerializer[DistrictStanding]):
    """Sums of ledgers as they were counted last."""

    class Meta:
        dataclass = DistrictStanding


class CountsAskedSerializer(serializers.Serializer[dict[str, int]]):
    """How many teachers are being counted."""

    asked = serializers.IntegerField()


class DistrictWaitSerializer(serializers.ModelSerializer[CountedCause]):
    """What waits with one teacher for one cause; `words` name no student."""

    teacher = IdField(source="count.teacher_id")

    class Meta:
        model = CountedCause
        fields = ("id", "kind", "teacher", "cause", "words", "things", "services", "minutes", "due")


class OverviewApi(MinutesView):
    """How the district stands, for coordinators."""

    read_permission = write_permission = PERMISSION

    @extend_schema(
        parameters=[OverviewAskedSerializer], responses=DistrictStandingSerializer, operation_id="district_standing"
    )
    def get(self, request: Request) -> Response:
        """Minutes by teacher, school or service, loads, weeks, and what waits, as they were counted last."""
        asked = OverviewAskedSerializer(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        viewer, values = actor_of(request), asked.validated_data
        found = DistrictStanding(
            overview(
                viewer, OverviewAsked(By(values["by"]), values["teacher"], values["building"], values["service"])
            ),
            month_standing(viewer, self.today),
            unserved_students(viewer, self.today).count,
            changes_since(viewer, timezone.now() - WEEK),
        )
        return Response(DistrictStandingSerializer(found).data)

    @extend_schema(request=None, responses={202: CountsAskedSerializer}, operation_id="district_count")
    def post(self, request: Request) -> Response:
        """Have every teacher counted now, in the background."""
        return Response({"asked": counts_ask(actor=actor_of(request))}, status=202)


def _number(name: str, words: str) -> OpenApiParameter:
    return OpenApiParameter(name, OpenApiTypes.INT, description=words)


class OverviewWaitsApi(ListAPIView[CountedCause]):
    """What waits of one kind."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = PERMISSION
    serializer_class = DistrictWaitSerializer
    pagination_class = StablePages
    queryset = CountedCause.objects.none()

    @extend_schema(
        parameters=[
            _number("row", "Those with the cause of this row alone."),
            _number("teacher", "One teacher's alone."),
        ],
        operation_id="district_waits",
    )
    def get(self, request: Request, *args: object, **kwargs: object) -> Response:
        """Sentence by sentence, as each teacher's attention page says them."""
        return self.list(request, *args, **kwargs)

    def get_queryset(self) -> QuerySet[CountedCause]:
        """Narrowed to what is asked."""
        asked = {name: self._asked(name) for name in ("row", "teacher")}
        return waiting_of(actor_of(self.request), int(self.kwargs["kind"]), **asked).rows

    def _asked(self, name: str) -> int | None:
        text = self.request.query_params.get(name, "")
        number = id_read(text)
        if text and number is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return number
