"""The API of keys: taking back what was sent without an answer."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RefusesUnknownFields, actor_of
from accounts.idempotency.services import key_withdraw


class WithdrawnKeySerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A key of one's own."""

    key = serializers.RegexField(r"\A[A-Za-z0-9_-]{8,64}\Z", help_text="The Idempotency-Key, without quotes.")


class KeyTakenSerializer(serializers.Serializer[Any]):
    """Whether something was taken under the key, and the id of what it made."""

    taken = serializers.BooleanField()
    id = serializers.CharField(allow_null=True)


class WithdrawnKeysApi(APIView):
    """Keys that nothing more is taken under."""

    permission_classes = (permissions.IsAuthenticated,)

    @extend_schema(operation_id="key_withdraw", request=WithdrawnKeySerializer, responses={200: KeyTakenSerializer})
    def post(self, request: Request) -> Response:
        """Say whether something was taken under a key; if not, nothing will be. What was is undone as ever."""
        asked = WithdrawnKeySerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        found = key_withdraw(person=actor_of(request), key=asked.validated_data["key"])
        told = {"taken": found is not None, "id": (found.made_id or None) if found is not None else None}
        return Response(KeyTakenSerializer(told).data)
