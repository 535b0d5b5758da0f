"""Signing in at the district's provider: there, back, what went wrong on the way, and out again."""

import logging
import time
from typing import Any

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import RedirectURLMixin
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from accounts.models import Person
from accounts.pages import site_of
from accounts.sign_in.pages.signing import entered, half_in
from accounts.sign_in.provider.asked import Provider, passwords_open, provider_asked
from accounts.sign_in.provider.said import has_second_step, session_named, signed_in_at
from accounts.sign_in.provider.talking import (
    LEEWAY,
    ProviderError,
    claims_brought,
    ended_there,
    leave_for,
    way_out,
)
from accounts.sign_in.selectors import has_factor
from accounts.sign_in.services.provider import provider_person, provider_sessions_end
from accounts.sign_in.staying import (
    BY_PROVIDER,
    MISSING,
    SECOND_STEP,
    SESSION_THERE,
    STEP_THERE,
    held_by_provider,
)
from accounts.sign_in.trying import provider_try_failed, provider_try_require

BACKEND = "accounts.sign_in.backends.ProviderBackend"
GOING = "going_to_provider"
COUNTED = frozenset({"refused", "unknown", "unnamed", "several", "other_account"})
"""What counts as a wrong try: the others say nothing about who tries."""
AWAY = frozenset({"away", "broken"})
WORDS = {
    "away": "Your district's page for signing in doesn't answer just now. Nothing is lost: try again in a minute.",
    "broken": "Your district's page for signing in isn't the one that is set up here. Tell whoever runs this site.",
    "canceled": (
        "Signing in at your district's page was stopped there. Try again, or ask whoever looks after your account."
    ),
    "stale": "This took too long, or began in another browser or tab. Start again from here.",
    "refused": (
        "What your district's page handed over doesn't hold, so nobody was let in. Start again from here. If it "
        "happens again, tell whoever runs this site."
    ),
    "unknown": (
        "Your district account is fine, but nobody here has it. Ask your coordinator to add you under People, "
        "with the mail address or username of your district account."
    ),
    "unnamed": (
        "Your district's page didn't say which of the people here you are, or hasn't verified your mail address. "
        "Ask whoever looks after your district account."
    ),
    "several": (
        "Two people here have the mail address of your district account. Ask your coordinator to correct one "
        "of them under People."
    ),
    "other_account": (
        "You signed in here with another district account before. If you have a new one, ask your coordinator to "
        "let go of the old one under People."
    ),
}

logger = logging.getLogger(__name__)


def _asked() -> Provider:
    asked = provider_asked()
    if asked is None:
        raise Http404
    return asked


def _failed(request: HttpRequest, asked: Provider, code: str) -> HttpResponse:
    """Say what went wrong, and the ways on. The log says the code alone."""
    logger.warning("a sign-in at the provider let nobody in: %s", code)
    if code in COUNTED:
        provider_try_failed(request)
    context = {"words": WORDS[code], "provider": asked, "passwords": passwords_open()}
    status = 503 if code in AWAY else 403
    answer = render(request, "accounts/provider_failed.html", context, status=status)
    if code == "away":
        answer["Retry-After"] = "60"
    return answer


@method_decorator([login_not_required, never_cache], name="dispatch")
class ProviderView(RedirectURLMixin, View):
    """To the provider's page. With `again` also somebody who is signed in, to show once more who they are."""

    http_method_names = ["get", "options"]
    next_page = settings.LOGIN_REDIRECT_URL

    def get(self, request: HttpRequest) -> HttpResponse:
        """Remember where one wanted to go, and leave."""
        asked = _asked()
        again = "again" in request.GET
        if request.user.is_authenticated and not again:
            return HttpResponseRedirect(self.get_success_url())
        locked = provider_try_require(request)
        if locked is not None:
            return locked
        back = site_of(request) + reverse("provider_back")
        try:
            answer = leave_for(request, asked, back, again=again)
        except ProviderError as error:
            return _failed(request, asked, error.code)
        request.session[GOING] = {"next": self.get_success_url(), "shared": "shared" in request.GET}
        return answer


@login_not_required
@never_cache
@require_safe
def provider_back(request: HttpRequest) -> HttpResponse:
    """Back from the provider's page: let the person in, or ask for our second step first."""
    asked = _asked()
    locked = provider_try_require(request)
    if locked is not None:
        return locked
    try:
        claims = claims_brought(request, asked)
        person = provider_person(asked=asked, claims=claims)
    except ProviderError as error:
        return _failed(request, asked, error.code)
    going = request.session.pop(GOING, None) or {}
    there = has_second_step(claims, asked.second_step)
    said = {
        BY_PROVIDER: signed_in_at(claims, time.time()),
        STEP_THERE: there,
        SESSION_THERE: session_named(claims),
    }
    then, shared = going.get("next") or reverse("home"), bool(going.get("shared"))
    if not there and has_factor(person):
        return half_in(request, person, shared=shared, then=then, backend=BACKEND, said=said)
    return _in(request, person, then, said, shared=shared)


def _in(request: HttpRequest, person: Person, then: str, said: dict[str, Any], *, shared: bool) -> HttpResponse:
    if said[STEP_THERE]:
        request.META[SECOND_STEP] = "at the district's page"
    login(request, person, backend=BACKEND)
    request.session.update(said)
    if said[STEP_THERE]:
        request.session.pop(MISSING, None)
    return entered(request, person, HttpResponseRedirect(then), shared=shared)


@csrf_exempt  # the provider's server asks, by a token that it signed
@login_not_required
@never_cache
@require_POST
def provider_ended(request: HttpRequest) -> HttpResponse:
    """The provider says that somebody's sign-in there has ended: what began by it here ends, too.

    Back-Channel Logout 1.0, 2.5 and 2.8: 200 also where nobody was signed in, 400 for what doesn't hold.
    """
    asked = _asked()
    locked = provider_try_require(request)
    if locked is not None:
        return locked
    try:
        claims = ended_there(asked, request.POST.get("logout_token", ""))
    except ProviderError as error:
        logger.warning("a word of the provider that a sign-in has ended doesn't count: %s", error.code)
        if error.code in COUNTED:
            provider_try_failed(request)
        return JsonResponse({"error": "invalid_request"}, status=503 if error.code in AWAY else 400)
    began_there = held_by_provider(claims.get("sid"), alone="sub" not in claims)
    provider_sessions_end(asked=asked, claims=claims, leeway=LEEWAY, began_there=began_there)
    return HttpResponse()


@login_not_required
@never_cache
@require_safe
def signed_out(request: HttpRequest) -> HttpResponse:
    """Signed out here; the provider goes on knowing its account, and has a page for that."""
    asked = _asked()
    try:
        leads = way_out(asked, site_of(request) + reverse("sign_in"))
    except ProviderError:
        leads = ""  # away just now: the words say what is left to do
    return render(request, "accounts/signed_out.html", {"provider": asked, "leads": leads})
