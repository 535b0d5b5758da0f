"""The API of the coming year: its draft, what is missing, starting it and taking it back."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import RecordSerializer, RecordViewSet, actor_of
from schedule.long_steps.api import LongStepViewSerializer, step_accepted
from schedule.next_year.models import (
    NextYear,
    NextYearBuilding,
    NextYearClass,
    NextYearDay,
    NextYearPeriod,
    NextYearStudent,
)
from schedule.next_year.selectors.lines import BuildingLine, StudentLine
from schedule.next_year.selectors.standing import YearStanding
from schedule.next_year.services import drafting
from schedule.next_year.services.asked import next_year_start_ask, next_year_take_back_ask
from schedule.next_year.services.starting import Foreseen, next_year_foreseen

PERMISSION = drafting.PERMISSION
OF_DRAFT = {"next_year": "next_year_id"}


class NextYearSerializer(RecordSerializer[NextYear]):
    """A coming school year; `started_at` is empty while it is a draft."""

    class Meta:
        model = NextYear
        fields = ("id", "name", "first_day", "last_day", "started_at")
        read_only_fields = ("started_at",)


class StudentNextYearSerializer(serializers.Serializer[Any]):
    """A student on the first day: building and class by their ids, empty where not known; and what it lacks."""

    student = serializers.IntegerField(source="student.pk")
    grade = serializers.CharField(source="coming.grade")
    building = serializers.IntegerField(source="coming.building_id", allow_null=True)
    home_class = serializers.IntegerField(source="coming.class_id", allow_null=True)
    leaves = serializers.BooleanField(source="coming.leaves")
    entered = serializers.BooleanField(help_text="By dated records already; the draft changes nothing of it.")
    lacks = serializers.SerializerMethodField()

    def get_lacks(self, one: StudentLine) -> list[str]:
        """``leaves``, ``building``, ``class``, ``summer`` (the plan ends then), ``plan``, ``teacher``."""
        return [each.value for each in one.lacks]


class ClassStandingSerializer(serializers.Serializer[Any]):
    """A class in the coming year; `lacks`: ``teacher``, ``period``."""

    school_class = serializers.IntegerField(source="school_class.pk")
    goes_on = serializers.BooleanField()
    grades = serializers.CharField()
    class_teacher = serializers.CharField()
    students = serializers.IntegerField()
    lacks = serializers.ListField(child=serializers.CharField())


class BuildingStandingSerializer(serializers.Serializer[Any]):
    """A building in the coming year.

    `bells_lack`: ``none``, ``unsaid`` or empty; `bells_new`: its regular bells have other periods then.
    """

    building = serializers.IntegerField(source="building.pk")
    highest_grade = serializers.CharField(source="highest")
    next_building = serializers.SerializerMethodField()
    closes = serializers.BooleanField()
    bells_lack = serializers.CharField()
    bells_new = serializers.BooleanField()
    missing = serializers.IntegerField(source="count_missing")
    students = StudentNextYearSerializer(many=True, help_text="Who is in it on the day before.")
    classes = ClassStandingSerializer(many=True)

    def get_next_building(self, one: BuildingLine) -> int | None:
        """Where those above its highest grade go."""
        return one.next_building.pk if one.next_building is not None else None


class YearStandingSerializer(serializers.Serializer[Any]):
    """A coming year as it is said now."""

    missing = serializers.IntegerField(source="count_missing")
    days_asked = serializers.IntegerField(help_text="Special days that wait for an answer.")
    periods_lack = serializers.BooleanField(help_text="No marking periods are entered.")
    buildings = BuildingStandingSerializer(source="by_building", many=True)


class GoingSerializer(serializers.Serializer[Any]):
    """How many students go from one building to another, or stay in it."""

    of = serializers.IntegerField(source="of.pk")
    to = serializers.IntegerField(source="to.pk")
    students = serializers.IntegerField()


class YearForeseenSerializer(serializers.Serializer[Any]):
    """What starting would write. `refused`: why it can't be started, or empty."""

    going = GoingSerializer(many=True)
    leaving = serializers.IntegerField()
    entered = serializers.IntegerField()
    periods = serializers.IntegerField()
    days = serializers.IntegerField()
    days_asked = serializers.IntegerField()
    classes = serializers.IntegerField()
    refused = serializers.CharField()


