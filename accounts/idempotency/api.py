"""The API of keys: many sendings at once, and taking back what was sent without an answer."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import RefusesUnknownFields, actor_of
from accounts.errors import ApplicationError
from accounts.idempotency.services import key_withdraw
from accounts.idempotency.together import MOST, OneSending, sendings_carry

KEY = r"\A[A-Za-z0-9_-]{8,64}\Z"
KEYS_OF_THEIR_OWN = "Sendings have keys of their own. Leave the header Idempotency-Key out."


class WithdrawnKeySerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A key of one's own."""

    key = serializers.RegexField(KEY, help_text="The Idempotency-Key, without quotes.")


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


class SendingSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """One of many: what would be posted to an operation of this API alone."""

    key = serializers.RegexField(KEY, help_text="Its Idempotency-Key, without quotes.")
    url = serializers.RegexField(
        r"\A/[!-~]*\Z", max_length=500, help_text="Path of the operation, such as /api/1/session-logs/."
    )
    body = serializers.JSONField(help_text="What the operation takes.")
    after = serializers.ListField(
        child=serializers.RegexField(KEY),
        max_length=MOST,
        required=False,
        help_text="Keys of sendings before it in this list without which it makes no sense.",
    )


class SendingsSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Sendings in the order in which they are carried out."""

    sendings = serializers.ListField(child=SendingSerializer(), allow_empty=False, max_length=MOST)


class SendingAnswerSerializer(serializers.Serializer[Any]):
    """What one sending was answered with."""

    key = serializers.CharField()
    status = serializers.IntegerField(help_text="The HTTP status.")
    body = serializers.JSONField(allow_null=True, help_text="The operation's answer, or an error.")


class SendingAnswersSerializer(serializers.Serializer[Any]):
    """One answer a sending, in their order."""

    answers = SendingAnswerSerializer(many=True)


class SendingsApi(APIView):
    """What a phone kept while there was no signal."""

    permission_classes = (permissions.IsAuthenticated,)

    @extend_schema(
        operation_id="sendings_carry", request=SendingsSerializer, responses={200: SendingAnswersSerializer}
    )
    def post(self, request: Request) -> Response:
        """Carry out several sendings in one request, each as if it had come alone.

        Each has its own key, transaction and permissions, and one that is refused doesn't stop the next. 424 (code
        ``waits``) answers one whose `after` names a key that wasn't taken, 503 (``not_reached``) those for which
        the time wasn't enough: both can be sent again. An operation that answers with a file answers with null.
        """
        if "Idempotency-Key" in request.headers:
            raise ApplicationError(KEYS_OF_THEIR_OWN, code="keys_of_their_own", status=400)
        asked = SendingsSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        told = [
            OneSending(one["key"], one["url"], one["body"], frozenset(one.get("after", ())))
            for one in asked.validated_data["sendings"]
        ]
        answers = sendings_carry(request, told)
        return Response(SendingAnswersSerializer({"answers": answers}).data)
