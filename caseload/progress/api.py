"""The API of goals: goals with what they are read as, phase changes, rules, data points and what they say."""

from typing import Any

from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    VisibleRelatedField,
    actor_of,
    little,
    wants_little,
)
from accounts.api_fields import DateField, DateFilter, IdFilter, MomentField
from accounts.selectors import today_of
from caseload.progress import services
from caseload.progress.models import DataPoint, GoalRules, PhaseChange, StudentGoal
from caseload.progress.reading import goal_readings
from caseload.progress.selectors.goals import goal_words
from caseload.progress.selectors.story import goal_story
from caseload.progress.services.data import TAKE
from caseload.progress.services.goals import CHANGE, RULES
from caseload.progress.words import reading_words

VIEW = "caseload.view"


class GoalSerializer(RecordSerializer[StudentGoal]):
    """A goal. A text without a `measure` is read; `readings` says what it can mean while nobody has said which."""

    reading = serializers.CharField(
        write_only=True,
        required=False,
        allow_blank=True,
        max_length=200,
        help_text="Where the text can mean two things: which is meant, as `readings` says.",
    )
    read_as = serializers.SerializerMethodField(help_text="What the goal asks for, in words; empty while unread.")
    readings = serializers.SerializerMethodField(
        help_text="What an unread text can mean; empty where it is unclear."
    )

    class Meta:
        model = StudentGoal
        fields = (
            "id",
            "student",
            "parent",
            "text",
            "measure",
            "wanted",
            "baseline",
            "criterion",
            "trials",
            "sessions",
            "sessions_of",
            "distance_unit",
            "levels",
            "condition",
            "start",
            "end",
            "ended_on",
            "ended_why",
            "position",
            "reading",
            "read_as",
            "readings",
        )
        read_only_fields = ("ended_on", "ended_why")

    def get_read_as(self, row: StudentGoal) -> str:
        """In words."""
        return goal_words(row)

    def get_readings(self, row: StudentGoal) -> list[str]:
        """Of a text that waits for an answer."""
        return [] if row.measure else [reading_words(one) for one in goal_readings(row.text)]


class GoalEndSerializer(BodySerializer):
    """The last day for data, and why."""

    ended_on = DateField()
    ended_why = serializers.CharField(required=False, allow_blank=True, default="", max_length=300)


class GoalSaysSerializer(BodySerializer):
    """What a goal's data say today, in sentences; days with a missed session and no data."""

    sentences = serializers.ListField(child=serializers.CharField())
    missed = serializers.ListField(child=DateField())


class GoalViewSet(RecordViewSet[StudentGoal]):
    """Goals of the students whom the person may see."""

    serializer_class = GoalSerializer
    filters = {"student": "student_id", "parent": "parent_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.goal_save
    delete_service = services.goal_delete
    parents = ("student",)

    @extend_schema(request=None, responses=GoalSerializer)
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Undo what was done last to it; refused (nothing_to_undo, changed_since) where that can't be."""
        services.goal_take_back(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(self.get_object()).data)

    @extend_schema(request=GoalEndSerializer, responses=GoalSerializer)
    @action(detail=True, methods=["post"])
    def end(self, request: Request, pk: int) -> Response:
        """Say from when no data are taken anymore."""
        goal = self.get_object()
        asked = GoalEndSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        row = services.goal_end(actor=actor_of(request), row=goal, values=asked.validated_data)
        return Response(self.get_serializer(row).data)

    @extend_schema(request=None, responses=GoalSerializer)
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, pk: int) -> Response:
        """Take an end back."""
        row = services.goal_reopen(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(row).data)

    @extend_schema(responses=GoalSaysSerializer)
    @action(detail=True, methods=["get"])
    def says(self, request: Request, pk: int) -> Response:
        """What the data say today."""
        story = goal_story(self.get_object(), today_of(actor_of(request)))
        return Response(GoalSaysSerializer({"sentences": story.sentences, "missed": story.missed}).data)


