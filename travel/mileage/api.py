"""The API of mileage rules and rates, and of where a teacher's days begin."""

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import RecordSerializer, RecordViewSet, actor_of
from travel.mileage import services
from travel.mileage.models import MileageRate, MileageSettings, TeacherHome


class MileageSettingsSerializer(RecordSerializer[MileageSettings]):
    """Which miles the district pays."""

    class Meta:
        model = MileageSettings
        fields = ("id", "home_legs", "distance", "rounding")


class MileageSettingsViewSet(RecordViewSet[MileageSettings]):
    """One row a district; none where the usual rules count."""

    serializer_class = MileageSettingsSerializer
    read_permission, write_permission = "week.change", "mileage.rules"
    save_service = services.mileage_settings_save


class MileageRateSerializer(RecordSerializer[MileageRate]):
    """Dollars a mile from a day on, until the next rate begins."""

    class Meta:
        model = MileageRate
        fields = ("id", "first_day", "dollars", "source")


class MileageRateViewSet(RecordViewSet[MileageRate]):
    """The district's own rates; none where the published ones count. The first one entered joins those."""

    serializer_class = MileageRateSerializer
    read_permission, write_permission = "week.change", "mileage.rules"
    save_service = services.mileage_rate_save
    delete_service = services.mileage_rate_delete

    @extend_schema(request=None, responses={201: MileageRateSerializer(many=True)})
    @action(detail=False, methods=["post"], pagination_class=None)
    def copy(self, request: Request) -> Response:
        """Take the published rates over as the district's own."""
        rows = services.mileage_rates_copy(actor=actor_of(request))
        return Response(self.get_serializer(rows, many=True).data, status=201)


class TeacherHomeSerializer(RecordSerializer[TeacherHome]):
    """Coordinates in degrees (WGS84), or the miles of the normal commute one way, or both."""

    class Meta:
        model = TeacherHome
        fields = ("id", "teacher", "latitude", "longitude", "regular_place", "commute_miles")
        extra_kwargs = {"teacher": {"required": False}}


class TeacherHomeViewSet(RecordViewSet[TeacherHome]):
    """Seen by the teacher and the coordinator only."""

    serializer_class = TeacherHomeSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = "week.change"
    save_service = services.teacher_home_save
    delete_service = services.teacher_home_delete
