"""The API of calendar feeds: list, add, choose what they show, new address, stop."""

from typing import Any

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
    ReadViewSet,
    RecordSerializer,
    RefusesUnknownFields,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.models import Substitution
from accounts.pages import site_of
from caseload.plans.models import SchoolClass
from schedule.calendar.models import BusyCalendar
from schedule.calendar.services.busy import busy_add, busy_again, busy_delete
from schedule.feeds.models import Feed
from schedule.feeds.selectors.silent import SilentCalendar, silent_calendars
from schedule.feeds.selectors.titles import titles_with_names
from schedule.feeds.services.feeds import (
    OPTIONS,
    feed_add,
    feed_new_address,
    feed_options_save,
    feed_own_require,
    feed_stop,
)
from travel.places.models import Building

SCOPE_FIELDS = ("building", "school_class", "substitution")
OPTION_FIELDS = (
    "label", "students", "says_setting", "drives", "alarm_minutes", "leave_alarm_minutes", "days_back",
    "days_ahead",
)  # fmt: skip


class FeedSerializer(RecordSerializer[Feed]):
    """A feed, without its address: that is shown once, when it is made.

    `titles_with_names`: titles of meetings and special days, shown as they were written, with a student's name.
    """

    titles_with_names = serializers.SerializerMethodField()

    class Meta:
        model = Feed
        fields = (
            "id", "owner", "kind", "teacher", *SCOPE_FIELDS, *OPTION_FIELDS,
            "created_at", "stopped_at", "ends_on", "last_fetched_at", "last_fetched_by", "titles_with_names",
        )  # fmt: skip
        read_only_fields = fields

    def get_titles_with_names(self, feed: Feed) -> list[str]:
        """Of the version that was built last; for its owner alone."""
        request = self.context.get("request")
        return list(titles_with_names(feed)) if request is not None and request.user == feed.owner else []


class FeedAddressSerializer(serializers.Serializer[Any]):
    """A feed and the address by which it is fetched; whoever has the address reads the feed."""

    feed = FeedSerializer()
    address = serializers.URLField()


class FeedOptionsSerializer(RefusesUnknownFields, serializers.ModelSerializer[Feed]):
    """What a feed shows. Full names need `names_confirmed`, and never appear on a building's feed."""

    names_confirmed = serializers.BooleanField(default=False)

    class Meta:
        model = Feed
        fields: tuple[str, ...] = (*OPTION_FIELDS, "names_confirmed")

    def get_validators(self) -> list[Any]:
        """None: the service validates the whole row."""
        return []


class FeedAddSerializer(FeedOptionsSerializer):
    """A new feed: its kind and what that needs to be chosen."""

    kind = serializers.ChoiceField(choices=Feed.Kind.choices)
    building = VisibleRelatedField(queryset=Building.objects.all(), required=False, allow_null=True)
    school_class = VisibleRelatedField(queryset=SchoolClass.objects.all(), required=False, allow_null=True)
    substitution = VisibleRelatedField(queryset=Substitution.objects.all(), required=False, allow_null=True)

    class Meta(FeedOptionsSerializer.Meta):
        fields: tuple[str, ...] = ("kind", *SCOPE_FIELDS, *OPTION_FIELDS, "names_confirmed")


