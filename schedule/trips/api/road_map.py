"""The API of the map, and of what it costs to move a building."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RolePermission, actor_of
from accounts.api_fields import DateField, IdField
from accounts.errors import ApplicationError
from schedule.trips.api.shared import ExactSerializer, TeacherQuery, asked_teacher, checked
from schedule.trips.selectors.road_map import map_week, road_map_view, week_move_cost
from schedule.weeks.selectors.drive_lines import DriveLine
from travel.drives.move_cost import MoveCost, WeekDriving


class DriveLineSerializer(ExactSerializer[DriveLine]):
    """All drives of one direction of a pair."""

    class Meta:
        dataclass = DriveLine


class MapSerializer(serializers.Serializer[Any]):
    """The drives of a week or a day; the drawing is the page's."""

    teacher_id = serializers.IntegerField()
    monday = DateField()
    day = DateField(allow_null=True)
    week_id = serializers.IntegerField(allow_null=True)
    lines = DriveLineSerializer(many=True)
    trips = serializers.IntegerField()
    minutes = serializers.IntegerField()
    miles = serializers.DecimalField(max_digits=8, decimal_places=1)
    without_place = serializers.ListField(child=serializers.CharField())
    warnings = serializers.ListField(child=serializers.CharField())


class MapQuery(TeacherQuery):
    """Whose, which week by its Monday, and perhaps one date of it."""

    monday = DateField()
    day = DateField(required=False)


class MoveQuery(TeacherQuery):
    """Whose week, by its Monday; from where to where."""

    monday = DateField()
    origin = IdField()
    destination = IdField()


class WeekDrivingSerializer(ExactSerializer[WeekDriving]):
    """A week's sums; minutes, and miles."""

    class Meta:
        dataclass = WeekDriving


class MoveCostSerializer(ExactSerializer[MoveCost]):
    """A week's driving as planned, and with one building's work done at another; minutes and miles."""

    now = WeekDrivingSerializer()
    moved = WeekDrivingSerializer()
    between = WeekDrivingSerializer()

    class Meta:
        dataclass = MoveCost


class RoadMapApi(APIView):
    """What the map of a week shows, in figures."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.change"

    @extend_schema(operation_id="road_map_retrieve", parameters=[MapQuery], responses=MapSerializer)
    def get(self, request: Request) -> Response:
        """The drives."""
        asked = checked(MapQuery, request, request.query_params.dict())
        teacher = asked_teacher(request, asked.get("teacher"))
        return Response(
            MapSerializer(road_map_view(actor_of(request), teacher, asked["monday"], asked.get("day"))).data
        )


class MoveCostApi(APIView):
    """What it costs to move a building."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.change"

    @extend_schema(operation_id="move_cost_retrieve", parameters=[MoveQuery], responses=MoveCostSerializer)
    def get(self, request: Request) -> Response:
        """The week as planned, and moved."""
        asked = checked(MoveQuery, request, request.query_params.dict())
        person, teacher = actor_of(request), asked_teacher(request, asked.get("teacher"))
        week = map_week(person, teacher, asked["monday"])
        if week is None:
            raise ApplicationError("Nothing is planned for this week yet.", code="not_found", status=404)
        found = week_move_cost(person, week, asked["origin"], asked["destination"])
        return Response(MoveCostSerializer(found).data)
