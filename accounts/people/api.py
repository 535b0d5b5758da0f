"""The API of people and substitutions. Everyone reads who is there; a coordinator adds, changes, deactivates."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import (
    EndsSerializer,
    RecordSerializer,
    RecordViewSet,
    ShowsEnds,
    VisibleRelatedField,
    actor_of,
    visible_rows,
)
from accounts.api_fields import MomentField
from accounts.models import Person, Substitution
from accounts.pages import site_of
from accounts.people import services
from accounts.people.hooks import cover_effects, office_buildings
from accounts.people.selectors import people_listed
from accounts.sign_in.services.factors import person_factors_remove
from accounts.sign_in.services.provider import provider_account_forget


def office_buildings_field() -> VisibleRelatedField:
    """The buildings of a school office, which the floor above knows."""
    return VisibleRelatedField(
        queryset=office_buildings().every(),
        many=True,
        required=False,
        write_only=True,
        help_text="For a school office: the buildings whose published weeks it sees.",
    )


class PersonSerializer(RecordSerializer[Person]):
    """A person of the district. Sign-in name, address and buildings are written and not read back."""

    name = serializers.CharField(source="__str__", read_only=True)

    class Meta:
        model = Person
        fields = ("id", "name", "role", "is_active", "first_name", "last_name", "username", "email", "last_day")
        read_only_fields = ("is_active",)
        extra_kwargs = {
            "role": {"required": True},
            **{name: {"write_only": True} for name in ("first_name", "last_name", "email")},
            # The service looks whether the name is taken, in words that name a remedy.
            "username": {"write_only": True, "validators": []},
        }

    def get_fields(self) -> dict[str, Any]:
        """With the buildings of an office, which the floor above knows."""
        return {**super().get_fields(), "buildings": office_buildings_field()}


class PasswordSerializer(serializers.Serializer[Any]):
    """A password that was given: shown once, good for one sign-in, at which another must be chosen."""

    password = serializers.CharField(read_only=True)
    ends_at = MomentField(read_only=True, help_text="When it stops working if it isn't used.")


class PersonViewSet(ShowsEnds[Person]):
    """The people of the district; a coordinator also sees those who were deactivated."""

    serializer_class = PersonSerializer
    read_permission, write_permission = "week.view", "people.change"
    save_service = services.person_with_offices_save

    def get_queryset(self) -> QuerySet[Person]:
        """Who may still sign in, or everyone for the coordinator."""
        viewer = self.request.user
        return (
            people_listed(viewer)
            if viewer.has_perm("people.change")
            else visible_rows(Person, viewer).filter(by_link=False)
        )

    @extend_schema(request=None, responses=PasswordSerializer)
    @action(detail=True, methods=["post"])
    def password(self, request: Request, pk: int) -> Response:
        """Give a new random password, end the person's sessions and lift a lockout."""
        row = self.get_object()
        given = services.person_password_give(actor=actor_of(request), row=row)
        answer = PasswordSerializer({"password": given, "ends_at": row.given_password_ends})
        return Response(answer.data, headers={"Cache-Control": "no-store"})

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="password-link")
    def password_link(self, request: Request, pk: int) -> Response:
        """Have a link mailed to the person by which they choose a password that nobody else learns."""
        site = site_of(request._request)  # noqa: SLF001 -- Django's own request knows how it was asked
        services.person_link_send(actor=actor_of(request), row=self.get_object(), site=site)
        return Response(status=204)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="remove-second-factors")
    def remove_second_factors(self, request: Request, pk: int) -> Response:
        """For somebody who lost them: the password alone lets them in until they set up another."""
        person_factors_remove(actor=actor_of(request), row=self.get_object())
        return Response(status=204)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="forget-account")
    def forget_account(self, request: Request, pk: int) -> Response:
        """For somebody who has another account at the district's provider now: the next sign-in may come by it."""
        provider_account_forget(actor=actor_of(request), row=self.get_object())
        return Response(status=204)

    @extend_schema(request=None, responses=PersonSerializer)
    @action(detail=True, methods=["post"])
    def deactivate(self, request: Request, pk: int) -> Response:
        """The person can't sign in anymore; everything that the person made stays."""
        return self._active(request, active=False)

    @extend_schema(request=None, responses=PersonSerializer)
    @action(detail=True, methods=["post"])
    def reactivate(self, request: Request, pk: int) -> Response:
        """The person can sign in again."""
        return self._active(request, active=True)

    def _active(self, request: Request, *, active: bool) -> Response:
        row = services.person_active_set(actor=actor_of(request), row=self.get_object(), active=active)
        return Response(self.get_serializer(row).data)


class SubstitutionSerializer(RecordSerializer[Substitution]):
    """Who covers whom, both dates included."""

    class Meta:
        model = Substitution
        fields = ("id", "substitute", "teacher", "first_date", "last_date")


class SubstitutionViewSet(RecordViewSet[Substitution]):
    """Covers: a substitute sees the teacher's caseload in that time and no longer."""

    serializer_class = SubstitutionSerializer
    filters = {"teacher": "teacher_id", "substitute": "substitute_id"}
    read_permission = write_permission = "people.change"
    save_service = services.substitution_save
    delete_service = services.substitution_delete

    @extend_schema(operation_id="substitutions_effects_new", responses=EndsSerializer)
    @action(detail=False, methods=["post"], url_path="effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What entering it would do to what an absence logged. Nothing is saved."""
        return self._foreseen(request, Substitution(), partial=False)

    @extend_schema(operation_id="substitutions_effects", responses=EndsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What the change would do to what an absence logged. Nothing is saved."""
        return self._foreseen(request, self.get_object(), partial=True)

    def _foreseen(self, request: Request, row: Substitution, *, partial: bool) -> Response:
        asked = self.get_serializer(row, data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        actor, values = actor_of(request), asked.validated_data
        told = cover_effects(actor, lambda: services.substitution_save(actor=actor, row=row, values=values))
        return Response(EndsSerializer({"effects": told}).data)
