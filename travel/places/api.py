"""The API of the travel floor: buildings and spaces."""

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import RecordSerializer, ShowsEnds, actor_of
from travel.places import services
from travel.places.geocoding import Candidate
from travel.places.models import Building, Space


class BuildingSerializer(RecordSerializer[Building]):
    """A building; coordinates in degrees (WGS84), minutes to arrive and to leave."""

    place_is_right = serializers.BooleanField(
        write_only=True,
        default=False,
        help_text="Save coordinates far from all others, which are asked about else.",
    )

    class Meta:
        model = Building
        fields = (
            "id",
            "code",
            "name",
            "level",
            "address",
            "latitude",
            "longitude",
            "time_zone",
            "arrive_minutes",
            "leave_minutes",
            "office_phone",
            "office_contact",
            "parking",
            "door",
            "place_is_right",
            "last_day",
        )


class CandidateSerializer(DataclassSerializer[Candidate]):
    """A place that an address may mean."""

    class Meta:
        dataclass = Candidate


class BuildingViewSet(ShowsEnds[Building]):
    """Buildings of the district; a school office sees its own."""

    serializer_class = BuildingSerializer
    read_permission = "week.view"
    write_permission = "district.change"
    save_service = services.building_save
    delete_service = services.building_delete

    @extend_schema(request=None, responses=CandidateSerializer(many=True))
    @action(detail=True, methods=["post"], pagination_class=None)
    def geocode(self, request: Request, pk: int) -> Response:
        """The places that the building's address may mean; nothing is saved."""
        found = services.building_geocode(actor=actor_of(request), row=self.get_object())
        return Response(CandidateSerializer(found, many=True).data)


class SpaceSerializer(RecordSerializer[Space]):
    """A space of a building."""

    class Meta:
        model = Space
        fields = ("id", "building", "name", "kind", "classes_that_fit", "first_day", "last_day")


class SpaceViewSet(ShowsEnds[Space]):
    """Spaces of the buildings that the person may see."""

    serializer_class = SpaceSerializer
    filters = {"building": "building_id"}
    read_permission = "week.view"
    write_permission = "district.change"
    save_service = services.space_save
    delete_service = services.space_delete
