"""The district's rules for signing in, for its coordinator."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from accounts.models import SignInRules
from accounts.pages import Crumbs, RecordFormPage, person_of
from accounts.people.selectors import people_listed
from accounts.sign_in.forms import SignInRulesForm
from accounts.sign_in.services.factors import person_factors_remove
from accounts.sign_in.services.provider import provider_account_forget
from accounts.sign_in.services.rules import PERMISSION, sign_in_rules_save


class SignInRulesPage(RecordFormPage[SignInRules]):
    """When sessions end without use, and who needs a second factor from which day."""

    model = SignInRules
    form_class = SignInRulesForm
    template_name = "accounts/sign_in_rules.html"
    permission = PERMISSION
    noun = "rules for signing in"

    def new_row(self) -> SignInRules:
        """The district's own row, or its first."""
        return SignInRules.objects.visible_to(self.person).first() or SignInRules(district=self.person.district)

    def title(self, row: SignInRules) -> str:
        return "Signing in"

    def saved_message(self, row: SignInRules) -> str:
        return "Saved. A session that is open follows within a minute of its next use."

    def back(self, row: SignInRules) -> str:
        return reverse("district")

    def crumbs(self, row: SignInRules) -> Crumbs:
        return [("District", reverse("district"))]

    def save(self, row: SignInRules, values: Mapping[str, Any]) -> SignInRules:
        return sign_in_rules_save(actor=self.person, row=row, values=values)


@require_POST
@permission_required("people.change", raise_exception=True)
def person_factors(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove the second step of somebody who lost phone and codes."""
    viewer = person_of(request)
    row = get_object_or_404(people_listed(viewer), pk=pk)
    person_factors_remove(actor=viewer, row=row)
    messages.success(request, f"{row} signs in with the password alone until they set up a second step again.")
    return redirect("person_change", pk=pk)


@require_POST
@permission_required("people.change", raise_exception=True)
def person_account(request: HttpRequest, pk: int) -> HttpResponse:
    """Let go of the account at the provider, for somebody who has another one now."""
    viewer = person_of(request)
    row = get_object_or_404(people_listed(viewer), pk=pk)
    provider_account_forget(actor=viewer, row=row)
    messages.success(request, f"The next sign-in of {row} may come by another account.")
    return redirect("person_change", pk=pk)
