"""The taps about a day that can be taken back."""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from accounts.models import Person
from caseload.delivery.selectors.sendings import Sending, sendings_of_date
from schedule.calendar.models import Happening
from schedule.log.selectors.sessions import LogSession


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
    single = _by_entry(one for one in reversed(sendings) if one.sessions == 1)
    latest = {uid: _latest(ids, single) for uid, ids in entries.items()}
    whole = tuple(one for one in sendings if one.sessions > 1)
    return Undos(whole, {uid: one for uid, one in latest.items() if one is not None})


def entries_of(sessions: Iterable[LogSession]) -> dict[uuid.UUID, tuple[int, ...]]:
    """Ids of the entries of sessions, by session."""
    return {one.uid: one.entry_ids for one in sessions}


def _by_entry(sendings: Iterable[Sending]) -> dict[int, Sending]:
    """By what stands of them; of two about one entry the last."""
    return {sent.entry_id: one for one in sendings for sent in one.standing}


def _latest(entries: Iterable[int], single: Mapping[int, Sending]) -> Sending | None:
    mine = [single[one] for one in entries if one in single]
    return max(mine, key=_logged_at, default=None)


def _taps(viewer: Person, date: dt.date) -> list[Sending]:
    """The viewer's own; what was logged by something that happened is taken back with it, whole, and not here."""
    said = set(Happening.objects.filter(said_by=viewer, last_date__gte=date).values_list("sending", flat=True))
    return [one for one in sendings_of_date(viewer, date) if one.uid not in said]


def _logged_at(sending: Sending) -> dt.datetime:
    return sending.logged_at
