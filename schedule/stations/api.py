"""The API of stations and of who is where: the same services as the pages."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import (
    BodySerializer,
    ReadViewSet,
    RecordSerializer,
    RecordViewSet,
    RefusesUnknownFields,
    actor_of,
)
from accounts.errors import ApplicationError
from schedule.equipment.api import KeptViewSet
from schedule.stations import services
from schedule.stations.choices import AdultChoice, AskedAbout, RotationChoices, StudentChoice
from schedule.stations.models import Station, StationEquipment, StationGoal, StationRotation
from schedule.stations.rotation.solving import ChangeAim
from schedule.stations.selectors.asking import class_hour
from schedule.stations.selectors.showing import RotationView, rotation_view

LARGEST = 2**63 - 1


class StationSerializer(RecordSerializer[Station]):
    """A station."""

    class Meta:
        model = Station
        fields = ("id", "name", "about", "activity", "space_note", "minutes", "at_a_time", "staff", "tags")


class StationViewSet(KeptViewSet[Station]):
    """The district's stations."""

    serializer_class = StationSerializer
    read_permission = "caseload.view"
    write_permission = services.SHARED
    save_service = services.station_save
    delete_service = services.station_put_away
    bring_back_service = services.station_bring_back
    prefetch = ("tags",)


class StationEquipmentSerializer(RecordSerializer[StationEquipment]):
    """Equipment that a station takes."""

    class Meta:
        model = StationEquipment
        fields = ("id", "station", "equipment", "count")


class StationEquipmentViewSet(RecordViewSet[StationEquipment]):
    """What stations take."""

    serializer_class = StationEquipmentSerializer
    filters = {"station": "station_id", "equipment": "equipment_id"}
    read_permission = "caseload.view"
    write_permission = services.SHARED
    save_service = services.station_need_save
    delete_service = services.station_need_delete
    parents = ("station",)


class StationGoalSerializer(RecordSerializer[StationGoal]):
    """A goal that a station serves."""

    class Meta:
        model = StationGoal
        fields = ("id", "station", "goal")


class StationGoalViewSet(RecordViewSet[StationGoal]):
    """Which station serves which goal of a student."""

    serializer_class = StationGoalSerializer
    filters = {"station": "station_id", "goal": "goal_id", "student": "goal__student_id"}
    read_permission = "caseload.view"
    write_permission = services.SHARED
    save_service = services.station_goal_save
    delete_service = services.station_goal_delete
    parents = ("station", "goal")


class StationRotationSerializer(RecordSerializer[StationRotation]):
    """One version of who is where; `content` is asked for by session."""

    class Meta:
        model = StationRotation
        fields = ("id", "teacher", "session_uid", "date", "school_class", "number", "made_at", "taken_back_at")
        read_only_fields = fields


class RotationViewSerializer(DataclassSerializer[RotationView]):
    """Who is where, what it gives and what it breaks."""

    class Meta:
        dataclass = RotationView


class AdultChoiceSerializer(RefusesUnknownFields, DataclassSerializer[AdultChoice]):
    """An adult this morning: the teacher is 0, an aide the contact's id, somebody else a negative number."""

    key = serializers.IntegerField(min_value=-1000, max_value=LARGEST)
    name = serializers.CharField(max_length=80)
    own_student = serializers.IntegerField(min_value=1, max_value=LARGEST, allow_null=True, required=False)
    leads = serializers.IntegerField(min_value=1, max_value=LARGEST, allow_null=True, required=False)

    class Meta:
        dataclass = AdultChoice


class StudentChoiceSerializer(RefusesUnknownFields, DataclassSerializer[StudentChoice]):
    """A student this morning."""

    student = serializers.IntegerField(min_value=1, max_value=LARGEST)
    from_round = serializers.IntegerField(min_value=1, max_value=12, required=False, default=1)

    class Meta:
        dataclass = StudentChoice


class AskedAboutSerializer(RefusesUnknownFields, DataclassSerializer[AskedAbout]):
    """Somebody was asked about this student at this station."""

    student = serializers.IntegerField(min_value=1, max_value=LARGEST)
    station = serializers.IntegerField(min_value=1, max_value=LARGEST)

    class Meta:
        dataclass = AskedAbout


