"""The API of care: supports, cautions, tags, contacts, and taking the last change back."""

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.generics import get_object_or_404
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework_dataclasses.serializers import DataclassSerializer

from accounts.api import BodySerializer, ReadViewSet, RecordSerializer, RecordViewSet, RolePermission, actor_of
from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_YOUR_ROLE
from caseload.care import services
from caseload.care.models import CareSettings, CareView, Caution, CautionTag, Contact, Support, Try
from caseload.care.seen import seen_note
from caseload.care.selectors import care_of, care_settings_of
from caseload.care.written import Care
from caseload.plans.api import checked
from caseload.plans.models import SchoolClass, Student

VIEW, CHANGE = "caseload.view", "caseload.change"
DATED = ("source", "written_on", "first_day", "last_day")


class _Noted:
    """Of a student's care: that a row was shown is noted."""

    def to_representation(self, instance: Any) -> Any:
        """As usual."""
        if instance.student_id is not None:
            seen_note([instance.student_id])
        return super().to_representation(instance)  # type: ignore[misc]  # of the serializer beside it


class CareViewSerializer(RecordSerializer[CareView]):
    """One student's care on one page that a substitute opened."""

    viewer_name = serializers.CharField(source="viewer.__str__", read_only=True)

    class Meta:
        model = CareView
        fields = ("id", "viewer", "viewer_name", "student", "seen_at", "page")


class CareViewViewSet(ReadViewSet[CareView]):
    """Who was shown what is written about students' care: of a teacher's own students, of a coordinator's all."""

    serializer_class = CareViewSerializer
    filters = {"viewer": "viewer_id", "student": "student_id"}
    read_permission = write_permission = "care.views"
    related = ("viewer",)


class SupportSerializer(_Noted, RecordSerializer[Support]):
    """A support of a student."""

    class Meta:
        model = Support
        fields = ("id", "student", "kind", "text", "other_student", "is_provisional", *DATED)


class SupportViewSet(RecordViewSet[Support]):
    """Supports of the students whom the person may see."""

    serializer_class = SupportSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.support_save
    delete_service = services.support_remove
    parents = ("student",)


class CautionSerializer(_Noted, RecordSerializer[Caution]):
    """A caution of a student. It says whom to ask, never that anything is allowed."""

    class Meta:
        model = Caution
        fields = ("id", "student", "kind", "text", "tags", "emergency_steps", "decides", *DATED)


class CautionViewSet(RecordViewSet[Caution]):
    """Cautions of the students whom the person may see."""

    serializer_class = CautionSerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.caution_save
    delete_service = services.caution_remove
    parents = ("student",)
    prefetch = ("tags",)


class CautionTagSerializer(RecordSerializer[CautionTag]):
    """A tag of the district."""

    class Meta:
        model = CautionTag
        fields = ("id", "name")


class CautionTagViewSet(RecordViewSet[CautionTag]):
    """What an activity or a place can have that a caution is about."""

    serializer_class = CautionTagSerializer
    read_permission, write_permission = VIEW, "district.change"
    save_service = services.caution_tag_save
    delete_service = services.caution_tag_delete

    @extend_schema(request=None, responses={204: None})
    @action(detail=False, methods=["post"], url_path="take-back")
    def take_back(self, request: Request) -> Response:
        """Undo what was done last to the tags; refused (nothing_to_undo, changed_since) where that can't be."""
        services.caution_tag_take_back(actor=actor_of(request))
        return Response(status=204)


class ContactSerializer(_Noted, RecordSerializer[Contact]):
    """A contact of a student or of a class."""

    class Meta:
        model = Contact
        fields = ("id", "student", "school_class", "role", "name", "phone", "email", "note")


