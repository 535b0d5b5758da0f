"""Pages of roles: for the coordinator to give, to change and to remove them; for everybody to work in another."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.forms import RecordForm
from accounts.models import Person, PersonRole
from accounts.pages import Crumbs, RecordDeletePage, RecordFormPage, do_and_say, person_of
from accounts.people.selectors import people_listed
from accounts.roles.forms import PersonRoleForm
from accounts.roles.middleware import ROLE
from accounts.roles.selectors import last_role_change
from accounts.roles.services import role_choose, role_effects, role_remove, role_save, role_undo
from accounts.selectors import today_of

PERMISSION = "people.change"


class _AboutRole:
    """Where the pages of one role belong."""

    model = PersonRole
    permission = PERMISSION
    noun = "role"

    def back(self, row: PersonRole) -> str:
        return reverse("person_change", args=[row.person_id])

    def crumbs(self, row: PersonRole) -> Crumbs:
        return [("People", reverse("people")), (str(row.person), self.back(row))]


class RoleFormPage(_AboutRole, RecordFormPage[PersonRole]):
    """Another role of a person, or other days of one."""

    form_class = PersonRoleForm
    template_name = "accounts/role_form.html"
    intro = "Whoever holds several roles works in one at a time, and changes by the menu."
    effects_said = "This is what the role opens and ends. Nothing is saved yet."
    effects_button = "Save it"

    def new_row(self) -> PersonRole:
        """Of the person in the address."""
        return PersonRole(person=get_object_or_404(people_listed(self.person), pk=self.kwargs["person"]))

    def initial(self) -> dict[str, Any]:
        """From today."""
        return {"first_day": today_of(self.person)}

    def effects(self, row: PersonRole, values: Mapping[str, Any]) -> list[str]:
        """What opens and what ends."""
        return role_effects(actor=self.person, row=self._row(), values=values)

    def save(self, row: PersonRole, values: Mapping[str, Any]) -> PersonRole:
        return role_save(actor=self.person, row=row, values=values)

    def show(self, row: PersonRole, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With what was changed last."""
        return super().show(row, form, status, last=last_role_change(row) if row.pk else None, **more)

    def delete_address(self, row: PersonRole) -> str:
        """Only what hasn't begun before today can go."""
        begins = row.first_day is not None and row.first_day >= today_of(self.person)
        return reverse("role_remove", args=[row.pk]) if begins else ""


class RoleRemovePage(_AboutRole, RecordDeletePage[PersonRole]):
    """Remove a role that hasn't begun before today."""

    def delete(self, row: PersonRole) -> None:
        role_remove(actor=self.person, row=row)

    def label(self, row: PersonRole) -> str:
        return f"{row.person}: {row}"


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def role_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a role the days again that it had before."""
    viewer = person_of(request)
    row = get_object_or_404(PersonRole.objects.visible_to(viewer).select_related("person__district"), pk=pk)
    seen = request.POST.get("seen", "")
    what = lambda: role_undo(actor=viewer, row=row, seen=int(seen) if seen.isdigit() else None)  # noqa: E731
    do_and_say(request, what, "The role has its days of before again.")
    return redirect("person_change", row.person_id)


@require_POST
def role_work_as(request: HttpRequest) -> HttpResponse:
    """Work in another of one's own roles, in this session and from the next sign-in on."""
    person = person_of(request)
    role = request.POST.get("role", "")

    def choose() -> None:
        role_choose(actor=person, role=role)
        request.session[ROLE] = role

    label = dict(Person.Role.choices).get(role, "").lower()
    do_and_say(request, choose, f"You work as {label} now.")
    return redirect("home")
