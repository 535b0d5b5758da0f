"""Pages of teams: for the coordinator to make, change and end them, for teachers to know with whom they share."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.forms import RecordForm
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    find_changeable,
    person_of,
)
from accounts.selectors import today_of
from caseload.teams.forms import TeamForm
from caseload.teams.models import Team
from caseload.teams.selectors import last_team_change, teams_listed
from caseload.teams.services import team_effects, team_remove, team_save, team_undo

PERMISSION = "people.change"


@require_safe
@permission_required("teams.view", raise_exception=True)
def teams(request: HttpRequest) -> HttpResponse:
    """Teams that go on or come: every one for a coordinator, the own ones for a teacher."""
    viewer = person_of(request)
    today = today_of(viewer)
    context = {"teams": teams_listed(viewer, today), "today": today, "may_change": viewer.has_perm(PERMISSION)}
    return render(request, "caseload/teams/list.html", context)


class _AboutTeam:
    """Where the pages of one team belong."""

    model = Team
    permission = PERMISSION
    noun = "team"

    def back(self, row: Team) -> str:
        return reverse("teams")

    def crumbs(self, row: Team) -> Crumbs:
        return [("People", reverse("people")), ("Teams", reverse("teams"))]


class TeamFormPage(_AboutTeam, RecordFormPage[Team]):
    """A new team, or a change to one."""

    form_class = TeamForm
    template_name = "caseload/teams/form.html"
    effects_said = "This is what the team opens. Nothing is saved yet."
    effects_button = "Save it"

    def initial(self) -> dict[str, Any]:
        """From today."""
        return {"first_day": today_of(self.person)}

    def effects(self, row: Team, values: Mapping[str, Any]) -> list[str]:
        """Who sees how many students of whom, and what ends."""
        return team_effects(actor=self.person, row=self._row(), values=values)

    def save(self, row: Team, values: Mapping[str, Any]) -> Team:
        return team_save(actor=self.person, row=row, values=values)

    def show(self, row: Team, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With what was changed last."""
        return super().show(row, form, status, last=last_team_change(row) if row.pk else None, **more)

    def delete_address(self, row: Team) -> str:
        """Only what hasn't begun before today can go."""
        return reverse("team_remove", args=[row.pk]) if row.first_day >= today_of(self.person) else ""


class TeamRemovePage(_AboutTeam, RecordDeletePage[Team]):
    """Remove a team that hasn't begun before today."""

    def delete(self, row: Team) -> None:
        team_remove(actor=self.person, row=row)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def team_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a team back what it was before its last change."""
    viewer = person_of(request)
    row = find_changeable(Team, viewer, pk)
    seen = request.POST.get("seen", "")
    what = lambda: team_undo(actor=viewer, row=row, seen=int(seen) if seen.isdigit() else None)  # noqa: E731
    do_and_say(request, what, "The team is as it was before.")
    return redirect("teams")
