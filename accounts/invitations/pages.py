"""Pages of invitations: who hasn't come in yet, links by mail or on slips, and the page that a link opens."""

from typing import Any

import segno
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.contrib.auth.views import INTERNAL_RESET_SESSION_TOKEN
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers
from django.views.decorators.http import require_POST, require_safe

from accounts.invitations.forms import InvitationsForm
from accounts.invitations.selectors import (
    invitation_by_secret,
    people_come_in,
    people_in_district,
    people_invited,
    people_to_invite,
    standing_of,
)
from accounts.invitations.services import (
    Invited,
    invitation_accept,
    invitation_take_back,
    invitations_print,
    invitations_send,
)
from accounts.models import Person
from accounts.pages import Crumbs, do_and_say, list_page, person_of, site_of
from accounts.people.mailing import mail_is_set_up
from accounts.people.services import PERMISSION
from accounts.sign_in.pages.passwords import PasswordLinkView

SHOWN_LEFT_OUT = 5
"""So many who got nothing are named; the others are counted."""


def _crumbs() -> Crumbs:
    return [("People", reverse("people"))]


@require_safe
@permission_required(PERMISSION, raise_exception=True)
def invitations(request: HttpRequest) -> HttpResponse:
    """Who wasn't invited, who was and until when, who has come in."""
    return _shown(request, InvitationsForm(people=Person.objects.none()))


def _shown(request: HttpRequest, form: InvitationsForm, status: int = 200) -> HttpResponse:
    viewer, now = person_of(request), timezone.now()
    to_invite: Any = list_page(request, people_to_invite(viewer, now))
    context = {
        "form": form,
        "to_invite": to_invite,
        "to_invite_rows": [(one, standing_of(one, now)) for one in to_invite.rows],
        "invited": list_page(request, people_invited(viewer, now), name="invited"),
        "come_in": list_page(request, people_come_in(viewer), name="come-in"),
        "chosen": set(request.POST.getlist("people")),
        "by_mail": mail_is_set_up(),
        "crumbs": _crumbs(),
    }
    return render(request, "accounts/invitations.html", context, status=status)


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def invitations_ask(request: HttpRequest) -> HttpResponse:
    """Send to all who were chosen, or to one again; printed ones are shown this once."""
    viewer = person_of(request)
    form = InvitationsForm(request.POST, people=people_in_district(viewer))
    if not form.is_valid():
        return _shown(request, form, 422)
    asked = form.cleaned_data
    chosen = people_to_invite(viewer, timezone.now()) if asked["everyone"] else asked["people"]
    values = {"actor": viewer, "people": list(chosen), "days": asked["days"], "again": asked["again"]}
    if asked["how"] == "paper":
        return _slips(request, invitations_print(site=site_of(request), **values))
    do_and_say(request, lambda: _say(request, invitations_send(site=site_of(request), **values)))
    return redirect("invitations")


def _say(request: HttpRequest, done: Invited) -> None:
    number = len(done.people)
    if number == 1:
        messages.success(request, f"An invitation is on its way to the mail address of {done.people[0]}.")
    elif number:
        messages.success(request, f"{number} invitations are on their way by mail.")
    for one in done.left_out[:SHOWN_LEFT_OUT]:
        messages.warning(request, f"{one.person} {one.reason}.")
    if (more := len(done.left_out) - SHOWN_LEFT_OUT) > 0:
        messages.warning(request, f"{more} more got no invitation, for reasons like these.")


def _slips(request: HttpRequest, done: Invited) -> HttpResponse:
    if not done.slips:
        _say(request, done)
        return redirect("invitations")
    pictures = [_picture(one.link) for one in done.slips]
    context = {
        "slips": list(zip(done.slips, pictures, strict=True)),
        "left_out": done.left_out,
        "crumbs": [*_crumbs(), ("Invitations", reverse("invitations"))],
    }
    answer = render(request, "accounts/invitation_slips.html", context)
    add_never_cache_headers(answer)
    return answer


def _picture(link: str) -> str:
    return str(segno.make(link, error="m").svg_data_uri(scale=3, border=4, dark="#000", light="#fff"))


@require_POST
@permission_required(PERMISSION, raise_exception=True)
def invitation_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one back: the link is dead."""
    viewer = person_of(request)
    row = get_object_or_404(people_in_district(viewer), pk=pk)
    said = f"The invitation of {row} was taken back. Its link opens nothing anymore."
    do_and_say(request, lambda: invitation_take_back(actor=viewer, person=row), said)
    return redirect("invitations")


class _Links:
    """What Django's page of links asks whether one is good."""

    def check_token(self, person: Person | None, secret: str | None) -> bool:
        """Whether the secret is of an invitation of this person that works now."""
        if person is None or not secret:
            return False
        return invitation_by_secret(person=person, secret=secret, now=timezone.now()) is not None


class InvitationView(PasswordLinkView):
    """Choose a first password by the link of an invitation."""

    template_name = "accounts/invitation_open.html"
    token_generator = _Links()  # Django asks it for check_token alone

    def choose(self, person: Person, new_password: str) -> None:
        """Save it, and the invitation is used."""
        secret = self.request.session.get(INTERNAL_RESET_SESSION_TOKEN, "")
        invitation_accept(person=person, secret=secret, new_password=new_password)
