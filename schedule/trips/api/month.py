"""The API of a month's trips."""

import datetime as dt

from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import ViewSet

from accounts.api import BodySerializer, RecordSerializer, RolePermission, actor_of
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.selectors import today_of
from schedule.trips import services
from schedule.trips.api.shared import CHANGE, ExactSerializer, TeacherQuery, asked_teacher, checked
from schedule.trips.api.vouchers import (
    SumsSerializer,
    VoucherDetailSerializer,
    VoucherQuestionSerializer,
    VoucherRowSerializer,
)
from schedule.trips.data import MonthView, Repricing, TripDay, TripView
from schedule.trips.selectors.month import month_in, month_of, month_view, trip_find
from schedule.trips.selectors.vouchers import voucher_view
from travel.mileage.models import Trip

MONTH = OpenApiParameter("month", str, OpenApiParameter.PATH, description="Such as 2026-09.")
KEY = OpenApiParameter("key", str, OpenApiParameter.PATH, description="The trip's key in its month.")
TEACHER = OpenApiParameter("teacher", int, description="Id; the person who asks where it isn't given.")


class TripSerializer(ExactSerializer[TripView]):
    """A trip as it is planned or decided, and what it claims."""

    class Meta:
        dataclass = TripView


class TripDaySerializer(ExactSerializer[TripDay]):
    """A date, its trips, and the buildings that were planned and not driven to."""

    trips = TripSerializer(many=True)

    class Meta:
        dataclass = TripDay


class RepricingSerializer(ExactSerializer[Repricing]):
    """What pricing a submitted month again would change."""

    class Meta:
        dataclass = Repricing


class MonthSerializer(ExactSerializer[MonthView]):
    """A teacher's month."""

    days = TripDaySerializer(many=True)
    confirmed = SumsSerializer()
    repricing = RepricingSerializer(allow_null=True)
    vouchers = VoucherRowSerializer(many=True)
    returned = VoucherDetailSerializer(allow_null=True)
    questions = VoucherQuestionSerializer(many=True)

    class Meta:
        dataclass = MonthView


class KeysSerializer(BodySerializer):
    """Trips by their keys."""

    keys = serializers.ListField(child=serializers.CharField(max_length=60), min_length=1, max_length=400)


class TripCorrectionSerializer(RecordSerializer[Trip]):
    """What was different from the plan."""

    class Meta:
        model = Trip
        fields: tuple[str, ...] = (
            "direct_miles",
            "driven_miles",
            "odometer_before",
            "odometer_after",
            "parking",
            "tolls",
            "purpose",
            "note",
        )


class TripAddSerializer(TripCorrectionSerializer):
    """A trip that no week called for; an end without a building is home."""

    class Meta(TripCorrectionSerializer.Meta):
        fields = ("date", "origin", "destination", "round_trip", *TripCorrectionSerializer.Meta.fields)


class VoucherAnswerSerializer(BodySerializer):
    """An answer to a question of the month."""

    key = serializers.CharField(max_length=300)
    answer = serializers.CharField(max_length=300)


class SubmitSerializer(BodySerializer):
    """A few words to each of the month's questions."""

    answers = VoucherAnswerSerializer(many=True, required=False)


class SupplementSerializer(BodySerializer):
    """How a supplement prices."""

    reprice = serializers.BooleanField(
        default=False,
        help_text="Price every trip of the month again, by the rules and rates of its day as they are now.",
    )