class FeedViewSet(ReadViewSet[Feed]):
    """Feeds of the person who asks; a coordinator sees the district's and may stop them."""

    serializer_class = FeedSerializer
    read_permission = write_permission = "week.view"
    http_method_names = ["get", "post", "patch", "head", "options"]

    @extend_schema(request=FeedAddSerializer, responses={201: FeedAddressSerializer})
    def create(self, request: Request) -> Response:
        """Add a feed; the answer is the only place where its address ever stands."""
        values = self._checked(FeedAddSerializer)
        options = {name: values.pop(name) for name in OPTIONS if name in values}
        feed, address = feed_add(actor=actor_of(request), values=options, site=site_of(request), **values)
        return self._with_address(feed, address, status.HTTP_201_CREATED)

    @extend_schema(request=FeedOptionsSerializer, responses=FeedSerializer)
    def partial_update(self, request: Request, pk: int) -> Response:
        """Change what a feed shows."""
        feed = self.get_object()
        feed_own_require(actor_of(request), feed)
        values = self._checked(FeedOptionsSerializer, partial=True)
        confirmed = values.pop("names_confirmed", False)
        feed_options_save(actor=actor_of(request), feed=feed, values=values, names_confirmed=confirmed)
        return Response(FeedSerializer(feed).data)

    @extend_schema(request=None, responses=FeedAddressSerializer)
    @action(detail=True, methods=["post"])
    def address(self, request: Request, pk: int) -> Response:
        """A new address; the old one stops working at once."""
        feed = self.get_object()
        return self._with_address(feed, feed_new_address(actor=actor_of(request), feed=feed, site=site_of(request)))

    @extend_schema(request=None, responses=FeedSerializer)
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: int) -> Response:
        """End a feed."""
        return Response(FeedSerializer(feed_stop(actor=actor_of(request), feed=self.get_object())).data)

    def _checked(self, body: type[FeedOptionsSerializer], *, partial: bool = False) -> dict[str, Any]:
        serializer = body(data=self.request.data, partial=partial, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)

    def _with_address(self, feed: Feed, address: str, code: int = status.HTTP_200_OK) -> Response:
        answer = Response(FeedAddressSerializer({"feed": feed, "address": address}).data, status=code)
        answer.headers["Cache-Control"] = "no-store"
        return answer


class SilentCalendarSerializer(DataclassSerializer[SilentCalendar]):
    """A calendar that nobody fetches anymore or that can't be read, with the page to do something about it."""

    class Meta:
        dataclass = SilentCalendar


class SilentCalendarsApi(APIView):
    """Calendars that have gone silent."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "week.view"

    @extend_schema(operation_id="silent_calendars_list", responses=SilentCalendarSerializer(many=True))
    def get(self, request: Request) -> Response:
        """One's own, and for who keeps the district's calendars those too."""
        found = silent_calendars(actor_of(request), timezone.now())
        return Response(SilentCalendarSerializer(found, many=True).data)


class BusyCalendarSerializer(RecordSerializer[BusyCalendar]):
    """A calendar of the teacher's own that blocks planning. `content` is an iCalendar file's text."""

    # Not the framework's own kind: it would refuse an address that begins with webcal.
    address = serializers.CharField(max_length=500, required=False, allow_blank=True)
    content = serializers.CharField(write_only=True, required=False, trim_whitespace=False)
    left_out = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = BusyCalendar
        fields = ("id", "title", "address", "content", "added_at", "read_at", "problem", "left_out")
        read_only_fields = ("id", "added_at", "read_at", "problem", "left_out")


class BusyCalendarViewSet(mixins.DestroyModelMixin, ReadViewSet[BusyCalendar]):
    """The teacher's own calendars; nobody else's can be seen."""

    serializer_class = BusyCalendarSerializer
    read_permission = write_permission = "week.change"
    http_method_names = ["get", "post", "delete", "head", "options"]

    def create(self, request: Request) -> Response:
        """Add one by its address, read in the background, or as a file's text, read now."""
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        values = dict(serializer.validated_data)
        content = values.get("content")
        row = busy_add(
            actor=actor_of(request),
            title=values["title"],
            address=values.get("address", ""),
            content=content.encode() if content is not None else None,
        )
        row.refresh_from_db()
        return Response(self.get_serializer(row).data, status=status.HTTP_201_CREATED)

    def perform_destroy(self, instance: BusyCalendar) -> None:
        """Forget it and its times."""
        busy_delete(actor=actor_of(self.request), row=instance)

    @extend_schema(request=None, responses=BusyCalendarSerializer)
    @action(detail=True, methods=["post"])
    def read(self, request: Request, pk: int) -> Response:
        """Have its address read again."""
        row = self.get_object()
        busy_again(actor=actor_of(request), row=row)
        return Response(self.get_serializer(row).data)
