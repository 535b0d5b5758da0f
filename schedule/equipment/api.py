"""The API of activities and equipment: the same services as the pages."""

from collections.abc import Callable
from typing import Any, ClassVar

from django.db.models import Model, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import RecordSerializer, RecordViewSet, actor_of
from schedule.equipment import services
from schedule.equipment.models import Activity, Equipment, EquipmentStock, SpaceCautions


class KeptViewSet[M: Model](RecordViewSet[M]):
    """Rows that are put away by DELETE and brought back; those put away are found only to bring them back."""

    bring_back_service: ClassVar[Callable[..., Any]]

    def get_queryset(self) -> QuerySet[M]:
        """What is in use."""
        rows = super().get_queryset()
        return rows if self.action == "bring_back" else rows.filter(removed_at__isnull=True)

    @extend_schema(request=None)
    @action(detail=True, methods=["post"], url_path="bring-back")
    def bring_back(self, request: Request, pk: int) -> Response:
        """Bring back what was put away."""
        row = type(self).bring_back_service(actor=actor_of(request), row=self.get_object())
        return Response(self.get_serializer(row).data)


class ActivitySerializer(RecordSerializer[Activity]):
    """Something that a class does."""

    class Meta:
        model = Activity
        fields = ("id", "name", "about", "is_loud", "caution_tags")


class ActivityViewSet(KeptViewSet[Activity]):
    """The district's activities."""

    prefetch = ("caution_tags",)
    serializer_class = ActivitySerializer
    read_permission = "caseload.view"
    write_permission = "district.change"
    save_service = services.activity_save
    delete_service = services.activity_put_away
    bring_back_service = services.activity_bring_back


class EquipmentSerializer(RecordSerializer[Equipment]):
    """A kind of equipment."""

    class Meta:
        model = Equipment
        fields = ("id", "name", "note")


class EquipmentViewSet(KeptViewSet[Equipment]):
    """The district's equipment."""

    serializer_class = EquipmentSerializer
    read_permission = "caseload.view"
    write_permission = "district.change"
    save_service = services.equipment_save
    delete_service = services.equipment_put_away
    bring_back_service = services.equipment_bring_back

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="take-back", write_permission=services.COUNT)
    def take_back(self, request: Request, pk: int) -> Response:
        """Undo what was done last to its places and counts; refused (nothing_to_undo, changed_since) otherwise."""
        services.stock_take_back(actor=actor_of(request), kind=self.get_object())
        return Response(status=204)


class StockSerializer(RecordSerializer[EquipmentStock]):
    """How much of some equipment is in one place: a building or a teacher's car."""

    class Meta:
        model = EquipmentStock
        fields = (
            "id", "equipment", "building", "carried_by", "place",
            "count", "worn", "broken", "lent", "lent_to", "usable",
        )  # fmt: skip
        read_only_fields = ("usable",)


class CountSerializer(RecordSerializer[EquipmentStock]):
    """What was counted."""

    class Meta:
        model = EquipmentStock
        fields = ("count", "worn", "broken", "lent")


class StockViewSet(RecordViewSet[EquipmentStock]):
    """Where the district's equipment is kept, and how much of it."""

    serializer_class = StockSerializer
    filters = {"equipment": "equipment_id", "building": "building_id", "carried_by": "carried_by_id"}
    read_permission = "caseload.view"
    write_permission = "district.change"
    save_service = services.stock_save
    delete_service = services.stock_delete
    parents = ("equipment",)

    def get_queryset(self) -> QuerySet[Any]:
        """Of equipment that is in use."""
        return super().get_queryset().filter(equipment__removed_at__isnull=True)

    @extend_schema(request=CountSerializer, responses=StockSerializer)
    @action(detail=True, methods=["post"], write_permission=services.COUNT)
    def tally(self, request: Request, pk: int) -> Response:
        """Save what was counted, any of the four figures."""
        row = self.get_object()
        sent = CountSerializer(row, data=request.data, partial=True, context=self.get_serializer_context())
        sent.is_valid(raise_exception=True)
        saved = services.stock_count(actor=actor_of(request), row=row, values=sent.validated_data)
        return Response(self.get_serializer(saved).data)


class SpaceCautionsSerializer(RecordSerializer[SpaceCautions]):
    """What in a space a student's caution may be about."""

    class Meta:
        model = SpaceCautions
        fields = ("id", "space", "caution_tags")


class SpaceCautionsViewSet(RecordViewSet[SpaceCautions]):
    """Spaces with what to ask about; one that isn't here has nothing. An empty list of tags takes it back."""

    serializer_class = SpaceCautionsSerializer
    filters = {"space": "space_id"}
    read_permission = "caseload.view"
    write_permission = "district.change"
    save_service = services.space_cautions_save
    parents = ("space",)
    prefetch = ("caution_tags",)
