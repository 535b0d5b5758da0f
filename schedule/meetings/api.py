"""The API of common meetings."""

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.generics import get_object_or_404
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts.api import (
    BodySerializer,
    RecordSerializer,
    RecordViewSet,
    RolePermission,
    VisibleRelatedField,
    actor_of,
)
from accounts.models import Person
from accounts.selectors import today_of
from caseload.plans.names import name_warnings
from schedule.meetings.hooks import taken_in_force
from schedule.meetings.models import CommonMeeting
from schedule.meetings.services import (
    common_meeting_answer,
    common_meeting_remove,
    common_meeting_save,
    common_meeting_take_back,
)

CHANGE = "week.change"


class CommonMeetingSerializer(RecordSerializer[CommonMeeting]):
    """One meeting of several teachers: on a weekday (0 is Monday) between two days, or on one date.

    `people` are all of them: a coordinator puts them into it, a teacher asks the others. `asked` are those who
    haven't answered. `month_place` as of a teacher's own meetings. A `kind` of `lunch` is a wish for lunch at one
    time in one place, on `weekdays` (none: each day), between `start` and `end`; it may cost `worth_minutes` at the
    wheel, and needs no title.
    """

    people = VisibleRelatedField(many=True, queryset=Person.objects.all())
    warnings = serializers.SerializerMethodField(
        help_text="A student's name in the title, and sessions of the own weeks in force that are at that time."
    )

    class Meta:
        model = CommonMeeting
        fields = (
            "id",
            "kind",
            "title",
            "weekdays",
            "weekday",
            "month_place",
            "date",
            "first_day",
            "last_day",
            "start",
            "end",
            "building",
            "worth_minutes",
            "people",
            "asked",
            "called_by",
            "warnings",
        )
        read_only_fields = ("asked", "called_by")
        extra_kwargs: ClassVar = {"title": {"required": False}}

    def get_warnings(self, row: CommonMeeting) -> list[str]:
        """What the page shows before it is saved."""
        viewer = actor_of(self.context["request"])
        people = row.people if viewer.is_coordinator else [viewer]
        return [*name_warnings(viewer, row.title), *taken_in_force(row, people, today_of(viewer))]


class MeetingAnswerSerializer(BodySerializer):
    """Whether one comes."""

    comes = serializers.BooleanField()


class CommonMeetingViewSet(RecordViewSet[CommonMeeting]):
    """Common meetings of the person, or of the district for a coordinator."""

    serializer_class = CommonMeetingSerializer
    prefetch = ("teachers", "asked")
    read_permission = write_permission = CHANGE
    save_service = common_meeting_save
    delete_service = common_meeting_remove

    @extend_schema(request=MeetingAnswerSerializer, responses={204: None})
    @action(detail=True, methods=["post"])
    def answer(self, request: Request, pk: int, **_more: Any) -> Response:
        """Say whether you come to a meeting that a colleague called; who came along may leave again."""
        actor = actor_of(request)
        row = get_object_or_404(CommonMeeting.objects.visible_to(actor), pk=pk)
        told = MeetingAnswerSerializer(data=request.data)
        told.is_valid(raise_exception=True)
        common_meeting_answer(actor=actor, row=row, comes=told.validated_data["comes"])
        return Response(status=204)


class CommonMeetingUndoApi(APIView):
    """Take back what was done last to common meetings."""

    permission_classes = (RolePermission,)
    read_permission = write_permission = CHANGE

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        common_meeting_take_back(actor=actor_of(request))
        return Response(status=204)
