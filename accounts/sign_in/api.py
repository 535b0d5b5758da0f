"""Signing in through the API: one's own password, second factors and open sessions, and the district's rules.

The password is all that is open to a session that began with a given one. A second factor is set up on the page: it
is the browser, or an app beside it, that holds it.
"""

from typing import Any

from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, RolePermission, actor_of
from accounts.models import OpenSession, Person, SecondFactor, SignInRules
from accounts.people.services import own_password_choose
from accounts.sign_in.selectors import open_sessions, rules_of
from accounts.sign_in.services.factors import factor_remove
from accounts.sign_in.services.rules import PERMISSION, sign_in_rules_save
from accounts.sign_in.services.sessions import session_end
from accounts.sign_in.trying import password_require, try_failed, try_require


class OwnPasswordSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """The present password and the new one."""

    old_password = serializers.CharField(write_only=True, trim_whitespace=False)
    new_password = serializers.CharField(write_only=True, trim_whitespace=False)


class PasswordConfirmSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """The password once more; left out in a session that began at the district's provider."""

    password = serializers.CharField(write_only=True, trim_whitespace=False, required=False, default="")


def _sure_of(request: Request) -> Person:
    """Who asks, once they have given their password in the body. Raises as `password_require` does."""
    asked = PasswordConfirmSerializer(data=request.data)
    asked.is_valid(raise_exception=True)
    person = actor_of(request)
    password_require(request._request, person, asked.validated_data["password"])  # noqa: SLF001
    return person


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


class SecondFactorSerializer(RecordSerializer[SecondFactor]):
    """A passkey or an app with codes; what proves it is never told."""

    class Meta:
        model = SecondFactor
        fields = ("id", "kind", "name", "made_at", "used_at")


class SecondFactorViewSet(ReadViewSet[SecondFactor]):
    """One's own second factors. To remove one asks for the password."""

    serializer_class = SecondFactorSerializer
    read_permission = write_permission = "week.view"
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[SecondFactor]:
        """One's own."""
        return SecondFactor.objects.visible_to(self.request.user)

    @extend_schema(request=PasswordConfirmSerializer, responses={204: None})
    @action(detail=True, methods=["post"])
    def remove(self, request: Request, pk: int) -> Response:
        """Remove it; with the last one the recovery codes go, too."""
        row = self.get_object()
        factor_remove(actor=_sure_of(request), row=row)
        return Response(status=204)


class OpenSessionSerializer(RecordSerializer[OpenSession]):
    """Where one is signed in. `here`: the session that asks."""

    here = serializers.SerializerMethodField()

    class Meta:
        model = OpenSession
        fields = ("id", "browser", "shared", "began_at", "used_at", "here")

    def get_here(self, row: OpenSession) -> bool:
        """Whether it is the one that asks."""
        return bool(row.session_key == self.context["request"].session.session_key)


class OpenSessionViewSet(ReadViewSet[OpenSession]):
    """One's own open sessions. To end one asks for the password, and signs out whoever has it."""

    serializer_class = OpenSessionSerializer
    read_permission = write_permission = "week.view"
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[OpenSession]:
        """One's own."""
        return open_sessions(self.request.user)

    @extend_schema(request=PasswordConfirmSerializer, responses={204: None})
    @action(detail=True, methods=["post"])
    def end(self, request: Request, pk: int) -> Response:
        """End it."""
        row = self.get_object()
        session_end(actor=_sure_of(request), row=row)
        return Response(status=204)


class SignInRulesSerializer(RecordSerializer[SignInRules]):
    """After how many minutes without use sessions end, and who needs a second factor from which day."""

    class Meta:
        model = SignInRules
        fields = (
            "idle_minutes", "factor_coordinators", "factor_teachers", "factor_substitutes", "factor_offices",
            "factor_reviewers", "factor_first_day",
        )  # fmt: skip


class SignInRulesApi(APIView):
    """The district's rules for signing in: what is usual until a coordinator changes it."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = PERMISSION

    @extend_schema(operation_id="sign_in_rules_retrieve", responses=SignInRulesSerializer)
    def get(self, request: Request) -> Response:
        """As they are."""
        return Response(SignInRulesSerializer(rules_of(actor_of(request))).data)

    @extend_schema(
        operation_id="sign_in_rules_update", request=SignInRulesSerializer, responses=SignInRulesSerializer
    )
    def patch(self, request: Request) -> Response:
        """Change some of them."""
        person = actor_of(request)
        asked = SignInRulesSerializer(data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        row = sign_in_rules_save(actor=person, row=rules_of(person), values=asked.validated_data)
        return Response(SignInRulesSerializer(row).data)
