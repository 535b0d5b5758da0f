"""The API of terms: plan one, look at it, put it in force, take it back; its run is stopped as any other."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import ReadViewSet, RecordSerializer, RefusesUnknownFields, VisibleRelatedField, actor_of
from accounts.api_fields import DateField
from accounts.models import Person, held_ever
from caseload.ledger.defaults import MOST_USUAL_TIMES_WORTH
from schedule.terms.ahead_data import TermAheadView
from schedule.terms.changing import WAY_WORDS, Way
from schedule.terms.data import TermCurveView, TermView
from schedule.terms.models import TermPlan
from schedule.terms.selectors.ahead import term_ahead
from schedule.terms.selectors.curve import curve_get, term_curve
from schedule.terms.selectors.terms import term_detail
from schedule.terms.services import curve as services
from schedule.terms.services import publishing
from schedule.terms.services.plans import MOST_SECONDS, USUAL_SECONDS, term_plan_start
from schedule.weeks.selectors.pages import district_today

CHANGE = "week.change"


class TermPlanSerializer(RecordSerializer[TermPlan]):
    """What was asked for a term; `run` is the planning run that works on it."""

    teacher = serializers.PrimaryKeyRelatedField[Person](source="run.teacher", read_only=True)
    first_date = DateField(source="run.first_date", read_only=True)
    last_date = DateField(source="run.last_date", read_only=True)

    class Meta:
        model = TermPlan
        fields = ("id", "teacher", "first_date", "last_date", "worth", "way", "afresh", "run")
        read_only_fields = fields


class TermSerializer(DataclassSerializer[TermView]):
    """A term: its standing timetable, its weeks with their exceptions, and how far the planner is."""

    class Meta:
        dataclass = TermView


class TermAheadSerializer(DataclassSerializer[TermAheadView]):
    """What publishing a term would change."""

    class Meta:
        dataclass = TermAheadView


class PublishedSerializer(DataclassSerializer[publishing.Published]):
    """How many weeks are in force now, and why others aren't."""

    class Meta:
        dataclass = publishing.Published


class PublishTermSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Putting a term in force."""

    leave_out = serializers.BooleanField(
        default=False, help_text="Leave out sessions that other teachers' weeks in force rule out."
    )


class TermTakenBackSerializer(DataclassSerializer[publishing.TermTakenBack]):
    """What became of the weeks of a term that was taken back."""

    class Meta:
        dataclass = publishing.TermTakenBack


class PlanTermSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Which term to plan; `teacher` is the person who asks where none is given."""

    teacher = VisibleRelatedField(queryset=Person.objects.filter(held_ever(Person.Role.TEACHER)), required=False)
    first_date = DateField()
    last_date = DateField()
    worth = serializers.IntegerField(
        default=None,
        allow_null=True,
        min_value=0,
        max_value=MOST_USUAL_TIMES_WORTH,
        help_text=(
            "Keep usual times unless leaving them saves at least so many minutes of driving a week; as the "
            "district's rules say (`usual_times_worth`, in force on the first date) where none is given."
        ),
    )
    way = serializers.ChoiceField(
        choices=list(WAY_WORDS.items()),
        default=Way.FEWEST_MOVES,
        help_text="What comes first where the timetable in force has to change.",
    )
    afresh = serializers.BooleanField(default=False, help_text="Plan a new timetable, whatever is in force.")
    seed = serializers.IntegerField(default=1, min_value=0, max_value=2**31 - 1)
    time_limit = serializers.IntegerField(
        default=USUAL_SECONDS,
        min_value=1,
        max_value=MOST_SECONDS,
        help_text="Seconds of search for the whole term.",
    )


class TermCurveSerializer(DataclassSerializer[TermCurveView]):
    """The dated weeks of one timetable, from routine to least driving."""

    class Meta:
        dataclass = TermCurveView


class WorthSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """A choice, by one of its `worths`."""

    worth = serializers.IntegerField(min_value=0, max_value=MOST_USUAL_TIMES_WORTH)


