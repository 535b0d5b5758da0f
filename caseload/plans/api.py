"""The API of the caseload floor: students, plans, service lines, times when a student can't be taken, classes."""

from collections.abc import Callable, Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts import api_fields
from accounts.api import BodySerializer, RecordSerializer, RecordViewSet, actor_of
from caseload.plans import services
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import Plan, SchoolClass, ServiceLine, Student, StudentHold
from caseload.plans.selectors import place_told

VIEW, RECORDS, CHANGE = "caseload.view", "records.view", "caseload.change"
FILL_IN = "Fill this in."
REVISION_NEEDED = (
    "Send the revision of the service as you saw it, so that nobody's change is lost. It is {} now: read the "
    "service again before you send that."
)
# What a change of terms can't say: which line it is, its plan, its kind of service, its first day.
_NO_TERMS = frozenset({"id", "service", "plan", "service_type", "start"})


class StudentSerializer(RecordSerializer[Student]):
    """A student. With `statement` a new student gets a provisional plan with that one service line."""

    statement = serializers.CharField(
        write_only=True,
        required=False,
        max_length=120,
        help_text="For a new student without a plan: the service given until it arrives, such as 2 x 30 min/week.",
    )

    from_day = api_fields.DateField(
        write_only=True,
        required=False,
        help_text="From which day another building, home class, grade or caseload teacher of a known student "
        "holds; days before it keep theirs. Needed for another building; today where it is missing otherwise.",
    )

    reading = serializers.CharField(
        write_only=True,
        required=False,
        allow_blank=True,
        max_length=120,
        help_text="Where the statement can mean two things: which is meant, as the refusal's `readings` say.",
    )

    class Meta:
        model = Student
        fields = (
            "id",
            "code",
            "first_name",
            "last_name",
            "grade",
            "building",
            "home_class",
            "caseload_teacher",
            "first_day",
            "last_day",
            "from_day",
            "statement",
            "reading",
        )
        extra_kwargs = {"caseload_teacher": {"required": False}}

    def validate_statement(self, value: str) -> str:
        """Only with a new student: later, service lines are changed by themselves."""
        if self.instance is not None:
            raise serializers.ValidationError("Change the student's service lines instead.")
        return value

    validate_reading = validate_statement


class StudentViewSet(RecordViewSet[Student]):
    """The caseload: a teacher's own, a coordinator's district."""

    serializer_class = StudentSerializer
    filters = {"building": "building_id", "teacher": "caseload_teacher_id"}
    read_permission, write_permission = RECORDS, CHANGE
    save_service = services.student_save
    delete_service = services.student_delete

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """With a statement, add the provisional plan in the same transaction."""
        values = dict(serializer.validated_data)
        if "statement" not in values:
            values.pop("reading", None)
        save = services.student_add_without_plan if "statement" in values else services.student_save
        serializer.instance = save(actor=actor_of(self.request), row=Student(), values=values)


class ForeseenSerializer(BodySerializer):
    """What saving would change of owed, delivered and open minutes, in sentences; empty for nothing."""

    effects = serializers.ListField(child=serializers.CharField())


class RenewalSerializer(BodySerializer):
    """The new plan's dates; without them the day after the plan's last, for a year."""

    start = api_fields.DateField(required=False)
    end = api_fields.DateField(required=False)
    annual_review = api_fields.DateField(required=False, allow_null=True)
    note = serializers.CharField(required=False, allow_blank=True, max_length=10_000)


def checked(asked: serializers.BaseSerializer[Any]) -> Mapping[str, Any]:
    """What a body says; raises the framework's `ValidationError` by field."""
    asked.is_valid(raise_exception=True)
    return asked.validated_data  # type: ignore[no-any-return]  # a mapping, once it is valid


class PlanSerializer(RecordSerializer[Plan]):
    """A student's plan. A new one that is in force ends the provisional plan the day before it starts."""

    class Meta:
        model = Plan
        fields = ("id", "student", "status", "start", "end", "annual_review", "note")


