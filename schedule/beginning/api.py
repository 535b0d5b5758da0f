"""The API of how far a district is set up."""

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import actor_of
from schedule.beginning.selectors import set_up
from schedule.beginning.steps import SetUp
from schedule.weeks.api.teacher_view import MinutesView


class SetUpSerializer(DataclassSerializer[SetUp]):
    """The steps in their order; `ways` lead to pages."""

    class Meta:
        dataclass = SetUp


class BeginningApi(MinutesView):
    """How far the district is set up."""

    read_permission = write_permission = "district.change"

    @extend_schema(responses=SetUpSerializer, operation_id="set_up")
    def get(self, request: Request) -> Response:
        """What a first week needs, and what of it is there."""
        return Response(SetUpSerializer(set_up(actor_of(request), self.today)).data)
