"""The API of who serves whom: posts, questions with their proposals, changes by hand, taking over and back."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.models import SchoolClass, Student
from schedule.assigning.models import AssigningProposal, AssigningRun, TeacherPost
from schedule.assigning.selectors.shown import (
    AssigningView,
    ProposalView,
    assigning_view,
    proposal_view,
)
from schedule.assigning.services.asked import proposal_take_back_ask, proposal_take_over_ask
from schedule.assigning.services.by_hand import proposal_move, proposal_move_undo
from schedule.assigning.services.posts import PERMISSION, post_delete, post_save
from schedule.assigning.services.runs import MOST_MINUTES, assigning_start, assigning_stop
from schedule.assigning.services.taking_over import HandOver, proposal_taking_foreseen
from schedule.long_steps.api import LongStepViewSerializer, step_accepted
from travel.places.models import Building


class PostSerializer(RecordSerializer[TeacherPost]):
    """What a teacher is employed for from a day on; share in percent of a full post."""

    class Meta:
        model = TeacherPost
        fields = ("id", "teacher", "first_day", "share", "base", "field", "not_at")


class PostViewSet(RecordViewSet[TeacherPost]):
    """Posts of the district's teachers, for coordinators."""

    serializer_class = PostSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = PERMISSION
    save_service = post_save
    delete_service = post_delete


class AssigningRunSerializer(RecordSerializer[AssigningRun]):
    """What was asked, and where that stands."""

    state = serializers.CharField(source="job.state", read_only=True)

    class Meta:
        model = AssigningRun
        fields = (
            "id", "question", "first_day", "last_day", "leaver", "teachers", "staying", "bases", "classes",
            "moving_to", "share", "minutes", "asked_at", "state",
        )  # fmt: skip
        read_only_fields = fields


class AssigningSerializer(DataclassSerializer[AssigningView]):
    """How far a run is, with its proposals."""

    class Meta:
        dataclass = AssigningView


class AskAssigningSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """What is asked, from when, of which teachers."""

    question = serializers.ChoiceField(choices=AssigningRun.Question.choices, default=AssigningRun.Question.WHO)
    first_day = DateField(help_text="From when students would be with their new teachers.")
    teachers = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER), many=True)
    staying = VisibleRelatedField(queryset=Student.objects.all(), many=True, required=False)
    leaver = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER), required=False)
    last_day = DateField(required=False, help_text="Of an absence: the last day away.")
    bases = VisibleRelatedField(queryset=Building.objects.all(), many=True, required=False)
    classes = VisibleRelatedField(queryset=SchoolClass.objects.all(), many=True, required=False)
    moving_to = VisibleRelatedField(
        queryset=Building.objects.all(), required=False, help_text="Where the classes move, perhaps a new building."
    )
    share = serializers.IntegerField(
        default=100, min_value=1, max_value=100, help_text="Of one more post: percent."
    )
    minutes = serializers.IntegerField(
        default=3, min_value=1, max_value=MOST_MINUTES, help_text="Of search, for all proposals."
    )


