"""The API of packets: links to the packet of a teacher's days."""

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts import api_fields
from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, actor_of
from accounts.pages import site_of
from caseload.plans.api import checked
from schedule.packet import services
from schedule.packet.models import PacketLink, PacketView
from schedule.packet.selectors import link_address
from schedule.weeks.selectors.pages import teacher_for


class PacketViewSerializer(RecordSerializer[PacketView]):
    """One opening of a packet by its link."""

    class Meta:
        model = PacketView
        fields = ("id", "seen_at", "browser")


class PacketLinkSerializer(RecordSerializer[PacketLink]):
    """A link to a packet, with every time that it was opened."""

    views = PacketViewSerializer(many=True, read_only=True)

    class Meta:
        model = PacketLink
        fields = (
            "id", "teacher", "made_by", "made_at", "first_date", "last_date", "label", "ends_at", "stopped_at",
            "views",
        )  # fmt: skip
        read_only_fields = fields


class PacketLinkNewSerializer(BodySerializer):
    """Whose days, which, and for whom."""

    teacher = api_fields.IdField(required=False)
    first_date = api_fields.DateField()
    last_date = api_fields.DateField()
    called = serializers.CharField(max_length=60, help_text="For whom it is; no student's name.")


class PacketLinkMadeSerializer(BodySerializer):
    """The new link, and its address, which can't be read again."""

    link = PacketLinkSerializer()
    address = serializers.CharField()


class PacketLinkViewSet(ReadViewSet[PacketLink]):
    """Links to packets: a teacher's own, a coordinator's district."""

    serializer_class = PacketLinkSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = "week.change"
    prefetch = ("views",)
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(request=PacketLinkNewSerializer, responses={201: PacketLinkMadeSerializer})
    def create(self, request: Request) -> Response:
        """A new link; it ends with its last day."""
        actor, values = actor_of(request), checked(PacketLinkNewSerializer(data=request.data))
        teacher = teacher_for(actor, values.get("teacher"))
        link, secret = services.packet_link_make(
            actor=actor, teacher=teacher or actor, first=values["first_date"], last=values["last_date"],
            label=values["called"], now=timezone.now(),
        )  # fmt: skip
        made = {"link": link, "address": link_address(site_of(request), secret)}
        return Response(PacketLinkMadeSerializer(made).data, status=201)

    @extend_schema(request=None, responses=PacketLinkSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """It opens nothing from now on."""
        link = self.get_object()
        services.packet_link_stop(actor=actor_of(request), link=link, now=timezone.now())
        return Response(self.get_serializer(self.get_object()).data)
