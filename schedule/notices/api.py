"""The API of messages: what was told, what one wants to hear, what the district decided."""

import datetime as dt
from typing import Any, ClassVar

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import mixins, serializers, status
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    RolePermission,
    actor_of,
)
from accounts.api_fields import DateField, IdField, MomentField
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_YOUR_ROLE
from caseload.plans.api import checked
from schedule.notices.models import NameRule, Notice, NoticeSettings, PushDevice
from schedule.notices.selectors.hearers import hearing_of, notice_settings_of
from schedule.notices.selectors.looks import DateChanges, changes_since_look
from schedule.notices.selectors.students import called_in
from schedule.notices.services import devices
from schedule.notices.services import settings as services
from schedule.notices.services.looks import MOST_DATES, changes_seen, changes_unseen
from schedule.notices.services.outbox import notice_again
from schedule.notices.services.push_key import push_key_text
from schedule.weeks.selectors.pages import NO_TEACHER, teacher_for


class NoticeSerializer(RecordSerializer[Notice]):
    """One message: to whom, what, and what became of it. Times are UTC."""

    to = serializers.CharField(read_only=True, help_text="The name of whom it goes to.")
    body = serializers.SerializerMethodField()

    class Meta:
        model = Notice
        fields = (
            "id", "teacher", "date", "person", "contact", "to", "channel", "subject", "body", "state", "problem",
            "tries", "next_try", "made_at", "ended_at",
        )  # fmt: skip
        read_only_fields = fields

    def get_body(self, row: Notice) -> str:
        """The text, with students as the page shows them to who asks."""
        request = self.context.get("request")
        viewer = actor_of(request) if request is not None else None
        return called_in(row.body, viewer=viewer, shown=NameRule.Shown.NAMES)


class NoticeViewSet(ReadViewSet[Notice]):
    """What was told about one's days or to oneself; a coordinator sees the district's."""

    serializer_class = NoticeSerializer
    read_permission = write_permission = services.HEAR
    http_method_names = ["get", "post", "head", "options"]
    filters = {"teacher": "teacher_id"}

    @extend_schema(request=None, responses=NoticeSerializer)
    @action(detail=True, methods=["post"])
    def again(self, request: Request, pk: int) -> Response:
        """Send one again that failed or perhaps didn't arrive. Refused (on_its_way, no_mail_server) otherwise."""
        row = notice_again(actor=actor_of(request), row=self.get_object())
        return Response(NoticeSerializer(row).data)

    @extend_schema(request=None, responses={201: NoticeSerializer})
    @action(detail=False, methods=["post"])
    def test(self, request: Request) -> Response:
        """Send oneself a message that says that it works. Refused (no_address) without an address."""
        row = services.trial_send(actor=actor_of(request))
        return Response(NoticeSerializer(row).data, status=status.HTTP_201_CREATED)


class DateChangesSerializer(DataclassSerializer[DateChanges]):
    """What changed of a date, in words; `until` is when the last of it came, UTC."""

    class Meta:
        dataclass = DateChanges


class SinceQuery(RefusesUnknownFields, serializers.Serializer[Any]):
    """Whose days, and which: at most 31."""

    teacher = IdField()
    first = DateField()
    last = DateField()


class SeenSerializer(BodySerializer):
    """Which changes were seen: what `changes-since` answered."""

    teacher = IdField()
    dates = serializers.ListField(child=DateField(), allow_empty=False, max_length=MOST_DATES)


class SeenUntilSerializer(SeenSerializer):
    """The same, up to a moment: what came after it stays unseen."""

    until = MomentField()


