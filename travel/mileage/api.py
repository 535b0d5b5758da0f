"""The API of mileage rules and rates, and of where a teacher's days begin."""

from typing import cast

from django.db.models import Model
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import BodySerializer, RecordSerializer, RecordViewSet, actor_of
from travel.mileage import services
from travel.mileage.models import AccountCode, MileageRate, MileageSettings, TeacherHome


class EffectsSerializer(BodySerializer):
    """What saving would change of confirmed trips, in sentences; empty for nothing."""

    effects = serializers.ListField(child=serializers.CharField())


class ShowsEffects[M: Model](RecordViewSet[M]):
    """Rows that change what trips claim: what saving one would change can be asked before."""

    @extend_schema(responses=EffectsSerializer)
    @action(detail=False, methods=["post"], url_path="new/effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What a new row would change of confirmed trips. Nothing is saved."""
        return self._foreseen(request, cast("M", self.model()), partial=False)

    @extend_schema(responses=EffectsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What changing this row would change of confirmed trips. Nothing is saved."""
        return self._foreseen(request, self.get_object(), partial=True)

    def _foreseen(self, request: Request, row: M, *, partial: bool) -> Response:
        asked = self.get_serializer(row if partial else None, data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        actor, save = actor_of(request), type(self).save_service
        told = services.effects_foreseen(
            actor=actor, row=row, act=lambda one: save(actor=actor, row=one, values=asked.validated_data)
        )
        return Response(EffectsSerializer({"effects": told}).data)


class MileageSettingsSerializer(RecordSerializer[MileageSettings]):
    """Which miles the district pays from a day on."""

    class Meta:
        model = MileageSettings
        fields = (
            "id",
            "first_day",
            "home_legs",
            "distance",
            "rounding",
            "rounded_at",
            "share_percent",
            "most_day_miles",
            "purpose",
            "account_code",
        )


class MileageSettingsViewSet(ShowsEffects[MileageSettings]):
    """The district's rules, each from its first day on; none where the usual rules count."""

    serializer_class = MileageSettingsSerializer
    read_permission, write_permission = "week.change", "mileage.rules"
    save_service = services.mileage_settings_save
    delete_service = services.mileage_settings_delete


class MileageRateSerializer(RecordSerializer[MileageRate]):
    """Dollars a mile from a day on, until the next rate begins or its last day is over."""

    class Meta:
        model = MileageRate
        fields = ("id", "first_day", "last_day", "dollars", "source")


class MileageRateViewSet(ShowsEffects[MileageRate]):
    """The district's own rates; none where the published ones count. The first one entered joins those."""

    serializer_class = MileageRateSerializer
    read_permission, write_permission = "week.change", "mileage.rules"
    save_service = services.mileage_rate_save
    delete_service = services.mileage_rate_delete

    @extend_schema(request=None, responses={201: MileageRateSerializer(many=True)})
    @action(detail=False, methods=["post"], pagination_class=None)
    def copy(self, request: Request) -> Response:
        """Take the published rates over as the district's own."""
        rows = services.mileage_rates_copy(actor=actor_of(request))
        return Response(self.get_serializer(rows, many=True).data, status=201)


class AccountCodeSerializer(RecordSerializer[AccountCode]):
    """What a building's or a teacher's trips are booked to from a day on; an empty code ends one."""

    class Meta:
        model = AccountCode
        fields = ("id", "first_day", "building", "teacher", "code")


class AccountCodeViewSet(RecordViewSet[AccountCode]):
    """A building's code goes before the teacher's, and that before the district's."""

    serializer_class = AccountCodeSerializer
    filters = {"building": "building_id", "teacher": "teacher_id"}
    read_permission, write_permission = "week.change", "mileage.rules"
    save_service = services.account_code_save
    delete_service = services.account_code_delete


class TeacherHomeSerializer(RecordSerializer[TeacherHome]):
    """Coordinates in degrees (WGS84), or the miles of the normal commute one way, or both."""

    class Meta:
        model = TeacherHome
        fields = ("id", "teacher", "first_day", "latitude", "longitude", "regular_places", "commute_miles")
        extra_kwargs = {"teacher": {"required": False}}


class TeacherHomeViewSet(ShowsEffects[TeacherHome]):
    """Seen by the teacher and the coordinator only."""

    serializer_class = TeacherHomeSerializer
    filters = {"teacher": "teacher_id"}
    read_permission = write_permission = "mileage.view"
    save_service = services.teacher_home_save
    delete_service = services.teacher_home_delete
