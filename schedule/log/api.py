"""The API of sessions to log, of whole days, and of students' ledgers."""

from typing import Any

from django.shortcuts import get_object_or_404
from drf_spectacular.utils import extend_schema
from rest_framework import permissions, serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    RolePermission,
    VisibleRelatedField,
    actor_of,
    little,
    wants_little,
)
from accounts.api_fields import DateField, IdField, MomentField
from accounts.models import Person
from caseload.delivery.api import GivenSerializer, LogEntrySerializer, OutcomeSerializer, outcome_of
from caseload.delivery.models import DeliveryEntry, LedgerSettings
from caseload.delivery.services import rules
from caseload.delivery.services.log import local_date
from caseload.delivery.services.undo import sending_undo
from caseload.plans.models import Student
from schedule.log.data import LedgerView, ledger_view
from schedule.log.selectors.ledger import student_ledger
from schedule.log.selectors.sessions import LogSession, day_sessions, unlogged_sessions
from schedule.log.services import day_mark, rules_effects, session_log
from schedule.weeks.selectors.pages import district_today, teacher_for
from travel.places.models import Building

VIEW, WRITE = "log.view", "log.write"


class LogSessionSerializer(DataclassSerializer[LogSession]):
    """A session of a published week, who is in it, and what is logged."""

    class Meta:
        dataclass = LogSession


class LedgerSerializer(DataclassSerializer[LedgerView]):
    """A student's ledger: figures, and for each period the sentences behind them."""

    class Meta:
        dataclass = LedgerView


class LogQuery(BodySerializer):
    """Whose sessions, of which date or up to which date; the own and today if nothing is said."""

    teacher = IdField(required=False, default=None)
    date = DateField(required=False, default=None)


class ExceptionSerializer(OutcomeSerializer):
    """What happened to one student's service."""

    service_line = IdField()


class SessionLogSerializer(RefusesUnknownFields, GivenSerializer):
    """A session, as planned but for the exceptions; who gave it holds for all whose exception doesn't say so."""

    session = serializers.UUIDField(help_text="The session's uid.")
    client_id = serializers.UUIDField(help_text="Made by the sender: the same one sent twice is stored once.")
    exceptions = ExceptionSerializer(many=True, required=False)
    noted_at = MomentField(
        required=False, allow_null=True, default=None, help_text="When it was noted, if it is sent later."
    )


class DayMarkSerializer(BodySerializer):
    """A day on which sessions don't take place: whose, and where."""

    date = DateField()
    client_id = serializers.UUIDField()
    teacher = VisibleRelatedField(queryset=Person.objects.all(), required=False, allow_null=True, default=None)
    building = VisibleRelatedField(queryset=Building.objects.all(), required=False, allow_null=True, default=None)
    note = serializers.CharField(required=False, allow_blank=True, default="")


class LogUndoSerializer(BodySerializer):
    """What a tap logged: a session's log, a day's marks, or minutes by themselves."""

    client_id = serializers.UUIDField(help_text="The one that was sent with what is to be taken back.")
    keep_changed = serializers.BooleanField(
        required=False,
        default=False,
        help_text="Take back the others where somebody changed some since; else nothing is taken back.",
    )


class LedgerQuery(BodySerializer):
    """Up to which date (included); today at the student's building if nothing is said."""

    as_of = DateField(required=False, default=None)


class LogApi(APIView):
    """What these views share."""

    permission_classes = (permissions.IsAuthenticated, RolePermission)
    read_permission, write_permission = VIEW, WRITE

    def checked(self, body: type[serializers.Serializer[Any]], data: Any) -> dict[str, Any]:
        """A body or query as values."""
        serializer = body(data=data, context={"request": self.request, "view": self})
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def entries(self, rows: list[DeliveryEntry]) -> Response:
        """Entries with their versions."""
        ids = [row.pk for row in rows]
        loaded = DeliveryEntry.objects.filter(pk__in=ids).prefetch_related("versions__reason", "decisions__reason")
        return Response(LogEntrySerializer(loaded, many=True).data, status=201)


class SessionsToLogApi(LogApi):
    """A teacher's sessions of a day."""

    @extend_schema(parameters=[LogQuery], responses=LogSessionSerializer(many=True))
    def get(self, request: Request) -> Response:
        """In time order, each with what is logged."""
        asked, viewer = self.checked(LogQuery, request.query_params), actor_of(request)
        teacher = teacher_for(viewer, asked["teacher"])
        date = asked["date"] or district_today(viewer)
        found = day_sessions(viewer, teacher, date) if teacher is not None else ()
        return Response(LogSessionSerializer(found, many=True).data)


