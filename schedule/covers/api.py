"""The API of who stands in: the same services as the pages."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts import api_fields
from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, actor_of
from accounts.models import Person, Substitution
from accounts.pages import site_of
from caseload.plans.api import checked
from schedule.covers.selectors import absence_get, covers_arranged, substitutes_of
from schedule.covers.services import (
    ARRANGE,
    NOT_LISTED,
    CoverWanted,
    cover_address_renew,
    cover_arrange,
    cover_change,
    cover_end,
    cover_foresee,
)
from schedule.happenings.effects import HappeningEffects
from schedule.packet.selectors import link_address


class CoverSerializer(RecordSerializer[Substitution]):
    """Who stands in for whom. ``sessions``: uids of the only sessions, none where it is the whole days."""

    substitute_name = serializers.CharField(source="substitute.called", read_only=True)
    by_link = serializers.BooleanField(source="substitute.by_link", read_only=True)
    sessions = serializers.SerializerMethodField()

    class Meta:
        model = Substitution
        fields = (
            "id", "teacher", "substitute", "substitute_name", "by_link", "first_date", "last_date", "sessions",
        )  # fmt: skip
        read_only_fields = fields

    def get_sessions(self, row: Substitution) -> list[UUID]:
        """Uids."""
        return [one.session_uid for one in row.sessions.all()]


class CoverWantedSerializer(BodySerializer):
    """Who is to stand in: a substitute's id, or a name for a link; days left out are those of the absence."""

    substitute = api_fields.IdField(required=False)
    called = serializers.CharField(
        max_length=60, required=False, help_text="Who comes by a link, without a sign-in."
    )
    first_date = api_fields.DateField(required=False)
    last_date = api_fields.DateField(required=False)
    sessions = serializers.ListField(
        child=serializers.UUIDField(), required=False, help_text="Uids of the only sessions; none: the whole days."
    )


class CoverNewSerializer(CoverWantedSerializer):
    """For which absence, too."""

    absence = api_fields.IdField(help_text="The happening.")


class CoverMadeSerializer(BodySerializer):
    """Who stands in now; with the address of the link, which can't be read again, where they come by one."""

    cover = CoverSerializer()
    address = serializers.CharField(allow_blank=True)


class CoverAddressSerializer(BodySerializer):
    """The other address, which can't be read again."""

    address = serializers.CharField()


class CoverEffectsSerializer(DataclassSerializer[HappeningEffects]):
    """What it does: sessions, drives, whom it concerns."""

    class Meta:
        dataclass = HappeningEffects


class CoverViewSet(ReadViewSet[Substitution]):
    """Who stands in: for a teacher the own, for a coordinator the district's."""

    serializer_class = CoverSerializer
    filters = {"teacher": "teacher_id", "substitute": "substitute_id"}
    read_permission = write_permission = ARRANGE
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    def get_queryset(self) -> QuerySet[Substitution]:
        """Those that the viewer may arrange."""
        return covers_arranged(self.request.user)

    @extend_schema(request=CoverNewSerializer, responses={201: CoverMadeSerializer})
    def create(self, request: Request) -> Response:
        """Somebody stands in during an absence."""
        actor, values = actor_of(request), checked(CoverNewSerializer(data=request.data))
        absence = absence_get(actor, values["absence"])
        made = cover_arrange(actor=actor, absence=absence, wanted=_wanted(actor, values))
        told = {"cover": made.cover, "address": link_address(site_of(request), made.secret) if made.secret else ""}
        return Response(CoverMadeSerializer(told).data, status=201)

    @extend_schema(operation_id="covers_effects", request=CoverNewSerializer, responses=CoverEffectsSerializer)
    @action(detail=False, methods=["post"])
    def effects(self, request: Request) -> Response:
        """What arranging it would do; nothing is saved."""
        actor, values = actor_of(request), checked(CoverNewSerializer(data=request.data))
        absence, wanted = absence_get(actor, values["absence"]), _wanted(actor, values)
        found = cover_foresee(
            actor=actor, absence=absence, act=lambda: cover_arrange(actor=actor, absence=absence, wanted=wanted)
        )
        return Response(CoverEffectsSerializer(found).data)

    @extend_schema(operation_id="covers_change", request=CoverWantedSerializer, responses=CoverSerializer)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Somebody else, other days, or other sessions; what is left out stays."""
        actor, cover = actor_of(request), self.get_object()
        kept = {"sessions": [one.session_uid for one in cover.sessions.all()]}
        values = {**kept, **checked(CoverWantedSerializer(data=request.data))}
        cover_change(actor=actor, cover=cover, wanted=_wanted(actor, values))
        return Response(self.get_serializer(self.get_object()).data)

    @extend_schema(operation_id="covers_end", responses={204: None})
    def destroy(self, request: Request, pk: int) -> Response:
        """Nobody comes after all."""
        cover_end(actor=actor_of(request), cover=self.get_object())
        return Response(status=204)

    @extend_schema(operation_id="covers_address", request=None, responses=CoverAddressSerializer)
    @action(detail=True, methods=["post"])
    def address(self, request: Request, pk: int) -> Response:
        """Another address for somebody who comes by a link."""
        cover = self.get_object()
        secret = cover_address_renew(actor=actor_of(request), cover=cover)
        return Response(CoverAddressSerializer({"address": link_address(site_of(request), secret)}).data)


def _wanted(actor: Person, values: Mapping[str, Any]) -> CoverWanted:
    """As the service takes it. Raises `ValidationError` for a substitute who isn't one of the district's."""
    number = values.get("substitute")
    who = substitutes_of(actor).filter(pk=number).first() if number is not None else None
    if number is not None and who is None:
        raise ValidationError({"substitute": NOT_LISTED})
    return CoverWanted(
        substitute=who,
        called=values.get("called", ""),
        first_date=values.get("first_date"),
        last_date=values.get("last_date"),
        sessions=frozenset(values.get("sessions", ())),
    )