class PlanViewSet(RecordViewSet[Plan]):
    """Plans of the students whom the person may see."""

    serializer_class = PlanSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = RECORDS, CHANGE
    save_service = services.plan_save
    delete_service = services.plan_delete
    parents = ("student",)

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """The plan that has come replaces the provisional one."""
        values = serializer.validated_data
        provisional = values.get("status") == Plan.Status.PROVISIONAL
        save = services.plan_save if provisional else services.plan_replace_provisional
        row = Plan(student=values["student"])
        serializer.instance = save(actor=actor_of(self.request), row=row, values=values)

    @extend_schema(request=RenewalSerializer, responses=PlanSerializer)
    @action(detail=True, methods=["post"])
    def renew(self, request: Request, pk: int) -> Response:
        """The same terms in a new plan. Answers with the new plan."""
        values = checked(RenewalSerializer(data=request.data))
        row = services.plan_renew(actor=actor_of(request), row=self.get_object(), values=values)
        return Response(self.get_serializer(row).data)

    @extend_schema(request=RenewalSerializer, responses=ForeseenSerializer)
    @action(detail=True, methods=["post"], url_path="renew/effects", url_name="renew-effects")
    def renew_effects(self, request: Request, pk: int) -> Response:
        """What a renewal would change of owed, delivered and open minutes. Nothing is saved."""
        actor, row, values = actor_of(request), self.get_object(), checked(RenewalSerializer(data=request.data))
        told = effects_foreseen(
            actor, row.student, lambda: services.plan_renew(actor=actor, row=row, values=values)
        )
        return Response(ForeseenSerializer({"effects": told}).data)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="undo-renewal", url_name="undo-renewal")
    def undo_renewal(self, request: Request, pk: int) -> Response:
        """Take the renewal that made this plan back."""
        services.change_undo(actor=actor_of(request), row=self.get_object())
        return Response(status=204)


class ServiceLineSerializer(RecordSerializer[ServiceLine]):
    """A service line. `statement` is read into the parts of the frequency, which can only be read here.

    Dates are the plan's, and the provider is the caseload teacher, where none are given. Lines with one `service`
    are versions of its terms; `revision` is that service's, and is sent with a change: it says what the sender saw.
    """

    revision = serializers.IntegerField(
        source="service.revision", required=False, min_value=1, help_text="Of the service; raised by each change."
    )
    reading = serializers.CharField(
        write_only=True,
        required=False,
        allow_blank=True,
        max_length=120,
        help_text="Where the statement can mean two things: which is meant, as the refusal's `readings` say.",
    )
    read_as = serializers.CharField(
        read_only=True, help_text="What the statement was read as, with the sum: 2 x 30 = 60 minutes a week."
    )

    class Meta:
        model = ServiceLine
        fields: tuple[str, ...] = (
            "id",
            "service",
            "revision",
            "plan",
            "provider",
            "building",
            "service_type",
            "setting",
            "statement",
            "reading",
            "read_as",
            "reading_chosen",
            "times",
            "minutes",
            "minutes_total",
            "unit",
            "cycle_days",
            "weeks_on",
            "weeks_of",
            "start",
            "end",
            "extended_year",
            "pushed_into",
            "largest_group",
            "allowed_spaces",
            "held_in",
            "way_minutes",
            "days_apart",
        )
        read_only_fields: tuple[str, ...] = ("service", *services.READ_PARTS)
        extra_kwargs = {
            "provider": {"required": False},
            "start": {"required": False},
            "end": {"required": False},
        }


class ServiceChangeSerializer(ServiceLineSerializer):
    """New terms of a service from a day on: only what differs is sent, with the revision that the sender saw."""

    from_day = api_fields.DateField(write_only=True, help_text="First day of the new terms.")
    revision = serializers.IntegerField(
        min_value=1, write_only=True, help_text="Of the service, as the sender saw it."
    )

    class Meta(ServiceLineSerializer.Meta):
        fields: tuple[str, ...] = (
            "from_day",
            *(name for name in ServiceLineSerializer.Meta.fields if name not in _NO_TERMS),
        )
        read_only_fields = services.READ_PARTS
        extra_kwargs = {}