class NextYearViewSet(RecordViewSet[NextYear]):
    """Coming school years, for coordinators. Nothing of today changes by a draft."""

    serializer_class = NextYearSerializer
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_year_save
    delete_service = drafting.next_year_delete

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """Begin it, copied from the year that runs."""
        serializer.instance = drafting.next_year_begin(actor=actor_of(self.request), **serializer.validated_data)

    @extend_schema(responses=YearStandingSerializer)
    @action(detail=True, methods=["get"])
    def standing(self, request: Request, pk: int) -> Response:
        """Building by building: who is where, and what is missing."""
        return Response(YearStandingSerializer(YearStanding(actor_of(request), self.get_object())).data)

    @extend_schema(request=None, responses=YearForeseenSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What starting would write. Nothing is saved."""
        told: Foreseen = next_year_foreseen(actor=actor_of(request), row=self.get_object())
        return Response(YearForeseenSerializer(told).data)

    @extend_schema(request=None, responses={202: LongStepViewSerializer})
    @action(detail=True, methods=["post"])
    def start(self, request: Request, pk: int) -> Response:
        """Have it written as dated records, from its first day on; `steps` says how far that is."""
        actor = actor_of(request)
        return step_accepted(actor, next_year_start_ask(actor=actor, row=self.get_object()))

    @extend_schema(request=None, responses={202: LongStepViewSerializer})
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Have all taken back that starting wrote; `steps` says how far that is."""
        actor = actor_of(request)
        return step_accepted(actor, next_year_take_back_ask(actor=actor, row=self.get_object()))


class NextYearPeriodSerializer(RecordSerializer[NextYearPeriod]):
    """A marking period of the coming year."""

    class Meta:
        model = NextYearPeriod
        fields = ("id", "next_year", "name", "first_day", "last_day")


class NextYearDaySerializer(RecordSerializer[NextYearDay]):
    """A special day; `answer` is ``asked`` while nobody has said whether it is one next year."""

    class Meta:
        model = NextYearDay
        fields = (
            "id",
            "next_year",
            "title",
            "kind",
            "building",
            "first_date",
            "last_date",
            "bell_schedule",
            "closes_at",
            "answer",
        )


class NextYearBuildingSerializer(RecordSerializer[NextYearBuilding]):
    """What is said of a building."""

    class Meta:
        model = NextYearBuilding
        fields = ("id", "next_year", "building", "highest_grade", "next_building", "bells_stay")


class NextYearClassSerializer(RecordSerializer[NextYearClass]):
    """What is said of a class."""

    class Meta:
        model = NextYearClass
        fields = ("id", "next_year", "school_class", "goes_on", "grades", "class_teacher")


class NextYearStudentSerializer(RecordSerializer[NextYearStudent]):
    """What is said of a student beside the rule; all of it empty: the rule holds."""

    class Meta:
        model = NextYearStudent
        fields = ("id", "next_year", "student", "choice", "building", "home_class")


class NextYearPeriodViewSet(RecordViewSet[NextYearPeriod]):
    """Marking periods of coming years."""

    serializer_class = NextYearPeriodSerializer
    filters, parents = OF_DRAFT, ("next_year",)
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_period_save
    delete_service = drafting.next_period_delete


class NextYearDayViewSet(RecordViewSet[NextYearDay]):
    """Special days of coming years."""

    serializer_class = NextYearDaySerializer
    filters, parents = OF_DRAFT, ("next_year",)
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_day_save
    delete_service = drafting.next_day_delete


class NextYearBuildingViewSet(RecordViewSet[NextYearBuilding]):
    """Buildings in coming years."""

    serializer_class = NextYearBuildingSerializer
    filters, parents = OF_DRAFT, ("next_year",)
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_building_save


class NextYearClassViewSet(RecordViewSet[NextYearClass]):
    """Classes in coming years."""

    serializer_class = NextYearClassSerializer
    filters, parents = OF_DRAFT, ("next_year",)
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_class_save


class NextYearStudentViewSet(RecordViewSet[NextYearStudent]):
    """Students in coming years."""

    serializer_class = NextYearStudentSerializer
    filters, parents = OF_DRAFT, ("next_year",)
    read_permission = write_permission = PERMISSION
    save_service = drafting.next_student_save
