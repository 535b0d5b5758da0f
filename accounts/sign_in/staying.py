"""How long a sign-in lasts: until it wasn't used for the district's time, and on a shared computer shorter."""

import time
from collections.abc import Callable, Mapping
from typing import Any

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.contrib.sessions.backends.base import SessionBase
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from accounts.models import Person
from accounts.sign_in.selectors import factors_of, idle_minutes
from accounts.sign_in.services.sessions import session_begin, session_forget, session_used

SEEN, BEGAN, MINUTES, KEY = "seen", "began", "idle_minutes", "key"
SHARED, MISSING = "shared", "factor_missing"
BY_PROVIDER, STEP_THERE, SESSION_THERE = "by_provider", "second_step_at_provider", "session_at_provider"
"""In a session that began at the district's provider: when somebody proved there who they are, in seconds; whether
a second factor was asked there; and what the provider calls its own session, if it says."""
SECOND_STEP = "accounts.sign_in.second_step"
"""Where a request that signs somebody in says by which second step, for the record."""
EVERY = 60
"""Seconds: a session that is used is written that often at most."""
KEPT = "Kept-Page"
"""The header with which a phone fetches pages by itself: nobody is there."""
UNUSED = "You were signed out because this session wasn't used for a while. Nothing is lost: sign in and go on."
LONG = "You have been signed in for 30 days. Sign in again and go on."
LONGEST = 30 * 24 * 3600
"""Seconds after which everybody signs in again, however often a session is used (NIST SP 800-63B, 4.1.3)."""
BROWSERS = (("Edg", "Edge"), ("OPR", "Opera"), ("Firefox", "Firefox"), ("Chrome", "Chrome"), ("Safari", "Safari"))
SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("CrOS", "ChromeOS"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("Linux", "Linux"),
)


def browser_words(agent: str) -> str:
    """Such as “Firefox on Windows”; empty where nothing is known. The first that fits: each names others, too."""
    browser = next((name for mark, name in BROWSERS if mark in agent), "")
    system = next((name for mark, name in SYSTEMS if mark in agent), "")
    return " on ".join(one for one in (browser, system) if one)


def held_by_provider(said: object, *, alone: bool = False) -> Callable[[Mapping[str, Any]], bool]:
    """Of what a session holds: whether it began at the provider, in the session there that is `said`.

    Where one of both sides doesn't know which it was, it is; not where the session `alone` says whose it is.
    """

    def began_there(held: Mapping[str, Any]) -> bool:
        known = held.get(SESSION_THERE)
        if alone:
            return BY_PROVIDER in held and bool(said) and said == known
        return BY_PROVIDER in held and (not said or not known or said == known)

    return began_there


class StayingMiddleware:
    """Ends a session that wasn't used; notes that it is. Sees nothing of pages that ask no session."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on."""
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Callable[..., object], *more: object) -> None:
        """Once the address is known. Whoever is signed out here is asked to sign in by what follows."""
        asks = request.path.startswith("/api/") or getattr(view, "login_required", True)
        person = request.user if asks else None
        if not isinstance(person, Person):
            return
        now, session = time.time(), request.session
        if words := _over(session, now):
            logout(request)
            if not request.path.startswith("/api/"):
                messages.info(request, words)
        elif KEPT not in request.headers and now - session.get(SEEN, 0) >= EVERY:
            _used(request, person, now)


def _over(session: SessionBase, now: float) -> str:
    """Why a session has ended; empty if it hasn't."""
    if SEEN in session and now - session[SEEN] > session.get(MINUTES, 0) * 60:
        return UNUSED
    return LONG if now - session.setdefault(BEGAN, now) > LONGEST else ""


def _ask_factor(session: SessionBase, person: Person) -> None:
    """Note whether a second factor is needed that isn't there: asked as seldom as a session is written."""
    if not session.get(STEP_THERE) and factors_of(person).missing:
        session[MISSING] = True


def _used(request: HttpRequest, person: Person, now: float) -> None:
    session = request.session
    session[SEEN] = now
    session[MINUTES] = idle_minutes(person, shared=bool(session.get(SHARED)))
    _ask_factor(session, person)
    key, was = session.session_key or "", session.get(KEY, "")
    session[KEY] = key
    words = browser_words(request.headers.get("User-Agent", ""))
    session_used(person=person, key=key, was=was, browser=words, now=timezone.now())


def _began(sender: object, request: HttpRequest, user: Person, **more: object) -> None:
    session = request.session
    session[SEEN] = session[BEGAN] = time.time()
    session[KEY] = session.session_key or ""
    session[MINUTES] = idle_minutes(user, shared=False)
    _ask_factor(session, user)
    words = browser_words(request.META.get("HTTP_USER_AGENT", ""))
    session_begin(person=user, key=session[KEY], browser=words, now=timezone.now())


def _ended(sender: object, request: HttpRequest, user: Person | None, **more: object) -> None:
    session_forget(key=request.session.get(KEY, request.session.session_key or ""))


def connect() -> None:
    """Hear of every sign-in and sign-out, whichever way it came."""
    user_logged_in.connect(_began, dispatch_uid="session-began")
    user_logged_out.connect(_ended, dispatch_uid="session-ended")
