"""Tokens on one's own page: made, shown once, taken away."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from accounts.models import ApiToken
from accounts.pages import person_of
from accounts.sign_in.pages.own import OwnFormPage
from accounts.tokens.forms import TokenForm
from accounts.tokens.services import token_make, token_remove


class TokenPage(OwnFormPage):
    """A new token."""

    form_class = TokenForm
    template_name = "accounts/token_new.html"

    def act(self, form: Any) -> HttpResponse:
        """Make it, and show it this once."""
        values = {name: form.cleaned_data[name] for name in ("name", "scope", "last_day")}
        row, token = token_make(actor=person_of(self.request), **values)
        return render(self.request, "accounts/token.html", {"row": row, "token": token})


@require_POST
def token_remove_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Take one away."""
    person = person_of(request)
    token_remove(actor=person, row=get_object_or_404(ApiToken.objects.visible_to(person), pk=pk))
    messages.success(request, "That token doesn’t work anymore.")  # noqa: RUF001 -- as pages write it
    return redirect("own_sign_in")
