"""The API of aides' hours."""

from drf_spectacular.utils import extend_schema
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RecordSerializer, RecordViewSet, RolePermission, actor_of
from caseload.care.models import Contact
from schedule.aides.models import AideHours
from schedule.aides.services import aide_hours_remove, aide_hours_save, aide_hours_take_back

VIEW, CHANGE = "caseload.view", "caseload.change"


class AideHoursSerializer(RecordSerializer[AideHours]):
    """When an aide is there from a first day on, until the next one's. Planning goes by it."""

    class Meta:
        model = AideHours
        fields = ("id", "contact", "first_day", "times")


class AideHoursViewSet(RecordViewSet[AideHours]):
    """Hours of the aides of students and classes whom the person may see."""

    serializer_class = AideHoursSerializer
    filters = {"contact": "contact_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = aide_hours_save
    delete_service = aide_hours_remove
    parents = ("contact",)


class AideHoursUndoApi(APIView):
    """Take back what was done last to the hours of an aide."""

    permission_classes = (RolePermission,)
    read_permission, write_permission = VIEW, CHANGE

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        actor = actor_of(request)
        contact = get_object_or_404(Contact.objects.visible_to(actor), pk=pk)
        aide_hours_take_back(actor=actor, contact=contact)
        return Response(status=204)
