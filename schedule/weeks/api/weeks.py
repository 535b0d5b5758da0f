"""The API of planned weeks: read, edit by hand, publish, bring back, discard, compare."""

from collections.abc import Callable
from typing import Any

from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, VisibleRelatedField, actor_of
from accounts.api_fields import DateField, DateFilter, IdField, IdFilter
from schedule.weeks.data import DayDetail, SessionOption, WeekComparison, WeekDetail
from schedule.weeks.models import UnplacedSession, WeekPlan, WeekQuestion
from schedule.weeks.planning.others.ahead import OthersAhead, others_ahead
from schedule.weeks.question_data import CurveView, FavorsView, FavorView
from schedule.weeks.selectors.arrivals import WeekArrivals, week_arrivals
from schedule.weeks.selectors.questions import curve_found, favors_found, question_get
from schedule.weeks.selectors.weeks import compare_weeks, session_options, unplaced_options, week_detail
from schedule.weeks.services import questions
from schedule.weeks.services import weeks as services
from travel.places.models import Space

CHANGE = "week.change"


class WeekVersionSerializer(RecordSerializer[WeekPlan]):
    """A version of a week without what is in it."""

    class Meta:
        model = WeekPlan
        fields = (
            "id",
            "teacher",
            "monday",
            "last_date",
            "status",
            "version",
            "revision",
            "name",
            "based_on",
            "plan_run",
            "created_at",
            "published_at",
        )
        read_only_fields = fields


class DaySerializer(DataclassSerializer[DayDetail]):
    """One date: its sessions, and what fills the day between them."""

    class Meta:
        dataclass = DayDetail
        exclude = ("entries",)


class WeekDetailSerializer(DataclassSerializer[WeekDetail]):
    """A version of a week as far as the person may see it; an office sees no students."""

    days = DaySerializer(many=True)

    class Meta:
        dataclass = WeekDetail


class SessionOptionSerializer(DataclassSerializer[SessionOption]):
    """A moment for a session, and the rules that it would break."""

    class Meta:
        dataclass = SessionOption


class OthersAheadSerializer(DataclassSerializer[OthersAhead]):
    """What a draft would meet of other teachers' weeks."""

    class Meta:
        dataclass = OthersAhead


class WeekComparisonSerializer(DataclassSerializer[WeekComparison]):
    """Two versions side by side; less is better in every goal."""

    class Meta:
        dataclass = WeekComparison


class WeekArrivalsSerializer(DataclassSerializer[WeekArrivals]):
    """The drives of a week, as likely as they are."""

    class Meta:
        dataclass = WeekArrivals


class FavorSerializer(DataclassSerializer[FavorView]):
    """One favor, whom to ask for it, and what it gives."""

    class Meta:
        dataclass = FavorView


class FavorsSerializer(DataclassSerializer[FavorsView]):
    """Single favors that would place more or save driving, the best first; each was tried and is true."""

    favours = FavorSerializer(many=True, source="favors")  # addresses and fields keep the spelling they began with

    class Meta:
        dataclass = FavorsView
        fields = (
            "question",
            "favours",
            "possible",
            "tried",
            "stopped",
            "dismissed",
            "base_proved",
            "base_near",
            "replanning",
        )


class CurveSerializer(DataclassSerializer[CurveView]):
    """Driving against sessions moved, from the week that moves least to the week that drives least."""

    class Meta:
        dataclass = CurveView


class RevisionSerializer(BodySerializer):
    """The revision that the person saw: if somebody was faster, nothing is done (``changed_meanwhile``)."""

    expected_revision = serializers.IntegerField(min_value=1)


class SessionSerializer(RevisionSerializer):
    """A session of the week by its uid, which stays the same from version to version."""

    uid = serializers.UUIDField()


class PinSerializer(SessionSerializer):
    """Whether planning again leaves the session where it is."""

    pinned = serializers.BooleanField()


class SpotSerializer(RevisionSerializer):
    """A date, a time local to the building, and a space or none for any that fits."""

    date = DateField()
    start = serializers.TimeField()
    space = VisibleRelatedField(queryset=Space.objects.all(), required=False, allow_null=True, default=None)


class MoveSerializer(SpotSerializer, SessionSerializer):
    """Where a session goes."""


class PublishSerializer(RevisionSerializer):
    """Putting a draft in force."""

    leave_out = serializers.BooleanField(
        default=False, help_text="Leave out sessions that other teachers' weeks in force rule out."
    )


class PlaceSerializer(SpotSerializer):
    """Where one of the unplaced sessions goes."""

    unplaced = IdField(help_text="Its id in the week's list.")


