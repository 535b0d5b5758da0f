"""The API of each teacher's workload."""

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import actor_of
from schedule.weeks.api.teacher_view import MinutesView, day_parameter
from schedule.weeks.planning.load import monday_of
from schedule.workload.selectors import DistrictWorkload, district_workload


class WorkloadSerializer(DataclassSerializer[DistrictWorkload]):
    """Minutes of each teacher's week; figures, no judgment."""

    class Meta:
        dataclass = DistrictWorkload


class WorkloadApi(MinutesView):
    """Each teacher's workload, for coordinators."""

    read_permission = write_permission = "workload.view"

    @extend_schema(
        parameters=[day_parameter("week", "Any day of the week; this week if left out.")],
        responses=WorkloadSerializer,
        operation_id="workload",
    )
    def get(self, request: Request) -> Response:
        """What plans owe in an average week, and what the week in force is made of."""
        monday = monday_of(self.day("week") or self.today)
        return Response(WorkloadSerializer(district_workload(actor_of(request), monday)).data)