class AssigningRunViewSet(ReadViewSet[AssigningRun]):
    """Questions who serves whom, for coordinators. Nothing changes by them."""

    serializer_class = AssigningRunSerializer
    read_permission = write_permission = PERMISSION
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[AssigningRun]:
        """With the job's row."""
        rows = super().get_queryset().select_related("job", "district", "leaver")
        return rows.prefetch_related("teachers", "staying", "bases")

    @extend_schema(responses=AssigningSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so while it is worked on."""
        return self._view(self.get_object())

    @extend_schema(request=AskAssigningSerializer, responses={201: AssigningSerializer})
    def create(self, request: Request) -> Response:
        """Have proposals made in the background."""
        body = AskAssigningSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        row = assigning_start(actor=actor_of(request), **body.validated_data)
        return self._view(row, status.HTTP_201_CREATED)

    @extend_schema(request=None, responses=AssigningSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """End with the proposals so far."""
        return self._view(assigning_stop(actor=actor_of(request), row=self.get_object()))

    def _view(self, row: AssigningRun, code: int = status.HTTP_200_OK) -> Response:
        return Response(AssigningSerializer(assigning_view(actor_of(self.request), row)).data, status=code)


class ProposalSerializer(DataclassSerializer[ProposalView]):
    """A proposal teacher by teacher."""

    class Meta:
        dataclass = ProposalView


class ProposalRowSerializer(RecordSerializer[AssigningProposal]):
    """Which proposal of which run."""

    class Meta:
        model = AssigningProposal
        fields = ("id", "run", "position", "title", "base", "revision", "taken_at")
        read_only_fields = fields


class StudentsMoveSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Who goes to whom: `units` by their keys, `to` a teacher's key, both as the proposal has them."""

    units = serializers.ListField(child=serializers.CharField(max_length=80), allow_empty=False, max_length=2000)
    to = serializers.CharField(max_length=20)
    revision = serializers.IntegerField(required=False, help_text="As it was seen; another is refused.")


class RevisionSeenSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which revision was seen."""

    revision = serializers.IntegerField(required=False, help_text="As it was seen; another is refused.")


class HandOverInProposalSerializer(serializers.Serializer[Any]):
    """Students, by id, who go from one teacher to another; `gone` aren't with the first anymore."""

    giver = serializers.IntegerField(source="giver.pk")
    receiver = serializers.IntegerField(source="receiver.pk")
    students = serializers.SerializerMethodField()
    gone = serializers.SerializerMethodField()

    def get_students(self, one: HandOver) -> list[int]:
        """Their ids."""
        return [student.pk for student in one.students]

    def get_gone(self, one: HandOver) -> list[int]:
        """Their ids."""
        return [student.pk for student in one.gone]


class ProposalViewSet(ReadViewSet[AssigningProposal]):
    """Proposals who serves whom, each by its id; the run lists them."""

    serializer_class = ProposalRowSerializer
    filters = {"run": "run_id"}
    read_permission = write_permission = PERMISSION
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[AssigningProposal]:
        """With the run."""
        return super().get_queryset().select_related("run__district", "run__leaver", "base")

    @extend_schema(responses=ProposalSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Teacher by teacher, with buildings and students."""
        return self._view(self.get_object())

    @extend_schema(request=StudentsMoveSerializer, responses=ProposalSerializer)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, pk: int) -> Response:
        """Give students to another teacher in it; the figures are counted anew."""
        row, body = self.get_object(), StudentsMoveSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        return self._view(proposal_move(actor=actor_of(request), row=row, **body.validated_data))

    @extend_schema(request=RevisionSeenSerializer, responses=ProposalSerializer)
    @action(detail=True, methods=["post"], url_path="undo-move")
    def undo_move(self, request: Request, pk: int) -> Response:
        """Take the last change by hand back."""
        row, body = self.get_object(), RevisionSeenSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        return self._view(proposal_move_undo(actor=actor_of(request), row=row, **body.validated_data))

    @extend_schema(request=None, responses=HandOverInProposalSerializer(many=True))
    @action(detail=True, methods=["post"], pagination_class=None)
    def effects(self, request: Request, pk: int) -> Response:
        """Who would go from whom to whom. Nothing is saved."""
        given = proposal_taking_foreseen(actor=actor_of(request), row=self.get_object())
        return Response(HandOverInProposalSerializer(given, many=True).data)

    @extend_schema(request=None, responses={202: LongStepViewSerializer})
    @action(detail=True, methods=["post"], url_path="take-over")
    def take_over(self, request: Request, pk: int) -> Response:
        """Have everybody handed over from the first day on; `steps` says how far that is."""
        actor = actor_of(request)
        return step_accepted(actor, proposal_take_over_ask(actor=actor, row=self.get_object()))

    @extend_schema(request=None, responses={202: LongStepViewSerializer})
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Have all of its hand-overs taken back; `steps` says how far that is."""
        actor = actor_of(request)
        return step_accepted(actor, proposal_take_back_ask(actor=actor, row=self.get_object()))

    def _view(self, row: AssigningProposal) -> Response:
        actor = actor_of(self.request)
        return Response(ProposalSerializer(proposal_view(actor, row, today_of(actor))).data)
