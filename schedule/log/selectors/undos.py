"""The taps about a day that can be taken back."""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from accounts.models import Person
from caseload.delivery.selectors.sendings import Sending, sendings_of_date
from schedule.calendar.models import Happening


@dataclass(frozen=True, slots=True)
class Undos:
    """The taps about a day that can be taken back: those about several sessions, and the latest of each session."""

    whole: tuple[Sending, ...]
    by_session: dict[uuid.UUID, Sending]


def undos_of(viewer: Person, date: dt.date, entries: Mapping[uuid.UUID, Iterable[int]]) -> Undos:
    """What the viewer may take back of what the viewer logged about a date; `entries`: by session, their ids."""
    if not viewer.has_perm("log.write"):
        return Undos((), {})
    sendings = _taps(viewer, date)
    single = {
        sent.entry_id: one for one in reversed(sendings) if one.sessions == 1 for sent in one.standing
    }  # the latest last: it stays
    found: dict[uuid.UUID, Sending] = {}
    for uid, ids in entries.items():
        mine = [single[one] for one in ids if one in single]
        if mine:
            found[uid] = max(mine, key=_logged_at)
    return Undos(tuple(one for one in sendings if one.sessions > 1), found)


def _taps(viewer: Person, date: dt.date) -> list[Sending]:
    """The viewer's own; what was logged by something that happened is taken back with it, whole, and not here."""
    said = set(Happening.objects.filter(said_by=viewer, last_date__gte=date).values_list("sending", flat=True))
    return [one for one in sendings_of_date(viewer, date) if one.uid not in said]


def _logged_at(sending: Sending) -> dt.datetime:
    return sending.logged_at
