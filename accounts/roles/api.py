"""The API of roles: who holds which, and in which one a session works."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import (
    EndsSerializer,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    actor_of,
)
from accounts.models import Person, PersonRole
from accounts.people.api import office_buildings_field
from accounts.roles import services
from accounts.roles.middleware import ROLE
from accounts.roles.selectors import roles_of


class PersonRoleSerializer(RecordSerializer[PersonRole]):
    """A role of a person from `first_day` through `last_day`; without a day it has no beginning or no end."""

    class Meta:
        model = PersonRole
        fields = ("id", "person", "role", "first_day", "last_day")

    def get_fields(self) -> dict[str, Any]:
        """With the buildings of an office, which the floor above knows; whose it is stays."""
        fields = super().get_fields()
        if self.instance is not None:
            fields["person"] = serializers.PrimaryKeyRelatedField(read_only=True)
        return {**fields, "buildings": office_buildings_field()}


class PersonRoleViewSet(RecordViewSet[PersonRole]):
    """Roles: a coordinator gives, changes and removes them; everybody reads the own ones."""

    serializer_class = PersonRoleSerializer
    filters = {"person": "person_id"}
    parents = ("person",)
    read_permission, write_permission = "week.view", "people.change"
    save_service = services.role_save
    delete_service = services.role_remove

    @extend_schema(operation_id="roles_effects_new", responses=EndsSerializer)
    @action(detail=False, methods=["post"], url_path="effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What another role would open. Nothing is saved."""
        asked = self.get_serializer(data=request.data)
        asked.is_valid(raise_exception=True)
        return self._foreseen(request, PersonRole(person=asked.validated_data["person"]), asked.validated_data)

    @extend_schema(operation_id="roles_effects", responses=EndsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What other days would open and end. Nothing is saved."""
        row = self.get_object()
        asked = self.get_serializer(row, data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        return self._foreseen(request, row, asked.validated_data)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Give the role the days again that it had before its last change."""
        services.role_undo(actor=actor_of(request), row=self.get_object())
        return Response(status=204)

    def _foreseen(self, request: Request, row: PersonRole, values: dict[str, Any]) -> Response:
        told = services.role_effects(actor=actor_of(request), row=row, values=values)
        return Response(EndsSerializer({"effects": told}).data)


class OwnRoleSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """In which role the session works, and which others it could."""

    role = serializers.ChoiceField(choices=Person.Role.choices)
    held = serializers.ListField(
        child=serializers.ChoiceField(choices=Person.Role.choices), read_only=True, help_text="Today, of oneself."
    )


class OwnRoleApi(APIView):
    """The role in which whoever asks works. A token works in the one in which it was made."""

    permission_classes = (IsAuthenticated,)

    @extend_schema(operation_id="own_role", responses=OwnRoleSerializer)
    def get(self, request: Request) -> Response:
        """Which it is, and which others there are."""
        return self._told(actor_of(request))

    @extend_schema(operation_id="own_role_choose", request=OwnRoleSerializer, responses=OwnRoleSerializer)
    def post(self, request: Request) -> Response:
        """Work in another, in this session and from the next sign-in on."""
        asked = OwnRoleSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        actor, role = actor_of(request), asked.validated_data["role"]
        services.role_choose(actor=actor, role=role)
        request.session[ROLE] = role
        return self._told(actor)

    def _told(self, person: Person) -> Response:
        held = [role for role, _ in roles_of(person)]
        return Response(OwnRoleSerializer({"role": person.role, "held": held}).data)
