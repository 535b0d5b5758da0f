"""What somebody signs in with, and where they are signed in: second factors, recovery codes, open sessions."""

from typing import Any

import pyotp
import segno
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.forms import HiddenInput
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_safe
from django.views.generic import FormView

from accounts.models import ApiToken, OpenSession, SecondFactor
from accounts.pages import Crumbs, person_of, site_of
from accounts.selectors import today_of
from accounts.sign_in.forms import CodesForm, ConfirmForm, PasskeyForm
from accounts.sign_in.passkeys import PasskeyError, registration_ask, registration_read
from accounts.sign_in.provider.asked import provider_asked
from accounts.sign_in.sealing import seal, unseal
from accounts.sign_in.selectors import factors_of, open_sessions
from accounts.sign_in.services.factors import codes_factor_add, factor_remove, passkey_add, recovery_codes_make
from accounts.sign_in.services.sessions import session_end, sessions_end_others
from accounts.sign_in.staying import BY_PROVIDER
from accounts.sign_in.trying import password_require

MAKING, CHALLENGE = "factor_secret", "factor_challenge"
CRUMB = "How you sign in"


def _crumbs() -> Crumbs:
    return [(CRUMB, reverse("own_sign_in"))]


@require_safe
def own_sign_in(request: HttpRequest) -> HttpResponse:
    """Password, second factors, recovery codes and open sessions, with the way to change each."""
    person = person_of(request)
    here = request.session.session_key
    sessions = [{"row": one, "here": one.session_key == here} for one in open_sessions(person)]
    context = {
        "factors": factors_of(person),
        "sessions": sessions,
        "tokens": ApiToken.objects.visible_to(person),
        "today": today_of(person),
    }
    return render(request, "accounts/own_sign_in.html", context)


@method_decorator([never_cache, sensitive_post_parameters()], name="dispatch")
class OwnFormPage(FormView):  # type: ignore[type-arg]  # Django's FormView takes no type at run time
    """A form that asks for the password once more: whoever found an open session changes nothing here."""

    http_method_names = ["get", "head", "post", "options"]
    success_message = ""

    def get_form(self, form_class: Any = None) -> Any:
        """Without the password where one signed in at the district's provider, and may have none."""
        form = super().get_form(form_class)
        if BY_PROVIDER in self.request.session:
            form.fields["password"].required = False
            form.fields["password"].widget = HiddenInput()
        return form

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """With the way back, and that to the provider where one came from there."""
        asked = provider_asked() if BY_PROVIDER in self.request.session else None
        return super().get_context_data(crumbs=_crumbs(), provider=asked, **more)

    def act(self, form: Any) -> HttpResponse | None:
        """Do it; what it answers is shown instead of going back. Raises `ValidationError` by field."""
        raise NotImplementedError

    def form_valid(self, form: Any) -> HttpResponse:
        """Ask the password, do it and say so; or show what is wrong."""
        try:
            password_require(self.request, person_of(self.request), form.cleaned_data["password"])
            answer = self.act(form)
        except ValidationError as error:
            for name, texts in error.message_dict.items():
                shown = name in form.fields and not form.fields[name].widget.is_hidden
                form.add_error(name if shown else None, texts)
            return self.form_invalid(form)
        if self.success_message:
            messages.success(self.request, self.success_message)
        return answer or redirect("own_sign_in")

    def with_codes(self) -> HttpResponse | None:
        """After the first factor: the recovery codes, shown once."""
        person = person_of(self.request)
        if factors_of(person).codes_left:
            return None
        return _codes_page(self.request, recovery_codes_make(actor=person))


def _codes_page(request: HttpRequest, codes: list[str]) -> HttpResponse:
    return render(request, "accounts/recovery_codes.html", {"codes": codes, "crumbs": _crumbs()})


