"""Writes about open sessions: begun, used, ended."""

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.contrib.sessions.models import Session
from django.db import transaction

from accounts.models import OpenSession, Person
from accounts.services import audit_write


def session_begin(*, person: Person, key: str, browser: str, now: dt.datetime) -> None:
    """Note that a session of a person has begun."""
    values = {"person": person, "browser": browser, "shared": False, "began_at": now, "used_at": now}
    OpenSession.objects.update_or_create(session_key=key, defaults=values)


def session_used(*, person: Person, key: str, was: str, browser: str, now: dt.datetime) -> None:
    """Note that it is used; under its new key if it has another than the last time (`was`)."""
    found = OpenSession.objects.filter(person=person, session_key=was or key)
    if not found.update(session_key=key, used_at=now):
        session_begin(person=person, key=key, browser=browser, now=now)


def session_share(*, key: str) -> None:
    """It was said that others use this computer, too."""
    OpenSession.objects.filter(session_key=key).update(shared=True)


def session_forget(*, key: str) -> None:
    """It is over: somebody signed out."""
    OpenSession.objects.filter(session_key=key).delete()


def session_end(*, actor: Person, row: OpenSession) -> None:
    """End one of one's own sessions: whoever has it is signed out at the next request."""
    _end(actor, [row])


def sessions_end_others(*, actor: Person, key: str) -> int:
    """End all of one's own sessions but the present one; returns how many."""
    rows = list(OpenSession.objects.visible_to(actor).exclude(session_key=key))
    _end(actor, rows)
    return len(rows)


def sessions_end_at_provider(*, person: Person, until: dt.datetime, began_there: Callable[[Any], bool]) -> int:
    """End a person's sessions that began at the provider, until a moment at which it said so; returns how many.

    `began_there` says of what a session holds whether it is one of them.
    """
    rows = list(OpenSession.objects.filter(person=person, began_at__lte=until))
    kept = Session.objects.filter(session_key__in=[row.session_key for row in rows])
    there = {one.session_key for one in kept if began_there(one.get_decoded())}
    ended = [row for row in rows if row.session_key in there]
    _end(person, ended)
    return len(ended)


def _end(actor: Person, rows: list[OpenSession]) -> None:
    with transaction.atomic():
        for row in rows:
            Session.objects.filter(session_key=row.session_key).delete()
            if actor.district is not None:
                audit_write(actor=actor, district=actor.district, action="session_end", row=row)
            row.delete()
