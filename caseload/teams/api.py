"""The API of teams: who shares a caseload, how far, and from which day to which."""

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import EndsSerializer, RecordSerializer, RecordViewSet, actor_of
from caseload.teams import services
from caseload.teams.models import Team


class TeamSerializer(RecordSerializer[Team]):
    """Both days are included. `shares` is ``see``, or ``log`` to log for each other as well."""

    class Meta:
        model = Team
        fields = ("id", "name", "members", "shares", "first_day", "last_day")


class TeamViewSet(RecordViewSet[Team]):
    """Teams: the coordinator makes, changes and ends them; a teacher reads the own ones."""

    serializer_class = TeamSerializer
    filters = {"member": "members"}
    read_permission, write_permission = "teams.view", services.PERMISSION
    save_service = services.team_save
    delete_service = services.team_remove
    prefetch = ("members",)

    @extend_schema(operation_id="teams_effects_new", responses=EndsSerializer)
    @action(detail=False, methods=["post"], url_path="effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What a new team would open. Nothing is saved."""
        return self._foreseen(request, Team(), partial=False)

    @extend_schema(operation_id="teams_effects", responses=EndsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What a change would open and end. Nothing is saved."""
        return self._foreseen(request, self.get_object(), partial=True)

    @extend_schema(request=None, responses={204: None})
    @action(detail=True, methods=["post"], url_path="take-back")
    def take_back(self, request: Request, pk: int) -> Response:
        """Give the team back what it was before its last change."""
        services.team_undo(actor=actor_of(request), row=self.get_object())
        return Response(status=204)

    def _foreseen(self, request: Request, row: Team, *, partial: bool) -> Response:
        asked = self.get_serializer(row, data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        told = services.team_effects(actor=actor_of(request), row=row, values=asked.validated_data)
        return Response(EndsSerializer({"effects": told}).data)
