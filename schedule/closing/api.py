"""The API of months of the log."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import BodySerializer, RolePermission, actor_of
from accounts.models import Person
from accounts.selectors import today_of
from accounts.services import permission_require
from caseload.months.models import LogMonthAct, LogMonthRules
from schedule.closing import services
from schedule.closing.content import digest_of
from schedule.closing.selectors import LogMonthView, month_in_address, month_rules, month_teacher, month_view


class LogMonthActSerializer(serializers.ModelSerializer[LogMonthAct]):
    """What was done to a month, by whom and when."""

    class Meta:
        model = LogMonthAct
        fields = ("act", "by", "at", "name", "reason", "digest")
        read_only_fields = fields


class DifferenceSerializer(serializers.Serializer[Any]):
    """What is otherwise than it was signed or closed; `entry` is the log's entry where it is about one."""

    service = serializers.IntegerField()
    student = serializers.IntegerField()
    date = serializers.CharField(help_text="Empty where it is about the figures at the month's end.")
    what = serializers.CharField()
    before = serializers.CharField()
    now = serializers.CharField()
    entry = serializers.IntegerField(allow_null=True)


class LogMonthSerializer(serializers.Serializer[Any]):
    """A teacher's month of the log. `digest` is of `content`; send it to sign exactly this."""

    teacher = serializers.IntegerField()
    month = serializers.CharField()
    status = serializers.CharField()
    revision = serializers.IntegerField()
    is_over = serializers.BooleanField()
    digest = serializers.CharField()
    content = serializers.JSONField(
        help_text="Sessions, sessions not logged, figures at the month's end: ids only."
    )
    acts = LogMonthActSerializer(many=True)
    since = DifferenceSerializer(many=True)
    erased_sessions = serializers.IntegerField(
        help_text="Sessions that were signed or closed, of students whose records were erased since by schedule."
    )


class SignSerializer(BodySerializer):
    """A signature: the name as the person's own, and the digest of what was seen."""

    name = serializers.CharField(max_length=120)
    digest = serializers.CharField(max_length=64)


class CloseSerializer(BodySerializer):
    """`reason` only where the month isn't signed."""

    expected_revision = serializers.IntegerField(min_value=1)
    reason = serializers.CharField(required=False, allow_blank=True, default="", max_length=300)


class ReopenSerializer(BodySerializer):
    """Why it is reopened."""

    expected_revision = serializers.IntegerField(min_value=1)
    reason = serializers.CharField(max_length=300)


class LogMonthRulesSerializer(serializers.ModelSerializer[LogMonthRules]):
    """What a change in a closed month does."""

    class Meta:
        model = LogMonthRules
        fields = ("afterwards",)


class MonthApi(APIView):
    """What these views share."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission, write_permission = "month.view", "month.view"

    def view(self, request: Request, teacher: int, month: str) -> LogMonthView:
        """The month as the person may see it."""
        actor = actor_of(request)
        return month_view(month_teacher(actor, teacher), month_in_address(month), today_of(actor))

    def told(self, request: Request, teacher: int, month: str) -> Response:
        """The month as plain values."""
        view = self.view(request, teacher, month)
        values = {
            "teacher": view.teacher.pk,
            "month": f"{view.month:%Y-%m}",
            "status": view.row.status,
            "revision": view.row.revision,
            "is_over": view.is_over,
            "digest": digest_of(view.now),
            "content": view.now,
            "acts": view.acts,
            "since": view.since,
            "erased_sessions": view.erased_sessions,
        }
        return Response(LogMonthSerializer(values).data)

    def whose(self, request: Request, teacher: int, permission: str) -> tuple[Person, Person]:
        """Who asks and about whom; the role may do it."""
        actor = actor_of(request)
        found = month_teacher(actor, teacher)
        permission_require(actor, permission)
        return actor, found

    def body(self, kind: type[BodySerializer], request: Request) -> dict[str, Any]:
        """What was sent, checked."""
        serializer = kind(data=request.data)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)


class LogMonthApi(MonthApi):
    """A teacher's month of the log."""

    @extend_schema(responses=LogMonthSerializer, operation_id="log_month")
    def get(self, request: Request, teacher: int, month: str) -> Response:
        """As it stands, beside what was signed or closed."""
        return self.told(request, teacher, month)


class LogMonthSignApi(MonthApi):
    """Sign a month of one's own log."""

    @extend_schema(request=SignSerializer, responses=LogMonthSerializer, operation_id="log_month_sign")
    def post(self, request: Request, teacher: int, month: str) -> Response:
        """Refused (changed_meanwhile) where the digest isn't that of the month as it stands."""
        actor, whose = self.whose(request, teacher, services.SIGN)
        values = self.body(SignSerializer, request)
        services.month_sign(actor=actor, teacher=whose, month=month_in_address(month), **values)
        return self.told(request, teacher, month)


class LogMonthCloseApi(MonthApi):
    """Close a month."""

    @extend_schema(request=CloseSerializer, responses=LogMonthSerializer, operation_id="log_month_close")
    def post(self, request: Request, teacher: int, month: str) -> Response:
        """As it was signed, or, with a reason, without a signature."""
        actor, whose = self.whose(request, teacher, services.CLOSE)
        values = self.body(CloseSerializer, request)
        services.month_close(actor=actor, teacher=whose, month=month_in_address(month), **values)
        return self.told(request, teacher, month)


class LogMonthReopenApi(MonthApi):
    """Open a month again."""

    @extend_schema(request=ReopenSerializer, responses=LogMonthSerializer, operation_id="log_month_reopen")
    def post(self, request: Request, teacher: int, month: str) -> Response:
        """With a reason; what was signed and closed is kept."""
        actor, whose = self.whose(request, teacher, services.CLOSE)
        values = self.body(ReopenSerializer, request)
        services.month_reopen(actor=actor, teacher=whose, month=month_in_address(month), **values)
        return self.told(request, teacher, month)


class LogMonthRulesApi(MonthApi):
    """What a change in a closed month does in the district."""

    write_permission = services.RULES

    @extend_schema(responses=LogMonthRulesSerializer)
    def get(self, request: Request) -> Response:
        """As it is."""
        district = actor_of(request).district
        row = month_rules(district) if district is not None else LogMonthRules()
        return Response(LogMonthRulesSerializer(row).data)

    @extend_schema(request=LogMonthRulesSerializer, responses=LogMonthRulesSerializer)
    def patch(self, request: Request) -> Response:
        """Refuse such changes, or keep them as dated amendments."""
        asked = LogMonthRulesSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        row = services.month_rules_save(
            actor=actor_of(request),
            afterwards=asked.validated_data.get("afterwards", LogMonthRules.Afterwards.REFUSE),
        )
        return Response(LogMonthRulesSerializer(row).data)
