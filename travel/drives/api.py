"""The API of drives: what was driven, rush factors, a district's choices, and the table of drive times."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import MomentField
from accounts.models import Person
from travel.drives import services
from travel.drives.learning import differing_words
from travel.drives.models import DriveFactor, DriveLog, OwnDriveTime
from travel.drives.selectors import Clock, DriveTable, drive_table
from travel.places.models import Building
from travel.roads.base import LEG_SOURCE_WORDS
from travel.roads.models import TravelChoices

MOST_BUILDINGS = 30
"""Of one table: 870 drives. A teacher's round is shorter (common practice, no source)."""


class DriveLogSerializer(RecordSerializer[DriveLog]):
    """A drive by its times (UTC), its odometer, or both; `minutes` follow from the times, the date too."""

    minutes = serializers.FloatField(read_only=True, allow_null=True)

    class Meta:
        model = DriveLog
        fields = (
            "id",
            "teacher",
            "origin",
            "destination",
            "date",
            "started_at",
            "arrived_at",
            "minutes",
            "odometer_before",
            "odometer_after",
            "note",
        )
        extra_kwargs = {"teacher": {"required": False}, "date": {"required": False}}


class DriveStartSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A tap on leaving: the same tap sent twice is one drive."""

    origin = VisibleRelatedField(queryset=Building.objects.all())
    destination = VisibleRelatedField(queryset=Building.objects.all())
    at = MomentField()
    odometer = serializers.DecimalField(max_digits=8, decimal_places=1, required=False, min_value=Decimal(0))


class DriveArriveSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A tap on arriving."""

    at = MomentField()
    odometer = serializers.DecimalField(max_digits=8, decimal_places=1, required=False, min_value=Decimal(0))


class DriveLogViewSet(RecordViewSet[DriveLog]):
    """Drives that a teacher logged; a coordinator sees everybody's. Drive times are learned from them."""

    serializer_class = DriveLogSerializer
    filters = {"teacher": "teacher_id", "origin": "origin_id"}
    read_permission = write_permission = "week.change"
    save_service = services.drive_log_save
    delete_service = services.drive_log_delete

    @extend_schema(request=DriveStartSerializer, responses={201: DriveLogSerializer})
    @action(detail=False, methods=["post"], filterset_class=None)
    def start(self, request: Request) -> Response:
        """Leave a parking lot."""
        asked = DriveStartSerializer(data=request.data, context=self.get_serializer_context())
        asked.is_valid(raise_exception=True)
        row = services.drive_start(actor=actor_of(request), **asked.validated_data)
        return Response(self.get_serializer(row).data, status=201)

    @extend_schema(request=DriveArriveSerializer, responses=DriveLogSerializer)
    @action(detail=True, methods=["post"])
    def arrive(self, request: Request, pk: int) -> Response:
        """Park at the other end."""
        row = self.get_object()
        asked = DriveArriveSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        saved = services.drive_arrive(actor=actor_of(request), row=row, **asked.validated_data)
        return Response(self.get_serializer(saved).data)


class DriveFactorSerializer(RecordSerializer[DriveFactor]):
    """How much longer drives take that start in a window of the clock; both buildings, or neither for all."""

    class Meta:
        model = DriveFactor
        fields = ("id", "origin", "destination", "both_ways", "start", "end", "factor", "reason")


class DriveFactorViewSet(RecordViewSet[DriveFactor]):
    """Rush factors of the district."""

    serializer_class = DriveFactorSerializer
    read_permission, write_permission = "week.view", "district.change"
    save_service = services.drive_factor_save
    delete_service = services.drive_factor_delete


class TravelChoicesSerializer(RecordSerializer[TravelChoices]):
    """What the district chose; which roads are prepared is the operator's (`prepare_roads`), where map tiles come
    from the coordinator's."""

    class Meta:
        model = TravelChoices
        fields = (
            "id",
            "roads_name",
            "use_roads",
            "roads_between",
            "drive_percentile",
            "look_up_addresses",
            "tile_url",
            "tile_attribution",
        )
        read_only_fields = ("roads_name",)


class TravelChoicesViewSet(RecordViewSet[TravelChoices]):
    """One row a district, or none yet."""

    serializer_class = TravelChoicesSerializer
    read_permission, write_permission = "week.view", "district.change"
    save_service = services.travel_choices_save


