"""What the browser itself asks for: the worker, which pages to keep, and the pages that it shows without signal."""

import json

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import person_of
from accounts.sign_in.phone_key import phone_key, stopped_of_key
from config.manual.chapters import chapters_digest, kept_addresses
from config.phone.kept import kept_days
from config.phone.middleware import HEADER, NAMES
from config.phone.shell import SCRIPTS, SHELL, static_text


@login_not_required
@never_cache
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, from the root so that it may answer for every page; it holds nothing of anybody."""
    shell = {
        "scripts": [static(name) for name in SCRIPTS],
        "files": [static(name) for name in SHELL],
        "pages": {"none": reverse("phone_no_signal"), "locked": reverse("phone_locked")},
        "manual": {"addresses": kept_addresses(), "digest": chapters_digest()},
        "addresses": {name: reverse(name) for name in ("day", "home", "sign_out", "phone_list", "phone_standing")},
        "header": HEADER,
    }
    text = f"const shell = {json.dumps(shell)};\n{static_text('worker.js')}"
    return HttpResponse(text, content_type="text/javascript; charset=utf-8")


@never_cache
@require_safe
def phone_list(request: HttpRequest) -> JsonResponse:
    """Which pages this person's phone keeps, in the order in which they are wanted; the header says how."""
    person = person_of(request)
    days = kept_days(person, encrypted=request.headers.get(HEADER) == NAMES)
    told = [{"date": one.date.isoformat(), "addresses": one.addresses} for one in days]
    return JsonResponse({"person": phone_key(person), "at": timezone.now().isoformat(), "days": told})


@login_not_required
@csrf_exempt  # nothing is changed, and a phone whose sign-in has ended has no token
@never_cache
@require_POST
def phone_standing(request: HttpRequest) -> JsonResponse:
    """Whether the account of a phone's key was stopped: then all that it keeps goes, signed in or not."""
    return JsonResponse({"stopped": stopped_of_key(request.POST.get("person", ""))})


@never_cache
@require_safe
def phone(request: HttpRequest) -> HttpResponse:
    """What this phone keeps, and how: the script fills it in, since only the browser knows."""
    return render(request, "phone/phone.html", {"keeps": person_of(request).has_perm("day.tap")})


@login_not_required
@require_safe
def phone_no_signal(request: HttpRequest) -> HttpResponse:
    """Instead of a page that isn't kept."""
    return render(request, "phone/no_signal.html")


@login_not_required
@require_safe
def phone_locked(request: HttpRequest) -> HttpResponse:
    """Instead of a page that is kept encrypted, until the passcode is there."""
    return render(request, "phone/locked.html")


@require_safe
def unsent(request: HttpRequest) -> HttpResponse:
    """What was tapped on this phone and isn't sent yet; the phone itself fills the page."""
    return render(request, "unsent.html")
