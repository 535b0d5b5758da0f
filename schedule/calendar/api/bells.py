"""The API of bell schedules: their periods have first days."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import BodySerializer, RecordSerializer, ShowsEnds, actor_of
from accounts.api_fields import DateField
from accounts.selectors import today_of
from schedule.calendar.models import BellPeriod, BellSchedule
from schedule.calendar.selectors.bells import BellSet, set_shown, sets_of
from schedule.calendar.services import bells

VIEW, CHANGE = "week.view", "district.change"


def _shown(row: BellSchedule, context: Mapping[str, Any]) -> BellSet | None:
    return set_shown(row, today_of(actor_of(context["request"])))


class PeriodsShown(serializers.ListSerializer[Any]):
    """Of a bell schedule the periods that ring today, else those that ring first."""

    def get_attribute(self, instance: BellSchedule | BellSet) -> Any:
        """Of the set that is shown."""
        shown = instance if isinstance(instance, BellSet) else _shown(instance, self.context)
        return shown.periods if shown is not None else ()


class BellPeriodSerializer(RecordSerializer[BellPeriod]):
    """A period of a bell schedule; times local to the building."""

    class Meta:
        model = BellPeriod
        fields = ("name", "kind", "start", "end", "grades")
        list_serializer_class = PeriodsShown


class FirstDayShown(DateField):
    """From when the periods ring that are shown."""

    def get_attribute(self, instance: BellSchedule) -> Any:
        """Of the set that is shown."""
        shown = _shown(instance, self.context)
        return shown.first if shown is not None else None


class BellSetSerializer(serializers.Serializer[Any]):
    """The periods that ring from a first day to a last one; null leaves it open."""

    first_day = DateField(source="first", allow_null=True)
    last_day = DateField(source="last", allow_null=True)
    periods = BellPeriodSerializer(many=True)


class BellScheduleSerializer(RecordSerializer[BellSchedule]):
    """A bell schedule with the periods that ring today, and with every set that it has rung or will ring.

    Periods that are sent ring from `first_day` on, until the next set: all of them, in the place of what rang.
    Without it from today on; null puts right what rings since always. What rang before stays.
    """

    first_day = FirstDayShown(required=False, allow_null=True)
    periods = BellPeriodSerializer(many=True)
    sets = serializers.SerializerMethodField()

    class Meta:
        model = BellSchedule
        fields = ("id", "building", "name", "kind", "passing_minutes", "first_day", "periods", "sets")

    @extend_schema_field(BellSetSerializer(many=True))
    def get_sets(self, row: BellSchedule) -> Any:
        """The oldest first."""
        return BellSetSerializer(sets_of(row), many=True).data


class BellSetAskedSerializer(BodySerializer):
    """The first day of a set of periods; null is the one that rings since always."""

    first_day = DateField(allow_null=True)


class BellScheduleViewSet(ShowsEnds[BellSchedule]):
    """Bell schedules of the buildings that the person may see."""

    serializer_class = BellScheduleSerializer
    filters = {"building": "building_id"}
    prefetch = ("periods",)
    read_permission, write_permission = VIEW, CHANGE
    save_service = bells.bell_schedule_save
    delete_service = bells.bell_schedule_delete

    @extend_schema(request=BellSetAskedSerializer, responses={204: None})
    @action(detail=True, methods=["post"], url_path="periods/remove", url_name="remove-set")
    def remove_set(self, request: Request, pk: int) -> Response:
        """Take away what rings from a day on: what rang before rings on. Refused (only_set) for the only set."""
        row, asked = self.get_object(), BellSetAskedSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        bells.bell_set_remove(actor=actor_of(request), row=row, first_day=asked.validated_data["first_day"])
        return Response(status=204)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="undo", url_name="undo")
    def undo(self, request: Request, pk: int) -> Response:
        """Take back what was done last to the periods (nothing_to_undo, changed_since)."""
        bells.bells_take_back(actor=actor_of(request), row=self.get_object())
        return Response(status=204)
