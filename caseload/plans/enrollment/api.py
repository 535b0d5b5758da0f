"""The API of enrollments: where students are, by date."""

from collections.abc import Callable, Mapping
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import permissions
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from accounts import api_fields
from accounts.api import BodySerializer, RecordSerializer, RecordViewSet, VisibleRelatedField, actor_of
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person, held_ever
from accounts.services import NOT_THERE, NOT_YOUR_ROLE
from caseload.plans import services
from caseload.plans.api import CHANGE, VIEW, ForeseenSerializer, checked
from caseload.plans.enrollment.selectors import HAND_OVER, students_to_hand_over
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import Enrollment, Student


class EnrollmentSerializer(RecordSerializer[Enrollment]):
    """A student at a building from a first to a last day. `is_program`: beside the school, as the plan names it."""

    class Meta:
        model = Enrollment
        fields = ("id", "student", "building", "home_class", "grade", "is_program", "first_day", "last_day")


class StudentMoveSerializer(RecordSerializer[Enrollment]):
    """Another building, class or grade of a student from a day on; what isn't sent stays."""

    from_day = api_fields.DateField(write_only=True, help_text="The first day there.")

    class Meta:
        model = Enrollment
        fields = ("student", "from_day", "building", "home_class", "grade")
        extra_kwargs = {"building": {"required": False}, "grade": {"required": False}}


class LeaveSerializer(RecordSerializer[Enrollment]):
    """A student's last day here; null: the student stays after all."""

    class Meta:
        model = Enrollment
        fields = ("student", "last_day")
        extra_kwargs = {"last_day": {"required": True}}


