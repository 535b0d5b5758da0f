"""The API of work that broke off."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import RolePermission, actor_of
from config.work.selectors import BrokenWork, broken_work
from config.work.services import work_start_again


class BrokenWorkSerializer(DataclassSerializer[BrokenWork]):
    """One piece of work that broke off."""

    class Meta:
        dataclass = BrokenWork


class WorkApi(APIView):
    """What broke off in the district, for coordinators: the latest 200."""

    permission_classes = (RolePermission,)
    read_permission = write_permission = "district.settings"

    @extend_schema(operation_id="work_list", responses=BrokenWorkSerializer(many=True))
    def get(self, request: Request) -> Response:
        """The latest first."""
        return Response(BrokenWorkSerializer(broken_work(actor_of(request)), many=True).data)


class WorkAgainApi(APIView):
    """Starting one again."""

    permission_classes = (RolePermission,)
    read_permission = write_permission = "district.settings"

    @extend_schema(operation_id="work_start_again", request=None, responses={204: None})
    def post(self, request: Request, pk: uuid.UUID) -> Response:
        """With all its attempts; what it had found so far is kept."""
        work_start_again(actor=actor_of(request), pk=pk)
        return Response(status=204)
