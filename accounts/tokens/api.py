"""One's own tokens: made with the password, listed, taken away. Not open to tokens themselves."""

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, actor_of
from accounts.models import ApiToken, Person
from accounts.sign_in.trying import password_require
from accounts.tokens.services import token_make, token_remove


class ApiTokenSerializer(RecordSerializer[ApiToken]):
    """A token: which program, what it may, until when, when it was used last. Not the token itself."""

    role = serializers.ChoiceField(
        choices=Person.Role.choices,
        allow_blank=True,
        read_only=True,
        help_text="In which role the program asks; empty: in the one in which the person works.",
    )

    class Meta:
        model = ApiToken
        fields = ("id", "name", "scope", "role", "last_day", "made_at", "used_at")


class NewTokenSerializer(RefusesUnknownFields, serializers.ModelSerializer[ApiToken]):
    """A new token, with the password once more."""

    password = serializers.CharField(write_only=True, trim_whitespace=False)

    class Meta:
        model = ApiToken
        fields = ("name", "scope", "last_day", "password")


class MadeTokenSerializer(ApiTokenSerializer):
    """A token that was made, and itself: shown once."""

    token = serializers.CharField(read_only=True)

    class Meta:
        model = ApiToken
        fields = ("id", "name", "scope", "role", "last_day", "made_at", "used_at", "token")


class ApiTokenViewSet(ReadViewSet[ApiToken]):
    """One's own tokens."""

    serializer_class = ApiTokenSerializer
    read_permission = write_permission = "week.view"
    http_method_names = ["get", "post", "delete", "head", "options"]

    def get_queryset(self) -> QuerySet[ApiToken]:
        """One's own."""
        return ApiToken.objects.visible_to(self.request.user)

    @extend_schema(request=NewTokenSerializer, responses={201: MadeTokenSerializer})
    def create(self, request: Request) -> Response:
        """Make one; the token stands in this answer alone."""
        asked = NewTokenSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        values = dict(asked.validated_data)
        password_require(request._request, actor_of(request), values.pop("password"))  # noqa: SLF001 -- Django's own
        row, token = token_make(actor=actor_of(request), **values)
        told = {**ApiTokenSerializer(row).data, "token": token}
        return Response(told, status=201, headers={"Cache-Control": "no-store"})

    def destroy(self, request: Request, pk: int) -> Response:
        """Take it away."""
        token_remove(actor=actor_of(request), row=self.get_object())
        return Response(status=204)
