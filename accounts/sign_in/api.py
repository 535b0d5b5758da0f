"""Choosing one's own password through the API: all that is open to a session that began with a given one."""

from typing import Any

from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import ValidationError
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RefusesUnknownFields, actor_of
from accounts.people.services import own_password_choose
from accounts.sign_in.trying import try_failed, try_require


class OwnPasswordSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """The present password and the new one."""

    old_password = serializers.CharField(write_only=True, trim_whitespace=False)
    new_password = serializers.CharField(write_only=True, trim_whitespace=False)


class OwnPasswordApi(APIView):
    """The password of the person who asks."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(operation_id="own_password_choose", request=OwnPasswordSerializer, responses={204: None})
    def post(self, request: Request) -> Response:
        """Choose another, given the present one. Other sessions end; this one stays."""
        asked = OwnPasswordSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        person = actor_of(request)
        try_require(request._request, person)  # noqa: SLF001 -- Django's own request is what tries are counted by
        try:
            own_password_choose(actor=person, **asked.validated_data)
        except ValidationError as error:
            if "old_password" in error.error_dict:
                try_failed(request._request, person)  # noqa: SLF001
            raise
        update_session_auth_hash(request._request, person)  # noqa: SLF001 -- Django's own request holds the session
        return Response(status=204)
