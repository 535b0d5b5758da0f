"""The API of routines, class hours and load lists: the same selectors and services as the pages."""

import uuid
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    RecordSerializer,
    RolePermission,
    VisibleRelatedField,
    actor_of,
    visible_rows,
)
from accounts.api_fields import IdField, MomentField
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from caseload.progress.models import StudentGoal
from schedule.class_hour import services
from schedule.class_hour.data import DayClashes, HourView, LoadList, RunTapView
from schedule.class_hour.models import Routine, RoutinePart, RunTap
from schedule.class_hour.selectors.clashes import week_clashes
from schedule.class_hour.selectors.hours import hour_found, hours_of_day, hours_shown
from schedule.class_hour.selectors.load import load_list
from schedule.class_hour.selectors.taps import taps_of
from schedule.equipment.api import KeptViewSet
from schedule.equipment.models import Equipment
from schedule.weeks.pages.request import date_of
from schedule.weeks.selectors.pages import NO_TEACHER, teacher_for
from schedule.weeks.selectors.weeks import week_get

DATE = OpenApiParameter("date", OpenApiTypes.DATE, OpenApiParameter.PATH)
TEACHER = OpenApiParameter(
    "teacher", OpenApiTypes.INT, description="Id; if left out, the first teacher whom you may see."
)


class RoutineSerializer(RecordSerializer[Routine]):
    """A routine without its parts. A teacher's new one is the teacher's own."""

    class Meta:
        model = Routine
        fields = (
            "id", "teacher", "name", "about", "school_class", "students",
            "variant_of", "variant", "attention_minutes", "on_shelf",
        )  # fmt: skip
        read_only_fields = ("variant_of",)
        extra_kwargs = {"teacher": {"required": False}}


class CopySerializer(BodySerializer):
    """With `variant` the copy is a variant of the original, and this says what is different."""

    variant = serializers.CharField(max_length=40, required=False, default="")


class RoutineViewSet(KeptViewSet[Routine]):
    """The routines that the person may see: the own, and those on the district's shelf."""

    serializer_class = RoutineSerializer
    filters = {"school_class": "school_class_id", "teacher": "teacher_id"}
    read_permission = "caseload.view"
    write_permission = services.OWN
    save_service = services.routine_save
    delete_service = services.routine_put_away
    bring_back_service = services.routine_bring_back

    def get_queryset(self) -> QuerySet[Routine]:
        """Each once."""
        return super().get_queryset().distinct()

    @extend_schema(request=CopySerializer, responses={201: RoutineSerializer})
    @action(detail=True, methods=["post"])
    def copy(self, request: Request, pk: int) -> Response:
        """A copy with all parts, of one's own."""
        row = self.get_object()
        sent = CopySerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        made = services.routine_copy(actor=actor_of(request), row=row, variant=sent.validated_data["variant"])
        return Response(self.get_serializer(made).data, status=201)


class PartNeedSerializer(BodySerializer):
    """So many of one kind of equipment."""

    equipment = VisibleRelatedField(queryset=Equipment.objects.all())
    count = serializers.IntegerField(min_value=1, max_value=999)


class PartSerializer(RecordSerializer[RoutinePart]):
    """A part of a routine; `needs` are all the equipment that it takes, `goals` those that it serves."""

    needs = PartNeedSerializer(many=True, required=False)
    goals = VisibleRelatedField(queryset=StudentGoal.objects.all(), many=True, required=False)

    class Meta:
        model = RoutinePart
        fields = (
            "id", "routine", "position", "kind", "title", "activity", "what", "cue", "minutes", "least_minutes",
            "when_short", "where", "leads", "aide_notes", "set_up", "set_up_by", "is_known", "is_far_apart",
            "needs", "goals",
        )  # fmt: skip
        read_only_fields = ("position",)

    def to_representation(self, instance: RoutinePart) -> Any:
        """Goals of students whom the person may see."""
        shown = super().to_representation(instance)
        seen = visible_rows(StudentGoal, self.context["request"].user).filter(routine_parts=instance)
        return {**shown, "goals": list(seen.values_list("pk", flat=True))}

    def validate_needs(self, value: list[dict[str, Any]]) -> dict[int, int]:
        """Counts by equipment, each named once."""
        counts = {one["equipment"].pk: one["count"] for one in value}
        if len(counts) != len(value):
            message = "The same equipment stands here twice. Name it once, with how many it takes."
            raise serializers.ValidationError(message)
        return counts


class PartMoveSerializer(BodySerializer):
    """Which place it gets, counted from 1."""

    to = serializers.IntegerField(min_value=1, max_value=services.MOST_PARTS)


class PartViewSet(KeptViewSet[RoutinePart]):
    """Parts of the routines that the person may see."""

    serializer_class = PartSerializer
    filters = {"routine": "routine_id"}
    read_permission = "caseload.view"
    write_permission = services.OWN
    save_service = services.part_save
    delete_service = services.part_take_out
    bring_back_service = services.part_bring_back
    parents = ("routine",)
    prefetch = ("needs",)

    @extend_schema(request=PartMoveSerializer, responses=PartSerializer)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, pk: int) -> Response:
        """Give it another place; the others close up."""
        row = self.get_object()
        sent = PartMoveSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        services.part_move(actor=actor_of(request), row=row, to=sent.validated_data["to"])
        return Response(self.get_serializer(row).data)