class EnrollmentViewSet(RecordViewSet[Enrollment]):
    """Where the students whom the person may see are, were and will be.

    `move` is the usual way: from a day on, the past stays. A PATCH says that an enrollment was always wrong, a POST
    adds a program elsewhere, a DELETE takes a move or a program back.
    """

    serializer_class = EnrollmentSerializer
    filters = {"student": "student_id", "building": "building_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.enrollment_save
    delete_service = services.enrollment_take_back
    parents = ("student",)

    @extend_schema(request=StudentMoveSerializer, responses=EnrollmentSerializer)
    @action(detail=False, methods=["post"])
    def move(self, request: Request) -> Response:
        """Move a student from a day on. Answers with the enrollment that begins then."""
        values = self._asked(StudentMoveSerializer, request)
        return Response(self.get_serializer(_move(request, values)).data)

    @extend_schema(request=StudentMoveSerializer, responses=ForeseenSerializer)
    @action(detail=False, methods=["post"], url_path="move/effects", url_name="move-effects")
    def move_effects(self, request: Request) -> Response:
        """What a move would change of owed, delivered and open minutes. Nothing is saved."""
        values = self._asked(StudentMoveSerializer, request)
        return self._foreseen(values["student"], lambda: _move(request, values))

    @extend_schema(request=LeaveSerializer, responses=EnrollmentSerializer)
    @action(detail=False, methods=["post"])
    def leave(self, request: Request) -> Response:
        """Enter a student's last day, or that the student stays."""
        return Response(self.get_serializer(_leave(request, self._asked(LeaveSerializer, request))).data)

    @extend_schema(request=LeaveSerializer, responses=ForeseenSerializer)
    @action(detail=False, methods=["post"], url_path="leave/effects", url_name="leave-effects")
    def leave_effects(self, request: Request) -> Response:
        """What a last day would change of owed, delivered and open minutes. Nothing is saved."""
        values = self._asked(LeaveSerializer, request)
        return self._foreseen(values["student"], lambda: _leave(request, values))

    @extend_schema(
        request=EnrollmentSerializer, responses=ForeseenSerializer, operation_id="enrollments_new_effects"
    )
    @action(detail=False, methods=["post"], url_path="effects", url_name="new-effects")
    def new_effects(self, request: Request) -> Response:
        """What a program elsewhere would change of owed, delivered and open minutes. Nothing is saved."""
        values = self._asked(EnrollmentSerializer, request)
        return self._foreseen(values["student"], lambda: _save(request, _new(values["student"]), values))

    @extend_schema(responses=ForeseenSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What a correction would change of owed, delivered and open minutes. Nothing is saved."""
        row = self.get_object()
        values = checked(self.get_serializer(row, data=request.data, partial=True))
        return self._foreseen(row.student, lambda: _save(request, row, values))

    def _foreseen(self, student: Student, act: Callable[[], object]) -> Response:
        return Response(
            ForeseenSerializer({"effects": effects_foreseen(actor_of(self.request), student, act)}).data
        )

    def _asked(self, kind: type[BodySerializer | RecordSerializer[Enrollment]], request: Request) -> dict[str, Any]:
        return dict(checked(kind(data=request.data, context=self.get_serializer_context())))


def _move(request: Request, values: dict[str, Any]) -> Enrollment:
    """With the student as saved: trying out leaves no trace."""
    place = {name: value for name, value in values.items() if name not in {"student", "from_day"}}
    student = Student.objects.get(pk=values["student"].pk)
    return services.student_move(
        actor=actor_of(request), student=student, from_day=values["from_day"], values=place
    )


def _leave(request: Request, values: Mapping[str, Any]) -> Enrollment:
    """With the student as saved, as above."""
    student = Student.objects.get(pk=values["student"].pk)
    return services.student_leave(actor=actor_of(request), student=student, last_day=values["last_day"])


def _new(student: Student) -> Enrollment:
    """A new one, of the student as saved."""
    return Enrollment(student=Student.objects.get(pk=student.pk))


def _save(request: Request, row: Enrollment, values: Mapping[str, Any]) -> Enrollment:
    return services.enrollment_save(actor=actor_of(request), row=row, values=values)


class _GiverField(VisibleRelatedField):
    """Any teacher of the district: who has left can still hand over."""

    def get_queryset(self) -> QuerySet[Person]:
        """Those who are signed in no more, too."""
        actor = actor_of(self.context["request"])
        return Person.objects.filter(held_ever(Person.Role.TEACHER), district=actor.district)


class HandOverSerializer(BodySerializer):
    """Who gives, who takes over, from when; without `students` all of the giver's."""

    giver = _GiverField(queryset=Person.objects.all())
    receiver = VisibleRelatedField(queryset=Person.objects.all())
    first_day = api_fields.DateField()
    students = VisibleRelatedField(queryset=Student.objects.all(), many=True, required=False)


class HandedOverSerializer(BodySerializer):
    """By which id a hand-over is taken back."""

    id = api_fields.IdField()


class HandOverApi(APIView):
    """Caseloads that go to another teacher; for coordinators."""

    permission_classes = (permissions.IsAuthenticated,)

    @extend_schema(
        request=HandOverSerializer, responses={201: HandedOverSerializer}, operation_id="caseload_hand_over"
    )
    def post(self, request: Request) -> Response:
        """Hand students and the giver's services over from a day on, in one step."""
        entry = services.caseload_hand_over(**_handed(request))
        return Response(HandedOverSerializer({"id": entry.pk}).data, status=201)


def _handed(request: Request) -> dict[str, Any]:
    """What is asked, as the service takes it; raises `ApplicationError` (403) for anybody but a coordinator."""
    actor = actor_of(request)
    if not actor.is_coordinator:
        raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
    values = checked(HandOverSerializer(data=request.data, context={"request": request}))
    giver, day = values["giver"], values["first_day"]
    students = values.get("students") or list(students_to_hand_over(giver, day))
    return {
        "actor": actor, "giver": giver, "receiver": values["receiver"], "students": students, "from_day": day
    }  # fmt: skip


class HandOverEffectsApi(APIView):
    """What a hand-over would do; for coordinators."""

    permission_classes = (permissions.IsAuthenticated,)

    @extend_schema(
        request=HandOverSerializer, responses=ForeseenSerializer, operation_id="caseload_hand_over_effects"
    )
    def post(self, request: Request) -> Response:
        """Who would go over, in a sentence. Nothing is saved."""
        told = services.hand_over_foreseen(**_handed(request))
        return Response(ForeseenSerializer({"effects": told}).data)


class HandOverUndoApi(APIView):
    """The way back; for coordinators."""

    permission_classes = (permissions.IsAuthenticated,)

    @extend_schema(request=None, responses={204: None}, operation_id="caseload_hand_over_undo")
    def post(self, request: Request, pk: int) -> Response:
        """Take a hand-over back whole."""
        actor = actor_of(request)
        entry = AuditEntry.objects.filter(pk=pk, district=actor.district, action=HAND_OVER).first()
        if entry is None or not actor.is_coordinator:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        services.caseload_hand_over_undo(actor=actor, entry=entry)
        return Response(status=204)