class SinceApi(APIView):
    """What changed since the person who asks last said "seen"."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = services.HEAR

    @extend_schema(
        operation_id="changes_since_list", parameters=[SinceQuery], responses=DateChangesSerializer(many=True)
    )
    def get(self, request: Request) -> Response:
        """By date."""
        asked = checked(SinceQuery(data=request.query_params.dict()))
        days = range(min((asked["last"] - asked["first"]).days + 1, MOST_DATES))
        viewer, dates = actor_of(request), [asked["first"] + dt.timedelta(days=n) for n in days]
        teacher = _teacher(viewer, asked["teacher"])
        found = changes_since_look(viewer, teacher, dates, timezone.now()).changes
        return Response(DateChangesSerializer(found, many=True).data)


class SeenApi(APIView):
    """The listed changes were seen."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = services.HEAR

    @extend_schema(request=SeenUntilSerializer, responses={204: None})
    def post(self, request: Request) -> Response:
        """On every device."""
        said, actor = checked(SeenUntilSerializer(data=request.data)), actor_of(request)
        teacher = _teacher(actor, said["teacher"])
        changes_seen(actor=actor, teacher=teacher, dates=said["dates"], until=said["until"])
        return Response(status=status.HTTP_204_NO_CONTENT)


class UnseenApi(APIView):
    """They weren't seen after all."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = services.HEAR

    @extend_schema(request=SeenSerializer, responses={204: None})
    def post(self, request: Request) -> Response:
        """Takes the last "seen" of these dates back."""
        said, actor = checked(SeenSerializer(data=request.data)), actor_of(request)
        changes_unseen(actor=actor, teacher=_teacher(actor, said["teacher"]), dates=said["dates"])
        return Response(status=status.HTTP_204_NO_CONTENT)


def _teacher(viewer: Person, teacher_id: int) -> Person:
    found = teacher_for(viewer, teacher_id)
    if found is None:
        raise ApplicationError(NO_TEACHER, code="not_found", status=404)
    return found


class PushDeviceSerializer(RecordSerializer[PushDevice]):
    """A device on which messages are shown. What its browser gave is written and never read."""

    class Meta:
        model = PushDevice
        fields = ("id", "label", "made_at", "reached_at", "ended_at", "is_gone", "problem")
        read_only_fields = ("id", "made_at", "reached_at", "ended_at", "is_gone", "problem")


class PushDeviceAddSerializer(RefusesUnknownFields, serializers.ModelSerializer[PushDevice]):
    """What a browser gives when messages are turned on in it (Push API), and the key that it was given."""

    endpoint = serializers.CharField(max_length=1000, help_text="Of the subscription: an https address.")
    receiver_key = serializers.CharField(max_length=100, help_text="p256dh, base64url.")
    secret = serializers.CharField(max_length=40, help_text="auth, base64url.")
    server_key = serializers.CharField(max_length=100, help_text="What `key` answered.")

    class Meta:
        model = PushDevice
        fields = ("label", "endpoint", "receiver_key", "secret", "server_key")


class PushKeySerializer(BodySerializer):
    """The public key by which this program says who it is to push services (`applicationServerKey`)."""

    key = serializers.CharField(help_text="An uncompressed point of P-256, base64url.")


class PushDeviceViewSet(mixins.DestroyModelMixin, ReadViewSet[PushDevice]):
    """One's own devices."""

    serializer_class = PushDeviceSerializer
    read_permission = write_permission = services.HEAR
    http_method_names = ["get", "post", "patch", "delete", "head", "options"]

    @extend_schema(request=PushDeviceAddSerializer, responses={201: PushDeviceSerializer})
    def create(self, request: Request) -> Response:
        """Turn messages on. A device belongs to who turned it on last."""
        values = checked(PushDeviceAddSerializer(data=request.data))
        row = devices.device_add(actor=actor_of(request), **values)
        return Response(PushDeviceSerializer(row).data, status=status.HTTP_201_CREATED)

    def partial_update(self, request: Request, pk: int) -> Response:
        """Call it otherwise."""
        row = self.get_object()
        values = checked(PushDeviceSerializer(row, data=request.data, partial=True))
        row = devices.device_rename(actor=actor_of(request), row=row, values=values)
        return Response(PushDeviceSerializer(row).data)

    def perform_destroy(self, instance: PushDevice) -> None:
        """Forget one that is turned off."""
        devices.device_delete(actor=actor_of(self.request), row=instance)

    @extend_schema(request=None, responses=PushDeviceSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """Turn messages off."""
        row = devices.device_stop(actor=actor_of(request), row=self.get_object())
        return Response(PushDeviceSerializer(row).data)

    @extend_schema(request=None, responses=PushDeviceSerializer)
    @action(detail=True, methods=["post"])
    def resume(self, request: Request, pk: int) -> Response:
        """Turn them on again. Refused (gone) where the push service knows the device no more."""
        row = devices.device_resume(actor=actor_of(request), row=self.get_object())
        return Response(PushDeviceSerializer(row).data)

    @extend_schema(request=None, responses={201: NoticeSerializer})
    @action(detail=True, methods=["post"])
    def test(self, request: Request, pk: int) -> Response:
        """Send it a message that says that it works."""
        row = devices.device_try(actor=actor_of(request), row=self.get_object())
        return Response(NoticeSerializer(row).data, status=status.HTTP_201_CREATED)

    @extend_schema(responses=PushKeySerializer)
    @action(detail=False, methods=["get"], pagination_class=None, filter_backends=[])
    def key(self, request: Request) -> Response:
        """What a browser is told when messages are turned on."""
        return Response({"key": push_key_text()})


class HearingSerializer(BodySerializer):
    """What one wants to hear. An empty `mail` means the address that is kept with the sign-in."""

    mail = serializers.EmailField(allow_blank=True)
    by_mail = serializers.BooleanField()
    at_once = serializers.BooleanField(help_text="Changes to the next 24 hours.")
    in_the_evening = serializers.BooleanField(help_text="Tomorrow, where it isn't the usual day.")


class NameRuleSerializer(RecordSerializer[NameRule]):
    """From a day on, how students are called in messages by mail and on devices."""

    class Meta:
        model = NameRule
        fields = ("id", "first_date", "mail", "push")


class NameRuleViewSet(RecordViewSet[NameRule]):
    """The district's rules; where none holds yet, messages name no student."""

    serializer_class = NameRuleSerializer
    read_permission = write_permission = services.SETTINGS
    save_service = services.name_rule_save
    delete_service = services.name_rule_delete

    @extend_schema(request=None, responses={204: None})
    @action(detail=False, methods=["post"], url_path="take-back")
    def take_back(self, request: Request) -> Response:
        """Undo what was done last to the rules; refused (nothing_to_undo, changed_since) where that can't be."""
        services.name_rule_take_back(actor=actor_of(request))
        return Response(status=204)


class NoticeSettingsSerializer(BodySerializer):
    """What the district decided about messages."""

    tells_classes = serializers.BooleanField(help_text="Whether classroom teachers are written to.")
    evening_at = serializers.TimeField(help_text="Local time of the evening message.")


class _Api(APIView):
    """One row that is always there."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission: ClassVar[str] = services.HEAR
    write_permission: ClassVar[str] = services.HEAR


class HearingApi(_Api):
    """What the person who asks wants to hear."""

    @extend_schema(responses=HearingSerializer)
    def get(self, request: Request) -> Response:
        """Without a choice: everything, at the address that is kept with the sign-in."""
        return Response(HearingSerializer(hearing_of(actor_of(request))).data)

    @extend_schema(request=HearingSerializer, responses=HearingSerializer)
    def patch(self, request: Request) -> Response:
        """Change some of it."""
        values = checked(HearingSerializer(data=request.data, partial=True))
        return Response(HearingSerializer(services.hearing_save(actor=actor_of(request), values=values)).data)


class NoticeSettingsApi(_Api):
    """What the district decided about messages."""

    read_permission = write_permission = "district.settings"

    @extend_schema(responses=NoticeSettingsSerializer)
    def get(self, request: Request) -> Response:
        """Without a decision: as the defaults say."""
        return Response(NoticeSettingsSerializer(self._row(actor_of(request))).data)

    @extend_schema(request=NoticeSettingsSerializer, responses=NoticeSettingsSerializer)
    def patch(self, request: Request) -> Response:
        """Change some of it."""
        values = checked(NoticeSettingsSerializer(data=request.data, partial=True))
        row = services.notice_settings_save(actor=actor_of(request), values=values)
        return Response(NoticeSettingsSerializer(row).data)

    def _row(self, viewer: Person) -> NoticeSettings:
        if viewer.district is None:
            raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
        return notice_settings_of(viewer.district)