class _Mileage(ViewSet):
    """The teacher's own; a coordinator reads."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = CHANGE

    def driver(self, request: Request) -> Person:
        """The teacher who acts; raises `ApplicationError` (403) for everyone else."""
        person = actor_of(request)
        if not person.has_perm(services.OWN):
            raise ApplicationError(services.ONLY_THE_TEACHER, code="only_the_teacher", status=403)
        return person

    def month(self, request: Request, month: dt.date, status: int = 200) -> Response:
        """The month as it is now."""
        person = actor_of(request)
        return Response(MonthSerializer(month_view(person, person, month)).data, status=status)


class MileageMonthViewSet(_Mileage):
    """A teacher's month of trips: read it, confirm, submit, begin a supplement."""

    lookup_field = "month"
    lookup_value_converter = "slug"

    @extend_schema(operation_id="mileage_months_retrieve", parameters=[MONTH, TEACHER], responses=MonthSerializer)
    def retrieve(self, request: Request, month: str) -> Response:
        """The month's trips, what they claim, and its vouchers."""
        teacher = asked_teacher(request, checked(TeacherQuery, request, request.query_params.dict()).get("teacher"))
        return Response(MonthSerializer(month_view(actor_of(request), teacher, month_of(month))).data)

    @extend_schema(parameters=[MONTH], request=KeysSerializer, responses=MonthSerializer)
    @action(detail=True, methods=["post"])
    def confirm(self, request: Request, month: str) -> Response:
        """Trips were driven as they are shown."""
        person, date = self.driver(request), month_of(month)
        keys = checked(KeysSerializer, request, request.data)["keys"]
        services.trip_confirm(actor=person, teacher=person, keys=keys, today=today_of(person))
        return self.month(request, date)

    @extend_schema(parameters=[MONTH], request=SubmitSerializer, responses={201: VoucherDetailSerializer})
    @action(detail=True, methods=["post"])
    def submit(self, request: Request, month: str) -> Response:
        """Submit the voucher, or the supplement that is open, with an answer to each of the month's questions."""
        person = self.driver(request)
        told = checked(SubmitSerializer, request, request.data).get("answers", ())
        row = services.voucher_submit(
            actor=person,
            teacher=person,
            month=month_of(month),
            today=today_of(person),
            now=timezone.now(),
            answers={one["key"]: one["answer"] for one in told},
        )
        return Response(VoucherDetailSerializer(voucher_view(row, person)).data, status=201)

    @extend_schema(parameters=[MONTH], request=SupplementSerializer, responses={201: MonthSerializer})
    @action(detail=True, methods=["post"])
    def supplement(self, request: Request, month: str) -> Response:
        """Make a submitted month correctable."""
        person, date = self.driver(request), month_of(month)
        asked = checked(SupplementSerializer, request, request.data)
        services.supplement_start(actor=person, teacher=person, month=date, reprice=asked["reprice"])
        return self.month(request, date, status=201)

    @extend_schema(parameters=[MONTH], request=None, responses=MonthSerializer)
    @supplement.mapping.delete
    def supplement_drop(self, request: Request, month: str) -> Response:
        """Close a supplement that isn't needed; refused once trips were corrected for it."""
        person, date = self.driver(request), month_of(month)
        services.supplement_drop(actor=person, teacher=person, month=date)
        return self.month(request, date)


class TripViewSet(_Mileage):
    """Trips by their keys: add, correct, take out, take back."""

    lookup_field = "key"
    lookup_value_converter = "slug"
    http_method_names = ["post", "patch", "delete", "options"]

    @extend_schema(request=TripAddSerializer, responses={201: MonthSerializer})
    def create(self, request: Request) -> Response:
        """Add a trip that no week called for."""
        person = self.driver(request)
        values = checked(TripAddSerializer, request, request.data)
        row = services.trip_add(actor=person, teacher=person, values=values, today=today_of(person))
        return self.month(request, row.date, status=201)

    @extend_schema(parameters=[KEY], request=TripCorrectionSerializer, responses=MonthSerializer)
    def partial_update(self, request: Request, key: str) -> Response:
        """The trip was driven, but differently."""
        person = self.driver(request)
        trip_find(person, key)
        asked = TripCorrectionSerializer(data=request.data, partial=True, context={"request": request})
        asked.is_valid(raise_exception=True)
        row = services.trip_correct(
            actor=person, teacher=person, key=key, values=asked.validated_data, today=today_of(person)
        )
        return self.month(request, row.date)

    @extend_schema(parameters=[KEY], responses={204: None})
    def destroy(self, request: Request, key: str) -> Response:
        """The trip wasn't driven."""
        person = self.driver(request)
        services.trip_drop(actor=person, teacher=person, key=key, today=today_of(person))
        return Response(status=204)

    @extend_schema(parameters=[KEY], request=None, responses=MonthSerializer)
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, key: str) -> Response:
        """Take back what was said of a trip."""
        person = self.driver(request)
        services.trip_reopen(actor=person, teacher=person, key=key)
        return self.month(request, month_in(key))