class ServiceLineViewSet(RecordViewSet[ServiceLine]):
    """Service lines of the students whom the person may see, each a version of a service.

    A PATCH says that a version was always wrong: what was owed in the past changes with it. `change` is the usual
    way: new terms from a day on, the past stays. Both need the `revision` that the sender saw.
    """

    serializer_class = ServiceLineSerializer
    filters = {
        "plan": "plan_id",
        "student": "plan__student_id",
        "provider": "provider_id",
        "service": "service_id",
    }
    read_permission, write_permission = RECORDS, CHANGE
    save_service = services.service_line_save
    delete_service = services.service_line_delete
    prefetch = ("allowed_spaces", "service")
    parents = ("plan",)

    def perform_update(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """A correction of the version."""
        serializer.instance = self._correct(self.get_object(), serializer.validated_data)

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """A new line begins a service, which nobody has seen before."""
        values = {name: value for name, value in serializer.validated_data.items() if name != "service"}
        row = ServiceLine(plan=values["plan"])
        serializer.instance = services.service_line_save(actor=actor_of(self.request), row=row, values=values)

    def _correct(self, row: ServiceLine, sent: Mapping[str, Any], *, tried: bool = False) -> ServiceLine:
        """By the revision that the sender saw; trying it out needs none."""
        if not tried and "service" not in sent:
            raise serializers.ValidationError({"revision": [REVISION_NEEDED.format(row.service.revision)]})
        values = {name: value for name, value in sent.items() if name != "service"}
        seen = sent.get("service", {}).get("revision")
        return services.service_correct(actor=actor_of(self.request), row=row, values=values, seen=seen)

    def _change(self, row: ServiceLine, sent: Mapping[str, Any]) -> ServiceLine:
        values = {name: value for name, value in sent.items() if name not in {"from_day", "revision"}}
        return services.service_change(
            actor=actor_of(self.request), row=row, from_day=sent["from_day"], values=values, seen=sent["revision"]
        )

    @extend_schema(request=ServiceChangeSerializer, responses=ServiceLineSerializer)
    @action(detail=True, methods=["post"])
    def change(self, request: Request, pk: int) -> Response:
        """New terms from a day on. Answers with the version that holds from that day."""
        row = self._change(self.get_object(), self._terms(request))
        return Response(self.get_serializer(row).data)

    @extend_schema(request=ServiceChangeSerializer, responses=ForeseenSerializer)
    @action(detail=True, methods=["post"], url_path="change/effects", url_name="change-effects")
    def change_effects(self, request: Request, pk: int) -> Response:
        """What new terms from a day on would change of owed, delivered and open minutes. Nothing is saved."""
        row, sent = self.get_object(), self._terms(request)
        return self._foreseen(row, sent, lambda: self._change(row, sent))

    @extend_schema(responses=ForeseenSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What a correction would change of owed, delivered and open minutes. Nothing is saved."""
        row = self.get_object()
        asked = self.get_serializer(row, data=request.data, partial=True)
        asked.is_valid(raise_exception=True)
        sent = asked.validated_data
        return self._foreseen(row, sent, lambda: self._correct(row, sent, tried=True))

    @extend_schema(request=None, responses=ServiceLineSerializer(many=True))
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take the last change of the line's service back. Answers with the service's versions."""
        service = self.get_object().service
        services.change_undo(actor=actor_of(request), row=service)
        return Response(self.get_serializer(self.get_queryset().filter(service=service), many=True).data)

    def _terms(self, request: Request) -> Mapping[str, Any]:
        asked = ServiceChangeSerializer(data=request.data, partial=True, context=self.get_serializer_context())
        asked.is_valid(raise_exception=True)
        missing = {name: [FILL_IN] for name in ("from_day", "revision") if name not in asked.validated_data}
        if missing:
            raise serializers.ValidationError(missing)
        return asked.validated_data  # type: ignore[no-any-return]  # a mapping, once it is valid

    def _foreseen(self, row: ServiceLine, sent: Mapping[str, Any], act: Callable[[], object]) -> Response:
        told = place_told(row, sent)  # before the act, which may change the row at hand
        told += effects_foreseen(actor_of(self.request), row.plan.student, act)
        return Response(ForeseenSerializer({"effects": told}).data)


class StudentHoldSerializer(RecordSerializer[StudentHold]):
    """A time when a student can't be taken: a period's name, or two local clock times."""

    class Meta:
        model = StudentHold
        fields = ("id", "student", "reason", "days", "period", "start", "end", "first_day", "last_day")


class StudentHoldViewSet(RecordViewSet[StudentHold]):
    """Times when the students whom the person may see can't be taken."""

    serializer_class = StudentHoldSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.hold_save
    delete_service = services.hold_delete
    parents = ("student",)


class SchoolClassSerializer(RecordSerializer[SchoolClass]):
    """A class of a building."""

    class Meta:
        model = SchoolClass
        fields = ("id", "building", "code", "name", "kind", "class_teacher", "grades", "ratio", "largest")


class SchoolClassViewSet(RecordViewSet[SchoolClass]):
    """Classes of the buildings that the person may see; they hold no student's data."""

    serializer_class = SchoolClassSerializer
    filters = {"building": "building_id"}
    read_permission, write_permission = "week.view", CHANGE
    save_service = services.school_class_save
    delete_service = services.school_class_delete
    parents = ("building",)
