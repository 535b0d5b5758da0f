"""The API of the district itself; where its map tiles come from is among the travel choices."""

from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RecordSerializer, RolePermission, actor_of
from accounts.district.services import PERMISSION, district_save
from accounts.models import District


class DistrictSerializer(RecordSerializer[District]):
    """A district: its name, state (two letters) and time zone (IANA name)."""

    class Meta:
        model = District
        fields = ("id", "name", "state", "time_zone")
        # What is taken or unknown is the service's to refuse, in its own words.
        extra_kwargs: ClassVar[dict[str, dict[str, list[Any]]]] = {
            name: {"validators": []} for name in ("name", "time_zone")
        }


class DistrictApi(APIView):
    """The district of the person who asks."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission, write_permission = "week.view", PERMISSION

    @extend_schema(operation_id="district_retrieve", responses=DistrictSerializer)
    def get(self, request: Request) -> Response:
        """As it is."""
        row = get_object_or_404(District, pk=actor_of(request).district_id or 0)
        return Response(DistrictSerializer(row).data)

    @extend_schema(operation_id="district_update", request=DistrictSerializer, responses=DistrictSerializer)
    def patch(self, request: Request) -> Response:
        """Change some of it."""
        asked = DistrictSerializer(data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        return Response(
            DistrictSerializer(district_save(actor=actor_of(request), values=asked.validated_data)).data
        )