class TermViewSet(ReadViewSet[TermPlan]):
    """Terms of a teacher, each with one standing timetable."""

    serializer_class = TermPlanSerializer
    filters = {"teacher": "run__teacher_id"}
    read_permission = write_permission = CHANGE
    http_method_names = ["get", "post", "head", "options"]

    def get_queryset(self) -> QuerySet[TermPlan]:
        """With the run and its job."""
        return super().get_queryset().select_related("run__job", "run__teacher", "district", "standing")

    @extend_schema(responses=TermSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask again every second or so while it is planned."""
        return self._view(self.get_object())

    @extend_schema(request=PlanTermSerializer, responses={201: TermSerializer})
    def create(self, request: Request) -> Response:
        """Plan a term in the background."""
        body = PlanTermSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        actor = actor_of(request)
        values = {"teacher": actor, **body.validated_data}
        term = term_plan_start(actor=actor, **{**values, "way": Way(values["way"])})
        return self._view(term, status.HTTP_201_CREATED)

    @extend_schema(request=PublishTermSerializer, responses=PublishedSerializer)
    @action(detail=True, methods=["post"])
    def publish(self, request: Request, pk: int) -> Response:
        """Put the standing timetable and every draft of the term in force."""
        term, body = self.get_object(), PublishTermSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        done = publishing.term_publish(actor=actor_of(request), term=term, **body.validated_data)
        return Response(PublishedSerializer(done).data)

    @extend_schema(responses=TermAheadSerializer)
    @action(detail=True, methods=["get"], url_path="publishing", url_name="publishing", read_permission=CHANGE)
    def publishing(self, request: Request, pk: int) -> Response:
        """What publishing the term's drafts would change, and what stands against it."""
        return Response(TermAheadSerializer(term_ahead(actor_of(request), self.get_object())).data)

    @extend_schema(request=None, responses=TermSerializer)
    @action(detail=True, methods=["post"], url_path="publish-timetable")
    def publish_timetable(self, request: Request, pk: int) -> Response:
        """Put the standing timetable in force alone; its weeks stay drafts."""
        term = self.get_object()
        publishing.standing_publish(actor=actor_of(request), term=term)
        return self._view(self.get_object())

    @extend_schema(request=None, responses=TermTakenBackSerializer)
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Take the standing timetable out of force, with its weeks that haven't begun."""
        actor = actor_of(request)
        today = district_today(actor)
        done = publishing.term_take_back(actor=actor, term=self.get_object(), today=today)
        return Response(TermTakenBackSerializer(done).data)

    @extend_schema(methods=["get"], responses=TermCurveSerializer, operation_id="term_curve")
    @extend_schema(
        methods=["post"], request=None, responses={201: TermCurveSerializer}, operation_id="term_curve_ask"
    )
    @action(detail=True, methods=["get", "post"], read_permission=CHANGE)
    def curve(self, request: Request, pk: int) -> Response:
        """Between routine and least driving: POST to have it worked out in the background, GET what is found."""
        actor, term, asks = actor_of(request), self.get_object(), request.method == "POST"
        if asks:
            services.term_curve_ask(actor=actor, term=term)
        curve_get(actor, term)
        code = status.HTTP_201_CREATED if asks else status.HTTP_200_OK
        return Response(TermCurveSerializer(term_curve(actor, term)).data, status=code)

    @extend_schema(request=None, responses=TermCurveSerializer)
    @action(detail=True, methods=["post"], url_path="curve/stop", url_name="curve-stop")
    def curve_stop(self, request: Request, pk: int) -> Response:
        """End the search for choices with those found so far."""
        actor, term = actor_of(request), self.get_object()
        services.term_curve_stop(actor=actor, curve=curve_get(actor, term))
        return Response(TermCurveSerializer(term_curve(actor, term)).data)

    @extend_schema(request=WorthSerializer, responses=TermSerializer)
    @action(detail=True, methods=["post"], url_path="take-point", url_name="take-point")
    def take_point(self, request: Request, pk: int) -> Response:
        """Make the weeks of one choice the drafts of the term."""
        term = self.get_object()
        body = WorthSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        services.term_point_take(actor=actor_of(request), term=term, **body.validated_data)
        return self._view(self.get_object())

    def _view(self, term: TermPlan, code: int = status.HTTP_200_OK) -> Response:
        return Response(TermSerializer(term_detail(actor_of(self.request), term)).data, status=code)