class ContactViewSet(RecordViewSet[Contact]):
    """Contacts of the students and classes that the person may see."""

    serializer_class = ContactSerializer
    filters = {"student": "student_id", "school_class": "school_class_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.contact_save
    delete_service = services.contact_remove

    def perform_create(self, serializer: serializers.BaseSerializer[Any]) -> None:
        """With whom it is about, whichever of the two."""
        values = serializer.validated_data
        row = Contact(student=values.get("student"), school_class=values.get("school_class"))
        serializer.instance = services.contact_save(actor=actor_of(self.request), row=row, values=values)


class TrySerializer(RecordSerializer[Try]):
    """One thing to try with a student without a plan. Who saw it is whoever sends what came of it."""

    class Meta:
        model = Try
        fields = ("id", "student", "kind", "text", "outcome", "seen", "seen_on", "seen_by", "support")
        read_only_fields = ("seen_by", "support")


class TryViewSet(RecordViewSet[Try]):
    """What is tried with the students whom the person may see."""

    serializer_class = TrySerializer
    filters = {"student": "student_id"}
    read_permission, write_permission = VIEW, CHANGE
    save_service = services.try_save
    delete_service = services.try_remove
    parents = ("student",)


class _Api(APIView):
    """An address that is no list of rows."""

    permission_classes = (IsAuthenticated, RolePermission)
    read_permission: ClassVar[str] = VIEW
    write_permission: ClassVar[str] = CHANGE


class CareSerializer(DataclassSerializer[Care]):
    """What is written down about one student."""

    class Meta:
        dataclass = Care
        ref_name = "Care"


class CareApi(_Api):
    """What is written down about one student and holds today."""

    @extend_schema(responses=CareSerializer)
    def get(self, request: Request, pk: int) -> Response:
        """Supports and cautions, as lists and as text, with whom to ask where there is a caution."""
        viewer = actor_of(request)
        student = get_object_or_404(Student.objects.visible_to(viewer), pk=pk)
        return Response(CareSerializer(care_of(viewer, [student.pk])[student.pk]).data)


class CareUndoApi(_Api):
    """Take back what was done last to a student's supports, cautions and contacts."""

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        actor = actor_of(request)
        row = get_object_or_404(Student.objects.changeable_by(actor), pk=pk)
        services.care_take_back(actor=actor, about=row)
        return Response(status=204)


class ContactsUndoApi(_Api):
    """Take back what was done last to a class's contacts."""

    @extend_schema(request=None, responses={204: None})
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_to_undo, changed_since) where there is nothing to take back."""
        actor = actor_of(request)
        row = get_object_or_404(SchoolClass.objects.changeable_by(actor), pk=pk)
        services.care_take_back(actor=actor, about=row)
        return Response(status=204)


class SupportSheetApi(_Api):
    """Provisional supports of what helped, made or taken away."""

    @extend_schema(operation_id="support_sheet_make", request=None, responses=SupportSerializer(many=True))
    def post(self, request: Request, pk: int) -> Response:
        """Refused (nothing_seen) where nothing helped. Those that were made before are brought up to date."""
        actor = actor_of(request)
        student = get_object_or_404(Student.objects.changeable_by(actor), pk=pk)
        made = services.support_sheet_make(actor=actor, student=student)
        return Response(SupportSerializer(made, many=True).data)

    @extend_schema(operation_id="support_sheet_take_back", request=None, responses={204: None})
    def delete(self, request: Request, pk: int) -> Response:
        """What was tried stays on the list."""
        actor = actor_of(request)
        student = get_object_or_404(Student.objects.changeable_by(actor), pk=pk)
        services.support_sheet_take_back(actor=actor, student=student)
        return Response(status=204)


class CareSettingsSerializer(BodySerializer):
    """What the district decided about contacts."""

    keeps_parents = serializers.BooleanField(help_text="Whether parents are kept among a student's contacts.")


class CareSettingsApi(_Api):
    """What the district decided about contacts."""

    write_permission = "district.settings"

    @extend_schema(responses=CareSettingsSerializer)
    def get(self, request: Request) -> Response:
        """Without a choice of its own, parents aren't kept."""
        return Response(CareSettingsSerializer(self._row(actor_of(request))).data)

    @extend_schema(request=CareSettingsSerializer, responses=CareSettingsSerializer)
    def patch(self, request: Request) -> Response:
        """Contacts that are kept already stay until they are removed."""
        values = checked(CareSettingsSerializer(data=request.data))
        row = services.care_settings_save(actor=actor_of(request), values=values)
        return Response(CareSettingsSerializer(row).data)

    def _row(self, viewer: Person) -> CareSettings:
        if viewer.district is None:
            raise ApplicationError(NOT_YOUR_ROLE, code="not_for_your_role", status=403)
        return care_settings_of(viewer.district)