class CodesPage(OwnFormPage):
    """An app that makes codes: its secret is shown, as a picture and as text, until a right code came."""

    form_class = CodesForm
    template_name = "accounts/factor_codes.html"
    success_message = "The app is set up. From now on signing in asks for one of its codes."

    def _secret(self) -> str:
        kept = unseal(self.request.session.get(MAKING, "")) or pyotp.random_base32()
        self.request.session[MAKING] = seal(kept)
        return kept

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """The secret, for the app to take."""
        secret, person = self._secret(), person_of(self.request)
        address = pyotp.TOTP(secret).provisioning_uri(name=person.username, issuer_name="Minutes & Miles")
        picture = segno.make(address, error="m").svg_data_uri(scale=5, border=4, dark="#000", light="#fff")
        return super().get_context_data(secret=secret, picture=picture, **more)

    def act(self, form: CodesForm) -> HttpResponse | None:
        """Add it if the code is right."""
        values = form.cleaned_data
        now = timezone.now()
        person, secret = person_of(self.request), self._secret()
        codes_factor_add(actor=person, name=values["name"], secret=secret, code=values["code"], now=now)
        self.request.session.pop(MAKING, None)
        return self.with_codes()


class PasskeyPage(OwnFormPage):
    """A passkey: of this device, or on a key that is plugged in."""

    form_class = PasskeyForm
    template_name = "accounts/factor_passkey.html"
    success_message = "The passkey is set up. From now on signing in asks for it."

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """What the browser is asked, with a challenge of this page alone."""
        person = person_of(self.request)
        asked = registration_ask(person, factors_of(person).rows, site_of(self.request))
        self.request.session[CHALLENGE] = asked.challenge
        return super().get_context_data(passkey_options=asked.options, **more)

    def act(self, form: PasskeyForm) -> HttpResponse | None:
        """Add it if what the browser answered holds."""
        challenge = self.request.session.pop(CHALLENGE, "")
        try:
            found = registration_read(form.cleaned_data["passkey"], challenge, site_of(self.request))
        except PasskeyError as error:
            raise ValidationError({"passkey": str(error)}) from error
        passkey_add(actor=person_of(self.request), name=form.cleaned_data["name"], found=found)
        return self.with_codes()


class FactorRemovePage(OwnFormPage):
    """Remove one."""

    form_class = ConfirmForm
    template_name = "accounts/factor_remove.html"
    success_message = "It is removed."

    def _row(self) -> SecondFactor:
        return get_object_or_404(SecondFactor.objects.visible_to(person_of(self.request)), pk=self.kwargs["pk"])

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """Which."""
        row = self._row()
        last = len(factors_of(person_of(self.request)).rows) == 1
        return super().get_context_data(row=row, last=last, **more)

    def act(self, form: ConfirmForm) -> HttpResponse | None:
        """Remove it."""
        factor_remove(actor=person_of(self.request), row=self._row())
        return None


class RecoveryCodesPage(OwnFormPage):
    """New recovery codes in place of those before."""

    form_class = ConfirmForm
    template_name = "accounts/recovery_codes_new.html"

    def act(self, form: ConfirmForm) -> HttpResponse:
        """Make and show them."""
        return _codes_page(self.request, recovery_codes_make(actor=person_of(self.request)))


class SessionEndPage(OwnFormPage):
    """End one of one's own sessions."""

    form_class = ConfirmForm
    template_name = "accounts/session_end.html"
    success_message = "That session has ended."

    def _row(self) -> OpenSession:
        return get_object_or_404(OpenSession.objects.visible_to(person_of(self.request)), pk=self.kwargs["pk"])

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """Which."""
        return super().get_context_data(row=self._row(), **more)

    def act(self, form: ConfirmForm) -> HttpResponse | None:
        """End it."""
        session_end(actor=person_of(self.request), row=self._row())
        return None


class OtherSessionsEndPage(OwnFormPage):
    """End all of them but this one."""

    form_class = ConfirmForm
    template_name = "accounts/session_end.html"

    def act(self, form: ConfirmForm) -> HttpResponse | None:
        """End them, and say how many."""
        ended = sessions_end_others(actor=person_of(self.request), key=self.request.session.session_key or "")
        words = f"{ended} other sessions have ended." if ended != 1 else "1 other session has ended."
        messages.success(self.request, words)
        return None