class RenameSerializer(BodySerializer):
    """A draft's name; an empty one takes it away."""

    name = serializers.CharField(max_length=questions.LONGEST_NAME, allow_blank=True)


class PointSerializer(BodySerializer):
    """A point of the curve by its number."""

    point = serializers.IntegerField(min_value=0)


class OptionsQuery(BodySerializer):
    """A placed session by its uid, or an unplaced one by its id."""

    uid = serializers.UUIDField(required=False)
    unplaced = IdField(required=False)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """One of the two."""
        if len(attrs) != 1:
            raise serializers.ValidationError("Give either uid or unplaced.")
        return attrs


class CompareQuery(BodySerializer):
    """The other version."""

    other = VisibleRelatedField(queryset=WeekPlan.objects.all())


class WeekFilters(filters.FilterSet):  # type: ignore[misc]  # the library ships no types
    """By teacher, by the week's Monday, by where the version stands."""

    teacher = IdFilter("teacher_id")
    monday = DateFilter()
    status = filters.ChoiceFilter(choices=WeekPlan.Status.choices)


def _edit[F: Callable[..., Response]](body: type[BodySerializer] | None) -> Callable[[F], F]:
    return extend_schema(request=body, responses=WeekDetailSerializer)


def _answer(serializer: DataclassSerializer[Any], *, created: bool) -> Response:
    return Response(serializer.data, status.HTTP_201_CREATED if created else status.HTTP_200_OK)