@dataclass(frozen=True, slots=True)
class LegView:
    """A drive: minutes to plan with, where they come from, and minutes that half and nine of ten don't exceed.

    `differs`: what logged drives say otherwise than the teacher entered, in words."""

    origin: int
    destination: int
    minutes: int
    miles: Decimal | None
    source: str
    source_words: str
    usual_minutes: float
    minutes_90: float
    drives: int
    held_back: int
    differs: str


@dataclass(frozen=True, slots=True)
class DriveTableView:
    """All drives between some buildings, and sentences about those that are missing or that need a look."""

    legs: tuple[LegView, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]


class LegSerializer(DataclassSerializer[LegView]):
    """A drive."""

    class Meta:
        dataclass = LegView


class DriveTableSerializer(DataclassSerializer[DriveTableView]):
    """A table of drives."""

    legs = LegSerializer(many=True)

    class Meta:
        dataclass = DriveTableView


class DriveTableQuery(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which buildings, at most 30, and for which time of day (the worst of the day without one).

    Without any it is all of them, in a district that has no more than 30.
    """

    buildings = VisibleRelatedField(queryset=Building.objects.all(), many=True, required=False)
    at = serializers.TimeField(required=False)

    def to_internal_value(self, data: Any) -> Any:
        """A query says a list by saying a name more than once."""
        plain = {name: data[name] for name in data}
        if hasattr(data, "getlist") and "buildings" in data:
            plain["buildings"] = data.getlist("buildings")
        return super().to_internal_value(plain)

    def validate_buildings(self, named: list[Building]) -> list[Building]:
        """No more than a table holds."""
        if len(set(named)) > MOST_BUILDINGS:
            raise serializers.ValidationError(f"Name at most {MOST_BUILDINGS} buildings at once.", code="too_many")
        return named


class DriveTableApi(APIView):
    """Drive times between buildings, as the person who asks would be planned with."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.change"

    @extend_schema(
        operation_id="drive_times_retrieve", parameters=[DriveTableQuery], responses=DriveTableSerializer
    )
    def get(self, request: Request) -> Response:
        """The table."""
        asked = DriveTableQuery(data=request.query_params, context={"request": request})
        asked.is_valid(raise_exception=True)
        person = actor_of(request)
        buildings = asked.validated_data.get("buildings") or _all_buildings(person)
        at: dt.time | None = asked.validated_data.get("at")
        clock = Clock() if at is None else Clock(at=60 * at.hour + at.minute)
        return Response(DriveTableSerializer(_view(drive_table(person, buildings, clock=clock))).data)


def _all_buildings(person: Person) -> list[Building]:
    """All that the person sees. Raises `ValidationError` where they are too many: each drives to each other."""
    rows = list(Building.objects.visible_to(person)[: MOST_BUILDINGS + 1])
    if len(rows) > MOST_BUILDINGS:
        words = f"Name the buildings: there are more than {MOST_BUILDINGS}, and a table has a row for each two."
        raise serializers.ValidationError({"buildings": [words]}, code="too_many")
    return rows


def _view(table: DriveTable) -> DriveTableView:
    legs = tuple(
        LegView(
            origin=origin,
            destination=destination,
            minutes=leg.minutes,
            miles=leg.miles,
            source=leg.source.value,
            source_words=LEG_SOURCE_WORDS[leg.source],
            usual_minutes=round(found.middle, 1),
            minutes_90=round(found.percentile(90), 1),
            drives=found.drives,
            held_back=found.held_back,
            differs=differing_words(found, own=True),
        )
        for (origin, destination), leg in table.legs.items()
        if (found := table.predictions.get((origin, destination))) is not None
    )
    missing = tuple(dict.fromkeys(one.message for one in table.missing))
    return DriveTableView(legs, missing, table.warnings)


class OwnDriveTimeSerializer(RecordSerializer[OwnDriveTime]):
    """Minutes at the wheel between two buildings; `teacher` is the person who asks where none is given."""

    class Meta:
        model = OwnDriveTime
        fields = ("id", "teacher", "origin", "destination", "minutes", "miles", "both_ways")
        extra_kwargs = {"teacher": {"required": False}}


class OwnDriveTimeViewSet(RecordViewSet[OwnDriveTime]):
    """A teacher's own minutes between buildings; a coordinator sees everybody's."""

    serializer_class = OwnDriveTimeSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = "week.change"
    save_service = services.own_drive_time_save
    delete_service = services.own_drive_time_delete