class HourSerializer(DataclassSerializer[HourView]):
    """A session with its routine in the minutes that the class has."""

    class Meta:
        dataclass = HourView


class LoadSerializer(DataclassSerializer[LoadList]):
    """What to take along on a date."""

    class Meta:
        dataclass = LoadList


class HourQuery(BodySerializer):
    """Whose day."""

    teacher = IdField(required=False, default=None)


class RoutineChoiceSerializer(BodySerializer):
    """A session and its routine: an id, null for none, or `usual` to go back to its class's or group's."""

    uid = serializers.UUIDField()
    routine = VisibleRelatedField(queryset=Routine.objects.all(), allow_null=True, required=False)
    usual = serializers.BooleanField(default=False)


class HoursApi(APIView):
    """What both share: whose day it is."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = "caseload.view"
    write_permission = services.CHOOSE

    def teacher(self, request: Request) -> Person:
        """The teacher asked for, or the first whom the person may see."""
        asked = HourQuery(data=request.query_params)
        asked.is_valid(raise_exception=True)
        found = teacher_for(actor_of(request), asked.validated_data["teacher"])
        if found is None:
            raise ApplicationError(NO_TEACHER, code="not_found", status=404)
        return found


class ClassHoursApi(HoursApi):
    """The class hours of a date."""

    @extend_schema(operation_id="class_hours_list", parameters=[DATE, TEACHER], responses=HourSerializer(many=True))
    def get(self, request: Request, date: str) -> Response:
        """Each session that takes place, with its routine."""
        teacher, day = self.teacher(request), date_of(date)
        hours = hours_of_day(actor_of(request), teacher, day)
        return Response(HourSerializer(hours_shown(hours), many=True).data)

    @extend_schema(
        operation_id="class_hour_choose",
        parameters=[DATE, TEACHER],
        request=RoutineChoiceSerializer,
        responses=HourSerializer(many=True),
    )
    def post(self, request: Request, date: str) -> Response:
        """Choose the routine of one session; other days stay as they are."""
        teacher, day = self.teacher(request), date_of(date)
        sent = RoutineChoiceSerializer(data=request.data, context={"request": request})
        sent.is_valid(raise_exception=True)
        values = {"routine": None, **sent.validated_data}
        services.routine_choose(actor=actor_of(request), teacher=teacher, date=day, **values)
        return self.get(request, date)


class RunTapSerializer(BodySerializer):
    """A tap on the clock of a running session: `on` and `longer` of the part that ran, by its id."""

    client_id = serializers.UUIDField()
    kind = serializers.ChoiceField(choices=RunTap.Kind.choices)
    part = serializers.IntegerField(min_value=0, max_value=2**31 - 1, default=0)
    at = MomentField(required=False, allow_null=True, default=None, help_text="When it was tapped, if sent later.")


class RunTapViewSerializer(DataclassSerializer[RunTapView]):
    """A tap as it is kept."""

    class Meta:
        dataclass = RunTapView


class RunTapsApi(HoursApi):
    """The taps on the clock of a running session, from all phones, in order; the clock follows from them."""

    @extend_schema(
        operation_id="class_hour_taps_list", parameters=[DATE, TEACHER], responses=RunTapViewSerializer(many=True)
    )
    def get(self, request: Request, date: str, uid: uuid.UUID) -> Response:
        """What was tapped."""
        day = date_of(date)
        if hour_found(actor_of(request), self.teacher(request), day, uid) is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        return Response(RunTapViewSerializer(taps_of(uid, day), many=True).data)

    @extend_schema(
        operation_id="class_hour_tap",
        parameters=[DATE, TEACHER],
        request=RunTapSerializer,
        responses=RunTapViewSerializer(many=True),
    )
    def post(self, request: Request, date: str, uid: uuid.UUID) -> Response:
        """One more; answers with all of them. Taking back the last is one, too."""
        teacher, day = self.teacher(request), date_of(date)
        sent = RunTapSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        services.run_tap(actor=actor_of(request), teacher=teacher, date=day, uid=uid, **sent.validated_data)
        return Response(RunTapViewSerializer(taps_of(uid, day), many=True).data)


class DayClashesSerializer(DataclassSerializer[DayClashes]):
    """What is wanted in two places at once on a date."""

    class Meta:
        dataclass = DayClashes


class WeekEquipmentApi(APIView):
    """What a version of a week wants while others' weeks in force want it."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission = write_permission = "caseload.view"

    @extend_schema(operation_id="week_equipment_list", responses=DayClashesSerializer(many=True))
    def get(self, request: Request, week_id: int) -> Response:
        """By day, in sentences; a draft is asked like a published week."""
        viewer = actor_of(request)
        found = week_clashes(viewer, week_get(viewer, week_id))
        return Response(DayClashesSerializer(found, many=True).data)


class LoadListApi(HoursApi):
    """A load list."""

    @extend_schema(operation_id="load_list_retrieve", parameters=[DATE, TEACHER], responses=LoadSerializer)
    def get(self, request: Request, date: str) -> Response:
        """What to put into the car, stop by stop."""
        return Response(LoadSerializer(load_list(actor_of(request), self.teacher(request), date_of(date))).data)
