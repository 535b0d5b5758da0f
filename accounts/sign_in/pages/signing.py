"""Signing in with a name and a password, then a second factor where there is one; where a person starts."""

import time
from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe
from django.views.generic import FormView

from accounts.models import Person, SecondFactor
from accounts.pages import person_of, site_of
from accounts.sign_in.forms import FactorForm, SignInForm
from accounts.sign_in.known import known_keep
from accounts.sign_in.passkeys import PasskeyError, entry_ask, entry_credential, entry_read
from accounts.sign_in.provider.asked import passwords_open, provider_asked
from accounts.sign_in.selectors import has_factor
from accounts.sign_in.services.factors import PASSKEY, code_take, passkey_used
from accounts.sign_in.services.sessions import session_share
from accounts.sign_in.staying import BY_PROVIDER, SECOND_STEP, SHARED
from accounts.sign_in.trying import try_failed, try_require

HALF = "half_signed_in"
HALF_SECONDS = 600
"""How long a right password waits for its second factor."""
BACKEND = "accounts.sign_in.backends.PasswordBackend"
CLOSED = "Passwords aren't taken here: sign in with your district account."
CODE_REFUSED = "This code isn't right, or it was used before. Type the one that your app shows now."


def entered(request: HttpRequest, person: Person, answer: HttpResponse, *, shared: bool) -> HttpResponse:
    """What follows from where somebody signed in: a shared computer forgets them when its browser closes."""
    if shared:
        request.session.set_expiry(0)
        request.session[SHARED] = True
        session_share(key=request.session.session_key or "")
    else:
        known_keep(request, answer, person.get_username())
    return answer


def half_in(
    request: HttpRequest, person: Person, *, shared: bool, then: str, backend: str, said: Mapping[str, Any]
) -> HttpResponse:
    """To the second step: a password, or the provider, has said who it is. `said` goes into the session later."""
    request.session[HALF] = {
        "person": person.pk,
        "hash": person.get_session_auth_hash(),
        "at": time.time(),
        "shared": shared,
        "next": then,
        "backend": backend,
        "said": dict(said),
    }
    return redirect("sign_in_factor")


class SignInView(LoginView):
    """Name and password; too many wrong tries shut the door for a while (accounts.sign_in.limits)."""

    form_class = SignInForm
    template_name = "accounts/sign_in.html"
    http_method_names = ["get", "head", "post", "options"]
    redirect_authenticated_user = True

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """With the way by the district's provider, and whether there is another."""
        return super().get_context_data(provider=provider_asked(), passwords=passwords_open(), **more)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Take a name and a password, where that is a way in."""
        if passwords_open():
            return super().post(request, *args, **kwargs)
        messages.error(request, CLOSED)
        return redirect("sign_in")

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Let the person in, or ask for the second factor first."""
        person, shared = form.get_user(), form.cleaned_data["shared"]
        if isinstance(person, Person) and has_factor(person):
            return half_in(
                self.request, person, shared=shared, then=self.get_success_url(), backend=BACKEND, said={}
            )
        answer = super().form_valid(form)
        return entered(self.request, person, answer, shared=shared) if isinstance(person, Person) else answer


@method_decorator(require_http_methods(["GET", "HEAD", "POST"]), name="dispatch")
@method_decorator([login_not_required, never_cache, sensitive_post_parameters()], name="dispatch")
class FactorView(FormView):  # type: ignore[type-arg]  # Django's FormView takes no type at run time
    """The second factor of somebody whose password was right: a passkey, a code of an app, or a recovery code."""

    form_class = FactorForm
    template_name = "accounts/sign_in_factor.html"
    http_method_names = ["get", "head", "post", "options"]
    person: Person
    half: dict[str, Any]
    step = ""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Back to the password if none was right here within the last minutes, or if it was changed since."""
        self.half = request.session.get(HALF) or {}
        found = Person.objects.filter(pk=self.half.get("person", 0), is_active=True).first()
        fresh = time.time() - float(self.half.get("at", 0)) < HALF_SECONDS
        if found is None or not fresh or found.get_session_auth_hash() != self.half.get("hash"):
            request.session.pop(HALF, None)
            return redirect("sign_in")
        self.person = found
        return super().dispatch(request, *args, **kwargs)

    @property
    def passkeys(self) -> list[SecondFactor]:
        """Those that the browser is asked for."""
        return list(SecondFactor.objects.filter(person=self.person, kind=SecondFactor.Kind.PASSKEY))

    def get_context_data(self, **more: Any) -> dict[str, Any]:
        """What the browser is asked, with a challenge of this page alone."""
        options = ""
        if rows := self.passkeys:
            asked = entry_ask(rows, site_of(self.request))
            self.request.session[HALF] = {**self.half, "challenge": asked.challenge}
            options = asked.options
        by_password = self.half.get("backend", BACKEND) == BACKEND
        return super().get_context_data(passkey_options=options, by_password=by_password, **more)

    def form_valid(self, form: FactorForm) -> HttpResponse:
        """Let the person in; or count a wrong try, and say so."""
        try_require(self.request, self.person)
        problem = self._refusal(form.cleaned_data["passkey"], form.cleaned_data["code"])
        if problem:
            try_failed(self.request, self.person)
            form.add_error("code", problem)
            return self.form_invalid(form)
        half = self.half
        del self.request.session[HALF]
        self.request.META[SECOND_STEP] = self.step
        login(self.request, self.person, backend=half.get("backend", BACKEND))
        self.request.session.update(half.get("said", {}))
        return entered(self.request, self.person, HttpResponseRedirect(half["next"]), shared=half["shared"])

    def _refusal(self, passkey: str, code: str) -> str:
        if not passkey:
            self.step = code_take(person=self.person, code=code, now=timezone.now())
            return "" if self.step else CODE_REFUSED
        challenge = self.half.pop("challenge", "")
        self.request.session[HALF] = self.half  # each challenge is for one answer
        try:
            credential = entry_credential(passkey)
            row = next((one for one in self.passkeys if one.credential == credential), None)
            if row is None or not challenge:
                return CODE_REFUSED
            counter = entry_read(passkey, challenge, row, site_of(self.request))
        except PasskeyError as error:
            return str(error)
        passkey_used(row=row, counter=counter, now=timezone.now())
        self.step = PASSKEY
        return ""


class SignOutView(LogoutView):
    """Signing out; the browser forgets what it has loaded. What isn't sent yet stays (docs/offline.md)."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Only the cache: "storage" would take what isn't sent yet, "cookies" those of other programs."""
        by_provider = BY_PROVIDER in request.session
        answer = super().dispatch(request, *args, **kwargs)
        if request.method == "POST":
            if by_provider:
                answer = redirect("signed_out")
            answer["Clear-Site-Data"] = '"cache"'
        return answer


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """The week (this one, or the next that is planned) if that page is installed, else the buildings.

    Whoever stands in by a link has a day.
    """
    if person_of(request).by_link:
        return redirect("day")
    for name, more in (("week", "?start=1"), ("building_list", "")):
        try:
            return redirect(reverse(name) + more)
        except NoReverseMatch:
            continue
    return redirect("password_change")
