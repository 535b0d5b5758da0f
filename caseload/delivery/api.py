"""The API of the delivery log: entries with their history, corrections, decisions, reasons, rules."""

from typing import Any

from django.http import Http404
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import permissions, serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import (
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField, DateFilter, IdFilter
from accounts.errors import ApplicationError
from caseload.delivery.models import (
    CompensatoryTime,
    DeliveryEntry,
    DeliveryVersion,
    LedgerSettings,
    MissedReason,
    ReasonEffect,
    TeamDecision,
)
from caseload.delivery.selectors.log import entry_get, reasons_of, settings_of
from caseload.delivery.services.compensatory import compensatory_delete, compensatory_save
from caseload.delivery.services.log import correction_require, decision_record, delivery_correct, delivery_log
from caseload.delivery.services.rules import ledger_settings_save, reason_delete, reason_save, reasons_save
from caseload.delivery.told import LogItem, Outcome
from caseload.plans.models import ServiceLine

VIEW, WRITE, RULES, DECIDE = "log.view", "log.write", "ledger.change", "log.decide"


def _who(help_text: str) -> serializers.CharField:
    """Somebody by name; null where nothing is said."""
    return serializers.CharField(
        required=False, allow_blank=True, allow_null=True, default=None, max_length=120, help_text=help_text
    )


class GivenSerializer(serializers.Serializer[Any]):
    """Who gave it, if not the provider."""

    given_by = _who("Who gave it, if not the provider. Null: as was said before, or the substitute who logs it.")
    given_under = _who("Under whom; needed where the district's rules say so (`under_required`).")


class OutcomeSerializer(RefusesUnknownFields, GivenSerializer):
    """What happened: nothing given means as planned; a reason without minutes, nothing delivered."""

    delivered_minutes = serializers.IntegerField(required=False, allow_null=True, default=None)
    reason = serializers.CharField(required=False, allow_blank=True, default="", help_text="A reason's code.")
    note = serializers.CharField(required=False, allow_blank=True, default="")


OF_OUTCOME = frozenset(OutcomeSerializer().fields)


def outcome_of(values: dict[str, Any]) -> Outcome:
    """The outcome that a body told."""
    told = values["given_by"], values["given_under"]
    return Outcome(values["delivered_minutes"], values["reason"], values["note"], *told)


class VersionSerializer(serializers.ModelSerializer[DeliveryVersion]):
    """What one person said happened; no minutes: the log was withdrawn."""

    # Generic in the model; none where the session took place.
    reason = serializers.SlugRelatedField(  # type: ignore[var-annotated]
        "code", read_only=True, allow_null=True
    )

    class Meta:
        model = DeliveryVersion
        fields = (
            "number",
            "delivered_minutes",
            "reason",
            "note",
            "given_by",
            "given_under",
            "logged_by",
            "logged_at",
            "noted_at",
        )
        read_only_fields = fields


class DecisionSerializer(serializers.ModelSerializer[TeamDecision]):
    """What the plan's team decided about missed minutes of a reason."""

    reason = serializers.SlugRelatedField("code", read_only=True)  # type: ignore[var-annotated]  # generic in the model

    class Meta:
        model = TeamDecision
        fields = ("id", "reason", "effect", "decided_by", "decided_on", "note", "recorded_by", "recorded_at")
        read_only_fields = ("id", "recorded_by", "recorded_at")


class LogEntrySerializer(serializers.ModelSerializer[DeliveryEntry]):
    """An entry: what was planned, what people said happened, what the team decided."""

    versions = VersionSerializer(many=True, read_only=True)
    decisions = DecisionSerializer(many=True, read_only=True)

    class Meta:
        model = DeliveryEntry
        fields = (
            "id",
            "client_id",
            "service_line",
            "student",
            "compensatory",
            "provider",
            "session_uid",
            "date",
            "start",
            "planned_minutes",
            "setting",
            "makes_up",
            "makes_up_for",
            "version",
            "revision",
            "versions",
            "decisions",
        )
        read_only_fields = fields


class NewEntrySerializer(OutcomeSerializer):
    """A service line at one session, a make-up, or minutes that nobody planned (planned minutes 0)."""

    client_id = serializers.UUIDField(help_text="Made by the sender: the same one sent twice is stored once.")
    service_line = VisibleRelatedField(queryset=ServiceLine.objects.all())
    date = DateField()
    planned_minutes = serializers.IntegerField(min_value=0, max_value=480)
    start = serializers.TimeField(required=False, allow_null=True, default=None)
    makes_up = serializers.BooleanField(required=False, default=False)
    makes_up_for = DateField(required=False, allow_null=True, default=None)
    compensatory = VisibleRelatedField(
        queryset=CompensatoryTime.objects.all(),
        required=False,
        allow_null=True,
        default=None,
        help_text="The compensatory time that these minutes give; they answer no service then.",
    )
    confirmed = serializers.BooleanField(
        required=False,
        default=False,
        help_text=(
            "Answers the code alike_logged: these minutes were given beside those that are logged already, or "
            "beside a session at the same time."
        ),
    )


class CorrectionSerializer(OutcomeSerializer):
    """What happened after all. `expected_revision` is the entry's that the person saw."""

    expected_revision = serializers.IntegerField(min_value=1)
    client_id = serializers.UUIDField(required=False, allow_null=True, default=None)
    withdraw = serializers.BooleanField(
        required=False, default=False, help_text="The log was a mistake: the session waits to be logged again."
    )


class NewDecisionSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """What the team decided, by whom and when."""

    effect = serializers.ChoiceField(choices=TeamDecision.Effect.choices)
    decided_by = serializers.CharField(max_length=120)
    decided_on = DateField()
    note = serializers.CharField(required=False, allow_blank=True, default="")
    expected_revision = serializers.IntegerField(min_value=1)


class LogEntryFilters(filters.FilterSet):  # type: ignore[misc]  # the library ships no types
    """By student, service line and dates."""

    student = IdFilter("student_id")
    service_line = IdFilter("service_line_id")
    first_date = DateFilter(field_name="date", lookup_expr="gte")
    last_date = DateFilter(field_name="date", lookup_expr="lte")


class LogEntryViewSet(ReadViewSet[DeliveryEntry]):
    """The delivery log of the students whom the person may see."""

    serializer_class = LogEntrySerializer
    filterset_class = LogEntryFilters
    read_permission, write_permission = "records.view", WRITE
    http_method_names = ["get", "post", "head", "options"]
    prefetch = ("versions__reason", "decisions__reason")

    @extend_schema(request=NewEntrySerializer, responses={201: LogEntrySerializer})
    def create(self, request: Request) -> Response:
        """Log minutes of one service line."""
        values = self._checked(NewEntrySerializer, request)
        outcome = outcome_of(values)
        told = {name: value for name, value in values.items() if name not in OF_OUTCOME}
        entry = delivery_log(actor=actor_of(request), item=LogItem(outcome=outcome, **told))
        return self._answer(entry.pk, status=201)

    @extend_schema(request=CorrectionSerializer, responses=LogEntrySerializer)
    @action(detail=True, methods=["post"])
    def correct(self, request: Request, pk: int) -> Response:
        """Add a version that says what happened after all."""
        entry = entry_get(actor_of(request), pk)
        correction_require(actor_of(request), entry)
        values = self._checked(CorrectionSerializer, request)
        delivery_correct(
            actor=actor_of(request),
            entry=entry,
            outcome=None if values["withdraw"] else outcome_of(values),
            expected_revision=values["expected_revision"],
            client_id=values["client_id"],
        )
        return self._answer(entry.pk)

    @extend_schema(request=NewDecisionSerializer, responses=LogEntrySerializer)
    @action(detail=True, methods=["post"])
    def decide(self, request: Request, pk: int) -> Response:
        """Record what the plan's team decided about the missed minutes."""
        entry = self.get_object()
        decision_record(actor=actor_of(request), entry=entry, **self._checked(NewDecisionSerializer, request))
        return self._answer(entry.pk)

    def _checked(self, body: type[serializers.Serializer[Any]], request: Request) -> dict[str, Any]:
        serializer = body(data=request.data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def _answer(self, entry_id: int, status: int = 200) -> Response:
        entry = entry_get(actor_of(self.request), entry_id)
        return Response(LogEntrySerializer(entry).data, status=status)


class ReasonEffectSerializer(serializers.ModelSerializer[ReasonEffect]):
    """What a reason does from a day on."""

    class Meta:
        model = ReasonEffect
        fields = ("first_day", "effect")
        read_only_fields = fields


class MissedReasonSerializer(RecordSerializer[MissedReason]):
    """A reason for missed minutes and what it does to them in this district; `effects` from later days on."""

    effects = serializers.SerializerMethodField()

    class Meta:
        model = MissedReason
        fields = ("code", "words", "effect", "position", "effects")

    @extend_schema_field(ReasonEffectSerializer(many=True))
    def get_effects(self, row: MissedReason) -> list[Any]:
        """By their first days; none for the table that ships."""
        return list(ReasonEffectSerializer(row.effects.all() if row.pk else (), many=True).data)


class CompensatoryTimeSerializer(RecordSerializer[CompensatoryTime]):
    """Minutes that a student's team decided to give, who did and when, and until when they are to be given."""

    class Meta:
        model = CompensatoryTime
        fields = ("id", "student", "minutes", "decided_by", "decided_on", "until", "note")


class CompensatoryTimeViewSet(RecordViewSet[CompensatoryTime]):
    """Compensatory time of the students whom the person may see. Deleting takes it back, until some is given."""

    serializer_class = CompensatoryTimeSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, DECIDE
    save_service = compensatory_save
    delete_service = compensatory_delete
    parents = ("student",)


class MissedReasonChangeSerializer(RecordSerializer[MissedReason]):
    """The same without its code, which stays. With a `first_day` the effect holds for sessions from that day on."""

    first_day = DateField(required=False, allow_null=True, default=None)

    class Meta:
        model = MissedReason
        fields = ("words", "effect", "position", "first_day")


def _reasons(request: Request) -> list[MissedReason]:
    district = actor_of(request).district
    return reasons_of(district) if district is not None else []


def _reason(request: Request, code: str) -> MissedReason:
    found = next((one for one in _reasons(request) if one.code == code), None)
    if found is None:
        raise Http404
    return found


def _values(serializer: serializers.ModelSerializer[MissedReason]) -> dict[str, Any]:
    serializer.is_valid(raise_exception=True)
    return dict(serializer.validated_data)


class MissedReasonViewSet(viewsets.ViewSet):
    """The district's table of reasons by code: the one that ships until the district changes it."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission, write_permission = VIEW, RULES
    lookup_field = "code"
    lookup_value_converter = "slug"
    serializer_class = MissedReasonSerializer

    @extend_schema(responses=MissedReasonSerializer(many=True))
    def list(self, request: Request) -> Response:
        """All of them, in their order."""
        return Response(MissedReasonSerializer(_reasons(request), many=True).data)

    @extend_schema(responses=MissedReasonSerializer)
    def retrieve(self, request: Request, code: str) -> Response:
        """One of them."""
        return Response(MissedReasonSerializer(_reason(request, code)).data)

    @extend_schema(request=MissedReasonSerializer, responses={201: MissedReasonSerializer})
    def create(self, request: Request) -> Response:
        """Add a reason of the district's own."""
        values = _values(MissedReasonSerializer(data=request.data))
        row = reason_save(actor=actor_of(request), row=MissedReason(), values=values)
        return Response(MissedReasonSerializer(row).data, status=201)

    @extend_schema(request=MissedReasonChangeSerializer, responses=MissedReasonSerializer)
    def partial_update(self, request: Request, code: str) -> Response:
        """Change its words or what it does."""
        _reason(request, code)
        values = _values(MissedReasonChangeSerializer(data=request.data, partial=True))
        (row,) = reasons_save(actor=actor_of(request), values={code: values})
        return Response(MissedReasonSerializer(row).data)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, code: str) -> Response:
        """Delete it; refused once it is in the log."""
        row = _reason(request, code)
        if row.pk is None:
            raise ApplicationError(
                "The table that comes with the program applies until it is changed.", code="shipped_table"
            )
        reason_delete(actor=actor_of(request), row=row)
        return Response(status=204)


class LedgerSettingsSerializer(RecordSerializer[LedgerSettings]):
    """The rules of the district's ledger, and since when they hold."""

    class Meta:
        model = LedgerSettings
        fields = (
            "first_day",
            "short_week",
            "carry_ahead",
            "counts_from",
            "least_minutes",
            "backdating_days",
            "make_up_days",
            "under_required",
            "usual_times_worth",
        )


class LedgerSettingsApi(APIView):
    """The district's rules of today. All of them by their first days: ledger-rules."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission, write_permission = VIEW, RULES

    @extend_schema(responses=LedgerSettingsSerializer)
    def get(self, request: Request) -> Response:
        """As they are."""
        district = actor_of(request).district
        return Response(LedgerSettingsSerializer(settings_of(district) if district else LedgerSettings()).data)

    @extend_schema(request=LedgerSettingsSerializer, responses=LedgerSettingsSerializer)
    def patch(self, request: Request) -> Response:
        """Change some of them: from a first day on, or, without one, those of today since their own first day."""
        serializer = LedgerSettingsSerializer(data=request.data, partial=True)
        serializer.is_valid(raise_exception=True)
        row = ledger_settings_save(actor=actor_of(request), values=serializer.validated_data)
        return Response(LedgerSettingsSerializer(row).data)
