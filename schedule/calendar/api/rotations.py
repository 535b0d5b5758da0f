"""The API of rotations of days: each has first days."""

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import EndsSerializer, RecordSerializer, RolePermission, ShowsWhatIsOutside, actor_of
from accounts.guards import ends_foreseen
from schedule.calendar.models import DayRotation
from schedule.calendar.services import records
from travel.places.models import Building

VIEW, CHANGE = "week.view", "district.change"


class RotationSerializer(RecordSerializer[DayRotation]):
    """How a building names its days; with `grades`, how these do in it. No two of a building share a label."""

    class Meta:
        model = DayRotation
        fields = (
            "id",
            "building",
            "name",
            "grades",
            "first_day",
            "kind",
            "length",
            "labels",
            "practice",
            "anchor_date",
            "anchor_label",
        )


class RotationViewSet(ShowsWhatIsOutside[DayRotation]):
    """Rotations of days: a building's own, and those of some grades; without one there are plain weekdays.

    Another row of the same rotation, with its own `first_day`, changes it from that day on; what was before stays.
    """

    serializer_class = RotationSerializer
    filters = {"building": "building_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = records.rotation_save
    delete_service = records.rotation_delete

    @extend_schema(responses=EndsSerializer, operation_id="rotations_new_effects_create")
    @action(detail=False, methods=["post"], url_path="effects", url_name="new-effects")
    def new_effects(self, request: Request) -> Response:
        """School days that a new row calls otherwise, and what is planned on them. Nothing is saved."""
        asked = self.get_serializer(data=request.data)
        asked.is_valid(raise_exception=True)
        actor, values = actor_of(request), asked.validated_data
        row, tried = DayRotation(building=values["building"]), DayRotation(building=values["building"])
        told = ends_foreseen(actor, row, lambda: records.rotation_save(actor=actor, row=tried, values=values))
        return Response(EndsSerializer({"effects": told}).data)


class RotationUndoApi(APIView):
    """Take back what was done last to the rotations of a building."""

    permission_classes = (RolePermission,)
    read_permission, write_permission = VIEW, CHANGE

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        actor = actor_of(request)
        building = get_object_or_404(Building.objects.visible_to(actor), pk=pk)
        records.rotation_take_back(actor=actor, building=building)
        return Response(status=204)
