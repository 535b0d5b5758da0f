"""What one tap logged, and what became of it since: for taking it back."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from django.db.models import F

from accounts.models import Person
from caseload.delivery.models import DeliveryVersion, TeamDecision


class SentState(StrEnum):
    """What became of what a tap wrote about one student."""

    STANDS = "stands"
    CHANGED = "changed"
    TAKEN_BACK = "taken_back"


@dataclass(frozen=True, slots=True)
class SentEntry:
    """What a tap wrote in one entry: which version of it, and who changed it since. Times of day are local."""

    entry_id: int
    version_id: int
    number: int
    student_id: int
    code: str
    name: str
    date: dt.date
    start: dt.time | None
    session_uid: uuid.UUID | None
    state: SentState
    changed_by: str = ""
    changed_at: dt.datetime | None = None

    @property
    def words(self) -> str:
        """Which entry and who changed it, without a name of a student (an error message may hold none)."""
        time = f", {self.start:%-I:%M %p}" if self.start is not None else ""
        return f"{self.code} on {self.date:%B %-d}{time}, changed by {self.changed_by}"


@dataclass(frozen=True, slots=True)
class Sending:
    """Everything that one tap wrote."""

    uid: uuid.UUID
    logged_at: dt.datetime
    entries: tuple[SentEntry, ...]

    def of(self, entries: Collection[int]) -> "Sending":
        """What it wrote in some entries."""
        return replace(self, entries=tuple(one for one in self.entries if one.entry_id in entries))

    def _in(self, state: SentState) -> tuple[SentEntry, ...]:
        return tuple(one for one in self.entries if one.state is state)

    @property
    def standing(self) -> tuple[SentEntry, ...]:
        """What can be taken back: nobody changed it since."""
        return self._in(SentState.STANDS)

    @property
    def changed(self) -> tuple[SentEntry, ...]:
        """What somebody changed since, or a team decided about."""
        return self._in(SentState.CHANGED)

    @property
    def taken_back(self) -> tuple[SentEntry, ...]:
        """What this tap's undo took back before."""
        return self._in(SentState.TAKEN_BACK)

    @property
    def sessions(self) -> int:
        """How many sessions stand as the tap logged them."""
        return len({one.session_uid for one in self.standing})


def undo_client_id(version: DeliveryVersion) -> uuid.UUID:
    """The client id of the version that takes this one back: the same however often somebody taps."""
    return uuid.uuid5(version.sending or uuid.UUID(int=0), f"undo/{version.pk}")


def sending_get(actor: Person, uid: uuid.UUID) -> Sending | None:
    """What the actor's own tap wrote; None where the actor may see none of it (anymore)."""
    return next(iter(_sendings(actor, [uid])), None)


def sendings_of_date(actor: Person, date: dt.date) -> list[Sending]:
    """The actor's own taps about sessions of a date of which something stands, the latest first. Five queries."""
    rows = DeliveryVersion.objects.filter(logged_by=actor, entry__date=date, sending__isnull=False)
    uids = set(rows.order_by().values_list("sending", flat=True))
    found = [one for one in _sendings(actor, [uid for uid in uids if uid is not None]) if one.standing]
    return sorted(found, key=lambda one: one.logged_at, reverse=True)


def _sendings(actor: Person, uids: Collection[uuid.UUID]) -> list[Sending]:
    versions = list(
        DeliveryVersion.objects.visible_to(actor)
        .filter(sending__in=uids, logged_by=actor)
        .select_related("entry__student")
        .order_by("entry__date", "entry__start", "entry__student__code", "pk")
    )
    changes = _changes(versions)
    undos = {undo_client_id(one): one.pk for one in versions}
    stored = DeliveryVersion.objects.filter(client_id__in=list(undos)).values_list("client_id", flat=True)
    taken_back = {undos[one] for one in stored if one is not None}
    found: dict[uuid.UUID, list[SentEntry]] = defaultdict(list)
    times: dict[uuid.UUID, dt.datetime] = {}
    for version in versions:
        if version.sending is not None:
            found[version.sending].append(_sent(version, changes.get(version.pk), version.pk in taken_back))
            times.setdefault(version.sending, version.logged_at)
    return [Sending(uid, times[uid], tuple(sent)) for uid, sent in found.items()]


def _changes(versions: Iterable[DeliveryVersion]) -> Mapping[int, tuple[str, dt.datetime]]:
    """Who changed what these versions say, and when, by version: a later version, or a decision of the team."""
    rows = list(versions)
    entries = {one.entry_id for one in rows}
    current = DeliveryVersion.objects.filter(entry__in=entries, number=F("entry__version"))
    latest = {one.entry_id: one for one in current.select_related("logged_by")}
    decisions = TeamDecision.objects.filter(entry__in=entries).select_related("recorded_by")
    decided = {one.entry_id: one for one in decisions.order_by("recorded_at", "pk")}
    found: dict[int, tuple[str, dt.datetime]] = {}
    for row in rows:
        now, decision = latest[row.entry_id], decided.get(row.entry_id)
        if now.number != row.number:
            found[row.pk] = (str(now.logged_by), now.logged_at)
        elif decision is not None and decision.recorded_at >= row.logged_at:
            found[row.pk] = (str(decision.recorded_by), decision.recorded_at)
    return found


def _sent(version: DeliveryVersion, change: tuple[str, dt.datetime] | None, taken_back: bool) -> SentEntry:
    entry = version.entry
    changed = SentState.CHANGED if change is not None else SentState.STANDS
    by, at = change or ("", None)
    return SentEntry(
        entry_id=entry.pk,
        version_id=version.pk,
        number=version.number,
        student_id=entry.student_id,
        code=entry.student.code,
        name=entry.student.full_name,
        date=entry.date,
        start=entry.start,
        session_uid=entry.session_uid,
        state=SentState.TAKEN_BACK if taken_back else changed,
        changed_by=by,
        changed_at=at,
    )
