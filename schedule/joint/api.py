"""The API of joint sessions."""

from drf_spectacular.utils import extend_schema
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RecordSerializer, RecordViewSet, RolePermission, actor_of
from caseload.plans.models import Student
from schedule.joint.models import JointService
from schedule.joint.services import joint_service_remove, joint_service_save, joint_service_take_back

VIEW, CHANGE = "caseload.view", "caseload.change"


class JointServiceSerializer(RecordSerializer[JointService]):
    """Sessions of two services of one student that their teachers give together, from a day on.

    `service` and `partner` are what `service` of a service line is. Planning goes by it.
    """

    class Meta:
        model = JointService
        fields = ("id", "service", "partner", "times_a_week", "first_day", "last_day")


class JointServiceViewSet(RecordViewSet[JointService]):
    """Joint sessions of the students whom the person may see."""

    serializer_class = JointServiceSerializer
    filters = {"student": "service__student_id", "service": "service_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = joint_service_save
    delete_service = joint_service_remove
    parents = ("service",)


class JointServiceUndoApi(APIView):
    """Take back what was done last to a student's joint sessions."""

    permission_classes = (RolePermission,)
    read_permission, write_permission = VIEW, CHANGE

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        actor = actor_of(request)
        student = get_object_or_404(Student.objects.visible_to(actor), pk=pk)
        joint_service_take_back(actor=actor, student=student)
        return Response(status=204)
