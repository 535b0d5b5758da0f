"""Pages for the coordinator: who signs in, with which role, and who covers whom."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_http_methods, require_POST

from accounts.forms import RecordForm
from accounts.guards import ends_foreseen
from accounts.models import Person, Substitution
from accounts.pages import (
    Crumbs,
    RecordDeletePage,
    RecordFormPage,
    do_and_say,
    list_page,
    person_of,
    site_of,
)
from accounts.people.forms import FindForm, PersonForm, SubstitutionForm
from accounts.people.hooks import cover_effects
from accounts.people.mailing import mail_is_set_up
from accounts.people.selectors import people_called, people_listed
from accounts.people.services import (
    person_active_set,
    person_link_send,
    person_password_give,
    person_with_offices_save,
    substitution_delete,
    substitution_save,
)
from accounts.selectors import today_of

PERMISSION = "people.change"
CRUMB = "People"


def _crumbs() -> Crumbs:
    return [(CRUMB, reverse("people"))]


@require_http_methods(["GET", "HEAD", "POST"])
@permission_required(PERMISSION, raise_exception=True)
def people(request: HttpRequest) -> HttpResponse:
    """Everyone of the district, and the substitutions that aren't over; or whoever is looked for.

    What is looked for is posted: a name stands in no address.
    """
    viewer = person_of(request)
    form = FindForm(request.POST if request.method == "POST" else None)
    words = form.cleaned_data["words"] if form.is_bound and form.is_valid() else ""
    rows = people_called(viewer, words) if words else people_listed(viewer)
    today = today_of(viewer)
    substitutions = Substitution.objects.visible_to(viewer).select_related("substitute", "teacher")
    context: dict[str, Any] = {
        "form": form,
        "words": words,
        "page": list_page(request, rows),
        "substitutions": list_page(request, substitutions.filter(last_date__gte=today), name="substitutions"),
        "today": today,
        "now": timezone.now(),
    }
    return render(request, "accounts/people.html", context)


class PersonFormPage(RecordFormPage[Person]):
    """A new person, or a change to one."""

    model = Person
    form_class = PersonForm
    template_name = "accounts/person_form.html"
    permission = PERMISSION
    noun = "person"

    def find_row(self) -> Person:
        """Somebody of the district, also if deactivated."""
        return get_object_or_404(people_listed(self.person), pk=self.kwargs["pk"])

    def new_row(self) -> Person:
        return Person(district=self.person.district)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """A new person with a mail address gets a link; for any other a password is shown once."""
        answer = super().post(request, *args, **kwargs)
        if answer.status_code != 302 or "pk" in self.kwargs:
            return answer
        if self.saved_row.email and mail_is_set_up():
            return _link_sent(request, self.person, self.saved_row)
        return _password_page(request, self.person, self.saved_row)

    effects_said = "This is what the last day ends. Nothing is saved yet."
    effects_button = "Save it"

    def show(self, row: Person, form: RecordForm, status: int = 200, **more: Any) -> HttpResponse:
        """With the word whether a link can be mailed."""
        return super().show(row, form, status, by_mail=mail_is_set_up(), **more)

    def effects(self, row: Person, values: Mapping[str, Any]) -> list[str]:
        """Planned sessions that are off, and services that nobody gives."""
        if not row.pk:
            return []
        me, fresh = self.person, self.find_row()
        return ends_foreseen(me, row, lambda: person_with_offices_save(actor=me, row=fresh, values=values))

    def save(self, row: Person, values: Mapping[str, Any]) -> Person:
        """Save it with the office's buildings."""
        self.saved_row = person_with_offices_save(actor=self.person, row=row, values=values)
        return self.saved_row

    def back(self, row: Person) -> str:
        return reverse("people")

    def crumbs(self, row: Person) -> Crumbs:
        return _crumbs()


def _password_page(request: HttpRequest, viewer: Person, row: Person) -> HttpResponse:
    context = {
        "row": row,
        "password": person_password_give(actor=viewer, row=row),
        "crumbs": _crumbs(),
    }
    answer = render(request, "accounts/person_password.html", context)
    add_never_cache_headers(answer)
    return answer


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    """Give a person a new password and show it this once."""
    viewer = person_of(request)
    return _password_page(request, viewer, get_object_or_404(people_listed(viewer), pk=pk, is_active=True))


def _link_sent(request: HttpRequest, viewer: Person, row: Person) -> HttpResponse:
    sent = f"A link is on its way to the mail address of {row}, who chooses a password by it."
    do_and_say(request, lambda: person_link_send(actor=viewer, row=row, site=site_of(request)), sent)
    return redirect("people")


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def person_link(request: HttpRequest, pk: int) -> HttpResponse:
    """Have a link mailed to a person by which they choose a password."""
    viewer = person_of(request)
    return _link_sent(request, viewer, get_object_or_404(people_listed(viewer), pk=pk, is_active=True))


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def person_active(request: HttpRequest, pk: int) -> HttpResponse:
    """Deactivate a sign-in (`active` is ``no``), or let it in again."""
    viewer = person_of(request)
    row = get_object_or_404(people_listed(viewer), pk=pk)
    active = request.POST.get("active") != "no"
    person_active_set(actor=viewer, row=row, active=active)
    messages.success(request, f"{row} can sign in again." if active else f"{row} can't sign in anymore.")
    return redirect("people")


class SubstitutionFormPage(RecordFormPage[Substitution]):
    """A new substitution, or a change to one."""

    model = Substitution
    form_class = SubstitutionForm
    permission = PERMISSION
    noun = "substitution"
    effects_said = "This changes the log. Nothing is saved yet."

    def effects(self, row: Substitution, values: Mapping[str, Any]) -> list[str]:
        """What it does to what an absence logged."""
        fresh = self.find_row() if row.pk else self.new_row()
        return cover_effects(self.person, lambda: substitution_save(actor=self.person, row=fresh, values=values))

    def save(self, row: Substitution, values: Mapping[str, Any]) -> Substitution:
        return substitution_save(actor=self.person, row=row, values=values)

    def back(self, row: Substitution) -> str:
        return reverse("people")

    def crumbs(self, row: Substitution) -> Crumbs:
        return _crumbs()

    def delete_address(self, row: Substitution) -> str:
        return reverse("substitution_delete", args=[row.pk])


class SubstitutionDeletePage(RecordDeletePage[Substitution]):
    """End a substitution at once."""

    model = Substitution
    permission = PERMISSION
    noun = "substitution"

    def effects(self, row: Substitution) -> list[str]:
        """What falls out again by an absence."""
        fresh = self.find_row()
        return cover_effects(self.person, lambda: substitution_delete(actor=self.person, row=fresh))

    def delete(self, row: Substitution) -> None:
        substitution_delete(actor=self.person, row=row)

    def label(self, row: Substitution) -> str:
        return f"{row.substitute} covers {row.teacher}, {row}"

    def back(self, row: Substitution) -> str:
        return reverse("people")

    def crumbs(self, row: Substitution) -> Crumbs:
        return _crumbs()
