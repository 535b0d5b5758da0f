"""The API of the travel floor: buildings, spaces, a teacher's own drive times."""

from accounts.api import DeletableViewSet, RecordSerializer, id_filters
from travel import services
from travel.models import Building, OwnDriveTime, Space


class BuildingSerializer(RecordSerializer[Building]):
    """A building; coordinates in degrees (WGS84), minutes to arrive and to leave."""

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
        )


class BuildingViewSet(DeletableViewSet[Building]):
    """Buildings of the district; a school office sees its own."""

    model = Building
    serializer_class = BuildingSerializer
    read_permission = "week.view"
    write_permission = "district.change"
    save_service = services.building_save
    delete_service = services.building_delete


class SpaceSerializer(RecordSerializer[Space]):
    """A space of a building."""

    class Meta:
        model = Space
        fields = ("id", "building", "name", "kind", "classes_that_fit")


class SpaceViewSet(DeletableViewSet[Space]):
    """Spaces of the buildings that the person may see."""

    model = Space
    serializer_class = SpaceSerializer
    filterset_class = id_filters("SpaceFilters", building="building_id")
    read_permission = "week.view"
    write_permission = "district.change"
    save_service = services.space_save
    delete_service = services.space_delete


class OwnDriveTimeSerializer(RecordSerializer[OwnDriveTime]):
    """Minutes at the wheel between two buildings; `teacher` is the person who asks where none is given."""

    class Meta:
        model = OwnDriveTime
        fields = ("id", "teacher", "origin", "destination", "minutes", "miles", "both_ways")
        extra_kwargs = {"teacher": {"required": False}}


class OwnDriveTimeViewSet(DeletableViewSet[OwnDriveTime]):
    """A teacher's own minutes between buildings; a coordinator sees everybody's."""

    model = OwnDriveTime
    serializer_class = OwnDriveTimeSerializer
    filterset_class = id_filters("OwnDriveTimeFilters", teacher="teacher_id")
    read_permission = write_permission = "week.change"
    save_service = services.own_drive_time_save
    delete_service = services.own_drive_time_delete