class UnloggedSessionsApi(LogApi):
    """What isn't logged yet."""

    @extend_schema(parameters=[LogQuery], responses=LogSessionSerializer(many=True))
    def get(self, request: Request) -> Response:
        """A teacher's sessions up to a date that are over and wait for their log, oldest first."""
        asked, viewer = self.checked(LogQuery, request.query_params), actor_of(request)
        teacher = teacher_for(viewer, asked["teacher"])
        until = asked["date"] or district_today(viewer)
        found = unlogged_sessions(viewer, teacher, until) if teacher is not None else ()
        return Response(LogSessionSerializer(found, many=True).data)


class SessionLogApi(LogApi):
    """Log a session of a published week."""

    @extend_schema(request=SessionLogSerializer, responses={201: LogEntrySerializer(many=True)})
    def post(self, request: Request) -> Response:
        """For everyone in it: as planned, but for the exceptions."""
        values, actor = self.checked(SessionLogSerializer, request.data), actor_of(request)
        told = {one["service_line"]: outcome_of(one) for one in values.get("exceptions", ())}
        rows = session_log(
            actor=actor,
            session=values["session"],
            client_id=values["client_id"],
            exceptions=told,
            given_by=values["given_by"],
            given_under=values["given_under"],
            noted_at=values["noted_at"],
        )
        return little(201) if wants_little(request) else self.entries(rows)


class DayMarkApi(LogApi):
    """Log what a day's closings, and what happened, have made fall out."""

    @extend_schema(request=DayMarkSerializer, responses={201: LogEntrySerializer(many=True)})
    def post(self, request: Request) -> Response:
        """Each session that doesn't take place and isn't logged yet is missed for what it falls out by.

        That something happened is said with ``happenings/``, which logs it by itself.
        """
        marked = day_mark(actor=actor_of(request), **self.checked(DayMarkSerializer, request.data))
        return self.entries(list(marked.entries))


class LogUndoApi(LogApi):
    """Take back what one tap logged."""

    @extend_schema(request=LogUndoSerializer, responses={201: LogEntrySerializer(many=True)})
    def post(self, request: Request) -> Response:
        """Each entry gets a version that withdraws it; refused (changed_since) where somebody changed one since."""
        values = self.checked(LogUndoSerializer, request.data)
        done = sending_undo(
            actor=actor_of(request), sending=values["client_id"], keep_changed=values["keep_changed"]
        )
        return self.entries(list(done.entries))


class RulesEffectsSerializer(BodySerializer):
    """What saving would change of figures up to today, in sentences; empty for nothing."""

    effects = serializers.ListField(child=serializers.CharField())


class LedgerRulesSerializer(RecordSerializer[LedgerSettings]):
    """The rules of minutes from a first day on, until the next ones begin."""

    class Meta:
        model = LedgerSettings
        fields = (
            "id",
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


class LedgerRulesViewSet(RecordViewSet[LedgerSettings]):
    """The district's rules, each from its first day on; none where those that ship hold."""

    serializer_class = LedgerRulesSerializer
    read_permission, write_permission = VIEW, "ledger.change"
    save_service = rules.ledger_rules_save
    delete_service = rules.ledger_settings_delete

    @extend_schema(responses=RulesEffectsSerializer)
    @action(detail=False, methods=["post"], url_path="new/effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What new rules would change. Nothing is saved."""
        return self._foreseen(request, LedgerSettings(), partial=False)

    @extend_schema(responses=RulesEffectsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What correcting these would change. Nothing is saved."""
        return self._foreseen(request, self.get_object(), partial=True)

    def _foreseen(self, request: Request, row: LedgerSettings, *, partial: bool) -> Response:
        asked = self.get_serializer(row if partial else None, data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        actor, values = actor_of(request), asked.validated_data
        told = rules_effects(actor=actor, act=lambda: rules.ledger_rules_save(actor=actor, row=row, values=values))
        return Response(RulesEffectsSerializer({"effects": told}).data)


class LedgerApi(LogApi):
    """A student's ledger."""

    @extend_schema(parameters=[LedgerQuery], responses=LedgerSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Up to a date (included), by the rules of the district."""
        asked, viewer = self.checked(LedgerQuery, request.query_params), actor_of(request)
        student = get_object_or_404(Student.objects.visible_to(viewer).select_related("building__district"), pk=pk)
        found = student_ledger(viewer, student, asked["as_of"] or local_date(student.building))
        return Response(LedgerSerializer(ledger_view(found)).data)