class RotationChoicesSerializer(RefusesUnknownFields, DataclassSerializer[RotationChoices]):
    """What is said before it is worked out; stations in the order in which they stand around the space."""

    stations = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=LARGEST), min_length=1, max_length=20
    )
    rounds = serializers.IntegerField(min_value=1, max_value=12, default=4)
    minutes = serializers.IntegerField(min_value=1, max_value=60, default=4)
    begins = serializers.IntegerField(min_value=0, max_value=240, default=0)
    waits_at_most = serializers.IntegerField(min_value=0, max_value=12, default=0)
    done = serializers.IntegerField(min_value=0, max_value=12, default=0)
    adults = AdultChoiceSerializer(many=True, required=False)
    students = StudentChoiceSerializer(many=True, required=False)
    asked = AskedAboutSerializer(many=True, required=False)

    class Meta:
        dataclass = RotationChoices


class MakeRotationSerializer(BodySerializer):
    """A session's uid with the choices. `near`: change what there is, by fewest changes or by goals."""

    session = serializers.UUIDField()
    near = serializers.ChoiceField(choices=[(one.value, one.value) for one in ChangeAim], required=False)
    choices = RotationChoicesSerializer()


class SessionOfRotationSerializer(BodySerializer):
    """A session's uid."""

    session = serializers.UUIDField()


class MoveStudentSerializer(SessionOfRotationSerializer):
    """One student to another place in one round, counted from 1; without a station the student waits."""

    student = serializers.IntegerField(min_value=1, max_value=LARGEST)
    turn = serializers.IntegerField(min_value=1, max_value=12)
    station = serializers.IntegerField(min_value=1, max_value=LARGEST, allow_null=True)


class StationRotationViewSet(ReadViewSet[StationRotation]):
    """Who is at which station in which round, session by session; every version is kept."""

    serializer_class = StationRotationSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = "log.view"
    write_permission = services.WRITE
    http_method_names = ["get", "post", "head", "options"]

    @extend_schema(request=MakeRotationSerializer, responses={201: RotationViewSerializer})
    def create(self, request: Request) -> Response:
        """Work it out, anew or near what there is."""
        body = self._body(MakeRotationSerializer, request)
        near = body.get("near")
        actor = actor_of(request)
        aim = ChangeAim(near) if near else None
        services.rotation_make(actor=actor, session=body["session"], choices=body["choices"], aim=aim)
        return self._now(request, body, status.HTTP_201_CREATED)

    @extend_schema(request=SessionOfRotationSerializer, responses=RotationViewSerializer)
    @action(detail=False, methods=["post"], url_path="look", write_permission="log.view")
    def look(self, request: Request) -> Response:
        """The version that a session uses; 404 where there is none."""
        return self._now(request, self._body(SessionOfRotationSerializer, request))

    @extend_schema(request=MoveStudentSerializer, responses=RotationViewSerializer)
    @action(detail=False, methods=["post"])
    def move(self, request: Request) -> Response:
        """Put one student elsewhere by hand; what that breaks is said in `broken`."""
        body = self._body(MoveStudentSerializer, request)
        services.rotation_move(actor=actor_of(request), **body)
        return self._now(request, body)

    @extend_schema(request=SessionOfRotationSerializer, responses={204: None})
    @action(detail=False, methods=["post"], url_path="take-back")
    def take_back(self, request: Request) -> Response:
        """Go back to the version before."""
        body = self._body(SessionOfRotationSerializer, request)
        services.rotation_take_back(actor=actor_of(request), session=body["session"])
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(request=SessionOfRotationSerializer, responses=RotationViewSerializer)
    @action(detail=False, methods=["post"], url_path="bring-back")
    def bring_back(self, request: Request) -> Response:
        """Use again what was taken back last."""
        body = self._body(SessionOfRotationSerializer, request)
        services.rotation_bring_back(actor=actor_of(request), session=body["session"])
        return self._now(request, body)

    def _body(self, kind: type[BodySerializer], request: Request) -> dict[str, Any]:
        body = kind(data=request.data, context=self.get_serializer_context())
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)

    def _now(self, request: Request, body: dict[str, Any], code: int = status.HTTP_200_OK) -> Response:
        actor = actor_of(request)
        view = rotation_view(actor, class_hour(actor, body["session"]))
        if view is None:
            raise ApplicationError(services.NOTHING_YET, code="no_rotation", status=404)
        return Response(RotationViewSerializer(view).data, status=code)
