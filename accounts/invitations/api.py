"""The API of invitations, for coordinators: who hasn't come in, links by mail or to be printed, taking one back."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, VisibleRelatedField, actor_of
from accounts.api_fields import IdField, MomentField
from accounts.invitations.selectors import STANDINGS, people_in_district, standing_of
from accounts.invitations.services import (
    FEWEST_DAYS,
    MOST_DAYS,
    USUAL_DAYS,
    Invited,
    invitation_take_back,
    invitations_print,
    invitations_send,
)
from accounts.models import Person
from accounts.pages import site_of


class InvitedPersonSerializer(RecordSerializer[Person]):
    """Somebody who may sign in, and how far they are; times only where an invitation is what counts."""

    name = serializers.CharField(source="__str__", read_only=True)
    standing = serializers.SerializerMethodField()
    sent_at = MomentField(
        source="invitation.sent_at",
        default=None,
        read_only=True,
        allow_null=True,
        help_text="When it was printed or mailed.",
    )
    ends_at = MomentField(
        source="invitation.ends_at",
        default=None,
        read_only=True,
        allow_null=True,
        help_text="From then on the link opens nothing.",
    )
    on_paper = serializers.BooleanField(
        source="invitation.on_paper",
        default=None,
        read_only=True,
        allow_null=True,
        help_text="Printed, not mailed.",
    )

    class Meta:
        model = Person
        fields = ("id", "name", "standing", "sent_at", "ends_at", "on_paper")

    @extend_schema_field(serializers.ChoiceField(choices=list(STANDINGS.items())))
    def get_standing(self, row: Person) -> str:
        """How far this person is."""
        return standing_of(row, timezone.now())


class InviteSerializer(BodySerializer):
    """Whom to invite, and for how many days the link works."""

    people = VisibleRelatedField(queryset=Person.objects.all(), many=True, help_text="Ids.")
    days = serializers.IntegerField(min_value=FEWEST_DAYS, max_value=MOST_DAYS, default=USUAL_DAYS)
    again = serializers.BooleanField(
        default=False, help_text="Also to those who have a link that works; the one before is dead then."
    )


class NotInvitedSerializer(serializers.Serializer[Any]):
    """Somebody who got no invitation."""

    person = IdField(source="person.pk", read_only=True)
    reason = serializers.CharField(read_only=True)


class SentSerializer(serializers.Serializer[Any]):
    """Who is mailed a link, and who isn't, with the reason."""

    people = serializers.SerializerMethodField()
    left_out = NotInvitedSerializer(many=True, read_only=True)

    @extend_schema_field(serializers.ListField(child=IdField()))
    def get_people(self, done: Invited) -> list[int]:
        """Their ids."""
        return [one.pk for one in done.people]


class SlipSerializer(serializers.Serializer[Any]):
    """An invitation to be handed over; the link stands in this answer alone."""

    person = IdField(source="person.pk", read_only=True)
    name = serializers.CharField(source="person", read_only=True)
    username = serializers.CharField(source="person.username", read_only=True)
    link = serializers.CharField(read_only=True)
    ends_at = MomentField(read_only=True)


class PrintedSerializer(serializers.Serializer[Any]):
    """One slip for each, and who has none, with the reason."""

    slips = SlipSerializer(many=True, read_only=True)
    left_out = NotInvitedSerializer(many=True, read_only=True)


class InvitationViewSet(ReadViewSet[Person]):
    """Everyone who may sign in, with how far they are: not invited, invited and until when, come in."""

    serializer_class = InvitedPersonSerializer
    read_permission = write_permission = "people.change"
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[Person]:
        """Those of the district."""
        return people_in_district(self.request.user)

    @extend_schema(request=InviteSerializer, responses=SentSerializer)
    @action(detail=False, methods=["post"])
    def send(self, request: Request) -> Response:
        """Have a link mailed to each, by which they choose a first password."""
        return Response(SentSerializer(invitations_send(**self._asked(request))).data)

    @extend_schema(request=InviteSerializer, responses=PrintedSerializer)
    @action(detail=False, methods=["post"])
    def slips(self, request: Request) -> Response:
        """The same without mail: links to be printed and handed over."""
        done = PrintedSerializer(invitations_print(**self._asked(request)))
        return Response(done.data, headers={"Cache-Control": "no-store"})

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """The link is dead from now on."""
        invitation_take_back(actor=actor_of(request), person=self.get_object())
        return Response(status=204)

    def _asked(self, request: Request) -> dict[str, Any]:
        asked = InviteSerializer(data=request.data, context=self.get_serializer_context())
        asked.is_valid(raise_exception=True)
        site = site_of(request._request)  # noqa: SLF001 -- Django's own request knows how it was asked
        return {"actor": actor_of(request), "site": site, **asked.validated_data}