class WeekViewSet(ReadViewSet[WeekPlan]):
    """Versions of weeks. Editing one that is in force makes a draft of it first, which the answer shows."""

    serializer_class = WeekVersionSerializer
    filterset_class = WeekFilters
    read_permission, write_permission = "week.view", CHANGE
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(responses=WeekDetailSerializer)
    def retrieve(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """All that is in a version."""
        return self._detail(self.get_object())

    @_edit(MoveSerializer)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, pk: int) -> Response:
        """Move a session."""
        return self._edited(services.week_session_move, MoveSerializer)

    @_edit(PinSerializer)
    @action(detail=True, methods=["post"])
    def pin(self, request: Request, pk: int) -> Response:
        """Pin a session, or let it go."""
        return self._edited(services.week_session_pin, PinSerializer)

    @_edit(SessionSerializer)
    @action(detail=True, methods=["post"])
    def remove(self, request: Request, pk: int) -> Response:
        """Take a session out: it is among the unplaced then."""
        return self._edited(services.week_session_remove, SessionSerializer)

    @_edit(PlaceSerializer)
    @action(detail=True, methods=["post"])
    def place(self, request: Request, pk: int) -> Response:
        """Place one of the unplaced sessions."""
        week = self.get_object()
        values = self._checked(PlaceSerializer, request.data)
        unplaced = get_object_or_404(UnplacedSession, week=week, pk=values.pop("unplaced"))
        place = services.week_session_place
        return self._detail(place(actor=actor_of(request), week=week, unplaced=unplaced, **values))

    @_edit(RevisionSerializer)
    @action(detail=True, methods=["post"])
    def undo(self, request: Request, pk: int) -> Response:
        """Take back the last edit of a draft."""
        return self._edited(services.week_edit_undo, RevisionSerializer)

    @_edit(PublishSerializer)
    @action(detail=True, methods=["post"])
    def publish(self, request: Request, pk: int) -> Response:
        """Put a draft in force as the next version."""
        return self._edited(services.week_publish, PublishSerializer)

    @extend_schema(responses=OthersAheadSerializer)
    @action(detail=True, read_permission=CHANGE)
    def others(self, request: Request, pk: int) -> Response:
        """What a draft would meet of other teachers' weeks: students, classes and spaces that they have."""
        return Response(OthersAheadSerializer(others_ahead(actor_of(request), self.get_object())).data)

    @_edit(None)
    @action(detail=True, methods=["post"])
    def restore(self, request: Request, pk: int) -> Response:
        """Bring the version before this one back as a new version, or this one if it was replaced."""
        return self._edited(services.week_restore, BodySerializer)

    @_edit(None)
    @action(detail=True, methods=["post"])
    def discard(self, request: Request, pk: int) -> Response:
        """Set a draft aside."""
        return self._edited(services.week_discard, BodySerializer)

    @extend_schema(parameters=[OptionsQuery], responses=SessionOptionSerializer(many=True))
    @action(detail=True, url_path="options", read_permission=CHANGE, pagination_class=None, filterset_class=None)
    def session_options(self, request: Request, pk: int) -> Response:
        """Where a session could go."""
        week, asked = self.get_object(), self._checked(OptionsQuery, request.query_params)
        if "uid" in asked:
            found = session_options(actor_of(request), week, str(asked["uid"]))
        else:
            found = unplaced_options(actor_of(request), week, asked["unplaced"])
        return Response(SessionOptionSerializer(found, many=True).data)

    @extend_schema(
        parameters=[OpenApiParameter("other", int, required=True, description="The other version's id.")],
        responses=WeekComparisonSerializer,
    )
    @action(detail=True, read_permission=CHANGE)
    def compare(self, request: Request, pk: int) -> Response:
        """How another version differs from this one."""
        week, asked = self.get_object(), self._checked(CompareQuery, request.query_params)
        return Response(WeekComparisonSerializer(compare_weeks(actor_of(request), week, asked["other"])).data)

    @extend_schema(responses=WeekArrivalsSerializer)
    @action(detail=True, read_permission=CHANGE)
    def arrivals(self, request: Request, pk: int) -> Response:
        """How likely each drive arrives on time, the tightest one, and what each pair of buildings costs."""
        return Response(WeekArrivalsSerializer(week_arrivals(actor_of(request), self.get_object())).data)

    @_edit(RenameSerializer)
    @action(detail=True, methods=["post"])
    def rename(self, request: Request, pk: int) -> Response:
        """Name a draft."""
        return self._edited(questions.week_rename, RenameSerializer)

    @extend_schema(methods=["get"], responses=FavorsSerializer)
    @extend_schema(methods=["post"], request=None, responses={201: FavorsSerializer})
    @action(detail=True, methods=["get", "post"], url_path="favours", url_name="favours", read_permission=CHANGE)
    def favors(self, request: Request, pk: int) -> Response:
        """What to ask for: POST to have it worked out in the background, GET for how far that is."""
        actor, week, asks = actor_of(request), self.get_object(), request.method == "POST"
        if asks:
            questions.week_favors_ask(actor=actor, week=week)
        question_get(actor, week, WeekQuestion.Kind.FAVORS)
        return _answer(FavorsSerializer(favors_found(actor, week)), created=asks)

    @extend_schema(methods=["get"], responses=CurveSerializer)
    @extend_schema(methods=["post"], request=None, responses={201: CurveSerializer})
    @action(detail=True, methods=["get", "post"], read_permission=CHANGE)
    def curve(self, request: Request, pk: int) -> Response:
        """What staying costs: POST to have it worked out in the background, GET for how far that is."""
        actor, week, asks = actor_of(request), self.get_object(), request.method == "POST"
        if asks:
            questions.week_curve_ask(actor=actor, week=week)
        question_get(actor, week, WeekQuestion.Kind.CURVE)
        return _answer(CurveSerializer(curve_found(actor, week)), created=asks)

    @extend_schema(request=None, responses=FavorsSerializer)
    @action(detail=True, methods=["post"], url_path="favours/stop", url_name="favours-stop")
    def favors_stop(self, request: Request, pk: int) -> Response:
        """End the search for favors with those found so far."""
        week = self._stopped(WeekQuestion.Kind.FAVORS)
        return Response(FavorsSerializer(favors_found(actor_of(request), week)).data)

    @extend_schema(request=None, responses=CurveSerializer)
    @action(detail=True, methods=["post"], url_path="curve/stop", url_name="curve-stop")
    def curve_stop(self, request: Request, pk: int) -> Response:
        """End the weighing with the points found so far."""
        week = self._stopped(WeekQuestion.Kind.CURVE)
        return Response(CurveSerializer(curve_found(actor_of(request), week)).data)

    @_edit(PointSerializer)
    @action(detail=True, methods=["post"], url_path="save-point", url_name="save-point")
    def save_point(self, request: Request, pk: int) -> Response:
        """Save one point of the curve as a draft, which the answer shows."""
        return self._edited(questions.week_point_save, PointSerializer)

    def _stopped(self, kind: WeekQuestion.Kind) -> WeekPlan:
        actor, week = actor_of(self.request), self.get_object()
        questions.week_question_stop(actor=actor, question=question_get(actor, week, kind))
        return week

    def _edited(self, service: Any, body: type[BodySerializer]) -> Response:
        week = self.get_object()
        values = self._checked(body, self.request.data)
        return self._detail(service(actor=actor_of(self.request), week=week, **values))

    def _checked(self, body: type[BodySerializer], data: Any) -> dict[str, Any]:
        serializer = body(data=data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def _detail(self, week: WeekPlan) -> Response:
        return Response(WeekDetailSerializer(week_detail(actor_of(self.request), week)).data)
