"""The API of leaves: what waits with a teacher, who takes the students, another last day, taking it back."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import (
    ReadViewSet,
    RecordSerializer,
    RefusesUnknownFields,
    VisibleRelatedField,
    actor_of,
)
from accounts.api_fields import DateField
from accounts.models import Person
from caseload.plans.models import Student
from schedule.leaving.models import TeacherLeave
from schedule.leaving.selectors import leaving_of
from schedule.leaving.services import (
    PERMISSION,
    leave_arrange,
    leave_foreseen,
    leave_last_day_change,
    leave_last_day_foreseen,
    leave_take_back,
)


class TeacherLeaveSerializer(RecordSerializer[TeacherLeave]):
    """A leave; `students` are those who went over."""

    class Meta:
        model = TeacherLeave
        fields = ("id", "teacher", "receiver", "first_day", "last_day", "students")
        read_only_fields = fields


class ArrangeLeaveSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Who is away when, and who takes which students; none named: all of them."""

    teacher = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER))
    receiver = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER))
    first_day = DateField(help_text="The first day away.")
    last_day = DateField(required=False, help_text="The last day away; without it the teacher leaves for good.")
    students = VisibleRelatedField(queryset=Student.objects.all(), many=True, required=False)


class LeaveLastDaySerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Another last day away."""

    last_day = DateField()


class AskWaitingSerializer(RefusesUnknownFields, serializers.Serializer[Any]):
    """Of whom, and from which day."""

    teacher = VisibleRelatedField(queryset=Person.objects.filter(role=Person.Role.TEACHER))
    first_day = DateField(help_text="The first day away.")


class LeavingWaitSerializer(serializers.Serializer[Any]):
    """One sort of thing that waits; `month` is its first day where it is about one."""

    about = serializers.CharField()
    count = serializers.IntegerField()
    words = serializers.CharField()
    month = DateField(allow_null=True)


class LeavingSerializer(serializers.Serializer[Any]):
    """What waits before a day, what stands from it on, and how many students are still with the teacher then."""

    before = LeavingWaitSerializer(many=True)
    after = LeavingWaitSerializer(many=True)
    still = serializers.IntegerField()


class LeaveEffectsSerializer(serializers.Serializer[Any]):
    """What it would do, in sentences."""

    effects = serializers.ListField(child=serializers.CharField())


class LeaveViewSet(ReadViewSet[TeacherLeave]):
    """Leaves of the district's teachers, for coordinators."""

    serializer_class = TeacherLeaveSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = PERMISSION
    http_method_names = ["get", "post", "delete", "head", "options"]

    def get_queryset(self) -> QuerySet[TeacherLeave]:
        """With both teachers."""
        rows = super().get_queryset().select_related("teacher", "receiver", "district")
        return rows.prefetch_related("students")

    @extend_schema(request=ArrangeLeaveSerializer, responses={201: TeacherLeaveSerializer})
    def create(self, request: Request) -> Response:
        """Hand students over on the first day, and back on the day after the last."""
        made = leave_arrange(actor=actor_of(request), **self._asked(request))
        return Response(self.get_serializer(made).data, status=status.HTTP_201_CREATED)

    @extend_schema(request=ArrangeLeaveSerializer, responses=LeaveEffectsSerializer)
    @action(detail=False, methods=["post"])
    def effects(self, request: Request) -> Response:
        """What arranging it would do. Nothing is saved."""
        told = leave_foreseen(actor=actor_of(request), **self._asked(request))
        return Response(LeaveEffectsSerializer({"effects": told}).data)

    @extend_schema(request=AskWaitingSerializer, responses=LeavingSerializer)
    @action(detail=False, methods=["post"])
    def waiting(self, request: Request) -> Response:
        """What waits with a teacher who goes on a day. Nothing is saved."""
        body = AskWaitingSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        found = leaving_of(actor_of(request), body.validated_data["teacher"], body.validated_data["first_day"])
        return Response(LeavingSerializer(found).data)

    @extend_schema(request=LeaveLastDaySerializer, responses=TeacherLeaveSerializer)
    @action(detail=True, methods=["post"], url_path="last-day")
    def last_day(self, request: Request, pk: int) -> Response:
        """Back sooner or later than was said."""
        row = self.get_object()
        leave_last_day_change(actor=actor_of(request), row=row, **self._last_day_asked(request))
        return Response(self.get_serializer(row).data)

    @extend_schema(request=LeaveLastDaySerializer, responses=LeaveEffectsSerializer)
    @action(detail=True, methods=["post"], url_path="last-day-effects")
    def last_day_effects(self, request: Request, pk: int) -> Response:
        """What another last day would do, to leaves of the same students too. Nothing is saved."""
        row = self.get_object()
        told = leave_last_day_foreseen(actor=actor_of(request), row=row, **self._last_day_asked(request))
        return Response(LeaveEffectsSerializer({"effects": told}).data)

    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Take both hand-overs back."""
        leave_take_back(actor=actor_of(request), row=self.get_object())
        return Response(status=status.HTTP_204_NO_CONTENT)

    def _last_day_asked(self, request: Request) -> dict[str, Any]:
        body = LeaveLastDaySerializer(data=request.data)
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)

    def _asked(self, request: Request) -> dict[str, Any]:
        body = ArrangeLeaveSerializer(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)