class PhaseChangeSerializer(RecordSerializer[PhaseChange]):
    """What is otherwise about the teaching from a day on."""

    class Meta:
        model = PhaseChange
        fields = ("id", "goal", "day", "words")


class PhaseChangeViewSet(RecordViewSet[PhaseChange]):
    """Phase changes of the goals that the person may see."""

    serializer_class = PhaseChangeSerializer
    filters = {"goal": "goal_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.phase_change_save
    delete_service = services.phase_change_delete
    parents = ("goal",)


class GoalRulesSerializer(RecordSerializer[GoalRules]):
    """A district's rules for goals from a day on."""

    class Meta:
        model = GoalRules
        fields = ("id", "first_day", "decision_rule", "days_without_data")


class GoalRulesViewSet(RecordViewSet[GoalRules]):
    """The district's rules for goals, by date."""

    serializer_class = GoalRulesSerializer
    read_permission, write_permission = VIEW, RULES
    save_service = services.goal_rules_save
    delete_service = services.goal_rules_delete


class DataPointSerializer(serializers.ModelSerializer[DataPoint]):
    """What was seen once; with `undone_at` it was taken back and doesn't count."""

    class Meta:
        model = DataPoint
        fields = (
            "id",
            "client_id",
            "goal",
            "day",
            "session_uid",
            "value",
            "tried",
            "marks",
            "taken_by",
            "taken_by_name",
            "taken_at",
            "note",
            "undone_at",
        )
        read_only_fields = fields


class NewDataSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """One data point. Sent again under its `client_id` it is stored once."""

    client_id = serializers.UUIDField(help_text="Made by the sender, also without signal.")
    goal = VisibleRelatedField(
        queryset=StudentGoal.objects.all(), along=("student__district", "student__building__district"), seen=True
    )
    day = DateField()
    value = serializers.DecimalField(
        max_digits=8, decimal_places=2, min_value=0, help_text="In the goal's own unit."
    )
    tried = serializers.IntegerField(required=False, allow_null=True, default=None, min_value=1, max_value=100)
    marks = serializers.RegexField(
        r"\A[01]*\Z",
        required=False,
        allow_blank=True,
        default="",
        max_length=100,
        help_text="1 yes, 0 no, in order.",
    )
    session_uid = serializers.UUIDField(required=False, allow_null=True, default=None)
    taken_by_name = serializers.CharField(required=False, allow_blank=True, default="", max_length=120)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=1000)
    taken_at = MomentField(
        required=False, allow_null=True, default=None, help_text="When it was taken, if it is sent later."
    )


class DataPointFilters(filters.FilterSet):  # type: ignore[misc]  # the library ships no types
    """By goal, student and dates."""

    goal = IdFilter("goal_id")
    student = IdFilter("goal__student_id")
    first_day = DateFilter(field_name="day", lookup_expr="gte")
    last_day = DateFilter(field_name="day", lookup_expr="lte")


class DataPointViewSet(ReadViewSet[DataPoint]):
    """Data points of the students whom the person may see."""

    serializer_class = DataPointSerializer
    filterset_class = DataPointFilters
    read_permission, write_permission = VIEW, TAKE
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(request=NewDataSerializer, responses={201: DataPointSerializer})
    def create(self, request: Request) -> Response:
        """Store one data point."""
        asked = NewDataSerializer(data=request.data, context=self.get_serializer_context())
        asked.is_valid(raise_exception=True)
        row = services.data_take(actor=actor_of(request), taken=services.DataTaken(**asked.validated_data))
        return little(201, row.pk) if wants_little(request) else Response(self.get_serializer(row).data, status=201)

    @extend_schema(request=None, responses=DataPointSerializer)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take a data point back."""
        row = services.data_undo(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(row).data)

    @extend_schema(request=None, responses=DataPointSerializer)
    @action(detail=True, methods=["post"])
    def restore(self, request: Request, pk: int) -> Response:
        """Count it again."""
        row = services.data_restore(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(row).data)
