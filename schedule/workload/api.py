"""The API of each teacher's workload."""

from dataclasses import asdict, dataclass

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import StablePages, actor_of
from schedule.weeks.api.teacher_view import MinutesView, day_parameter
from schedule.weeks.planning.load import monday_of
from schedule.workload.selectors.district import DistrictWorkload, district_workload, teachers_at_work
from schedule.workload.selectors.teachers import TeacherWorkload, workloads_of


class WorkloadPages(StablePages):
    """A page has few teachers, since each is worked out from services and week."""

    page_size = 25


@dataclass(frozen=True, slots=True)
class WorkloadTold(DistrictWorkload):
    """The district's sums, and a page of its teachers in the order of their ids; `count` is how many there are."""

    count: int
    next: str | None
    previous: str | None
    teachers: tuple[TeacherWorkload, ...]


class WorkloadSerializer(DataclassSerializer[WorkloadTold]):
    """Minutes of a district's week, and of each teacher's, a page of 25 at a time; figures, no judgment."""

    class Meta:
        dataclass = WorkloadTold


class WorkloadApi(MinutesView):
    """Each teacher's workload, for coordinators."""

    read_permission = write_permission = "workload.view"

    @extend_schema(
        parameters=[
            day_parameter("week", "Any day of the week; this week if left out."),
            OpenApiParameter(
                WorkloadPages.cursor_query_param,
                OpenApiTypes.STR,
                description=WorkloadPages.cursor_query_description,
            ),
        ],
        responses=WorkloadSerializer,
        operation_id="workload",
    )
    def get(self, request: Request) -> Response:
        """What plans owe in an average week, and what the week in force is made of."""
        viewer, monday = actor_of(request), monday_of(self.day("week") or self.today)
        pages = WorkloadPages()
        teachers = pages.paginate_queryset(teachers_at_work(viewer, monday), request, self) or []
        told = WorkloadTold(
            **asdict(district_workload(viewer, monday)),
            count=pages.count,
            next=pages.get_next_link(),
            previous=pages.get_previous_link(),
            teachers=workloads_of(viewer, teachers, monday),
        )
        return Response(WorkloadSerializer(told).data)
