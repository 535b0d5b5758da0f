"""Reports as they were known on a day: what that takes, and what it can't know."""

import datetime as dt
from collections import Counter

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District
from schedule.log.known import KnownOn, known_on

AS_OF_NOW = {
    "schedule.calendarentry": "special days",
    "schedule.schoolyear": "school years",
    "schedule.markingperiod": "marking periods",
    "schedule.dayrotation": "rotations",
    "schedule.weekplan": "weeks",
}
"""Tables whose state of then isn't kept, as the report calls them: how often they were changed since is told."""

KEPT = (
    "Sessions, corrections, decisions, services, enrollments and rules are told as they were known then; "
    "the calendar and published weeks as they are now."
)


def known_of(district: District, day: dt.date | None, today: dt.date) -> KnownOn | None:
    """As of which evening; None for now. Raises `ApplicationError` (``known_later``) for a day in the future."""
    if day is None:
        return None
    if day > today:
        raise ApplicationError(
            f"{date_words(day)} is in the future. Choose a day up to today, or none for what is known now.",
            code="known_later",
        )
    return known_on(day, district.time_zone)


def known_facts(known: KnownOn | None) -> tuple[tuple[str, str], ...]:
    """What a report says of it at its top."""
    return (("As known on", date_words(known.day)),) if known is not None else ()


def known_notes(district: District, known: KnownOn | None) -> tuple[str, ...]:
    """What is told as it was, what isn't, and how much of the latter was changed since. One query."""
    if known is None:
        return ()
    entries = AuditEntry.objects.filter(district=district, at__gt=known.moment)
    changed = Counter(entries.filter(model__in=list(AS_OF_NOW)).values_list("model", flat=True))
    services = entries.filter(model="caseload.serviceline").values_list("changes", flat=True)
    gone = sum(changes.get("id", [0, 0])[1] is None for changes in services)
    told = [f"{words} {changed[model]}" for model, words in AS_OF_NOW.items() if changed[model]]
    notes = [KEPT]
    if told:
        notes.append(f"Changes since then in what is told as it is now: {', '.join(told)}.")
    if gone:
        notes.append(f"Services deleted since then, which are missing here: {gone}.")
    return tuple(notes)
