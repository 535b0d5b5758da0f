"""Reads of the delivery log and of a district's rules, for the ledger, pages and the API."""

import datetime as dt
import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from typing import Any

from django.db.models import Exists, F, OuterRef, Prefetch, QuerySet, Subquery
from django.db.models.functions import Coalesce

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.models import AuditEntry, District, Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_in
from accounts.services import NOT_THERE
from caseload.delivery.models import (
    DeliveryEntry,
    DeliveryVersion,
    LedgerSettings,
    MissedReason,
    ReasonEffect,
    TeamDecision,
)
from caseload.delivery.rows import LoggedEntry, PlanChange
from caseload.ledger.defaults import DEFAULT_REASONS
from caseload.ledger.terms import Effect, RuleBook
from caseload.plans.models import ContinuingService, Plan, ServiceLine
from caseload.plans.selectors import CHANGES, change_words
from travel.mileage.models import SINCE_EVER

COUNTED_FIELDS = {
    "start": "first day",
    "end": "last day",
    "statement": "service",
    "service_type": "type",
}


def settings_of(district: District, day: dt.date | None = None) -> LedgerSettings:
    """The district's rules of a date (today if none is given); those that ship where it has none then."""
    rows = LedgerSettings.objects.filter(district=district, first_day__lte=day or today_in(district))
    return rows.first() or LedgerSettings(district=district)


def reasons_of(district: District) -> list[MissedReason]:
    """The district's table of reasons in its order; the one that ships, not saved, where it has none yet."""
    return list(MissedReason.objects.filter(district=district).prefetch_related("effects")) or [
        MissedReason(
            district=district, code=one.code, words=one.words, effect=one.effect.value, position=position * 10
        )
        for position, one in enumerate(DEFAULT_REASONS, start=1)
    ]


def rule_book_of(district: District) -> RuleBook:
    """The district's rules by date, for the ledger's core."""
    settings = list(LedgerSettings.objects.filter(district=district).order_by("first_day"))
    if not settings or settings[0].first_day > SINCE_EVER:
        settings.insert(0, LedgerSettings(district=district))
    reasons = reasons_of(district)
    days = {row.first_day for row in settings} | _effect_days(reasons)
    return RuleBook(tuple((day, _begun(settings, day).rules_on(reasons, day)) for day in sorted(days)))


def _effect_days(reasons: Iterable[MissedReason]) -> set[dt.date]:
    """The first days on which what a reason does changes."""
    return {one.first_day for reason in reasons if reason.pk for one in reason.effects.all()}


def _begun(settings: Iterable[LedgerSettings], day: dt.date) -> LedgerSettings:
    """Of settings in the order of their first days, the ones that hold on a date; the first hold before all."""
    held, *others = settings
    for row in others:
        held = row if row.first_day <= day else held
    return held


# Plain values, not rows: a district's report reads a million of them.
LOGGED = (
    "entry_id",
    "entry__service_line_id",
    "entry__student_id",
    "entry__session_uid",
    "entry__date",
    "entry__start",
    "entry__planned_minutes",
    "delivered_minutes",
    "reason_id",
    "reason__code",
    "reason__words",
    "entry__makes_up",
    "entry__makes_up_for",
    "entry__revision",
    "note",
    "entry__compensatory_id",
    "entry__provider_id",
    "given_by",
    "given_under",
)


def entries_of(students: Collection[int]) -> dict[int, list[LoggedEntry]]:
    """The log of these students, as it counts now, by student. Two queries."""
    rows = DeliveryVersion.objects.filter(entry__student__in=students).current().order_by("entry__date", "entry_id")
    decisions = decisions_by_entry(TeamDecision.objects.filter(entry__student__in=students))
    found: dict[int, list[LoggedEntry]] = defaultdict(list)
    for row in rows.values_list(*LOGGED).iterator(chunk_size=2000):
        one = logged_entry(row, decisions)
        found[one.student_id].append(one)
    return found


def entries_of_sessions(uids: Iterable[uuid.UUID]) -> dict[tuple[int, uuid.UUID], LoggedEntry]:
    """The log of planned sessions by service line and session uid. Two queries."""
    wanted = list(uids)
    rows = OF_SESSIONS(wanted)
    # A decision is about an entry: none without one.
    decisions = _latest(DECIDED(wanted)) if rows else {}
    found = [logged_entry(row, decisions) for row in rows]
    return {(one.line_id, one.uid): one for one in found if one.uid is not None}


def decisions_by_entry(rows: QuerySet[TeamDecision]) -> dict[tuple[int, int], Effect]:
    """The latest decision by entry and the reason that it was about."""
    return _latest(_decided(rows))


def _decided(rows: QuerySet[TeamDecision]) -> QuerySet[TeamDecision, tuple[Any, ...]]:
    return rows.order_by("recorded_at", "pk").values_list("entry_id", "reason_id", "effect")


def _latest(told: Iterable[tuple[Any, ...]]) -> dict[tuple[int, int], Effect]:
    return {(entry, reason): Effect(effect) for entry, reason, effect in told}


OF_SESSIONS = SqlOnce(
    lambda uids: (
        DeliveryVersion.objects.filter(entry__session_uid__in=uids).current().order_by().values_list(*LOGGED)
    )
)
DECIDED = SqlOnce(lambda uids: _decided(TeamDecision.objects.filter(entry__session_uid__in=uids)))


def logged_entry(row: tuple[Any, ...], decisions: dict[tuple[int, int], Effect]) -> LoggedEntry:
    """An entry from the values named in `LOGGED`."""
    entry, line, student, uid, date, start, planned, delivered, reason, code, words, *more = row
    makes_up, makes_up_for, revision, note, compensatory, provider, given_by, given_under = more
    return LoggedEntry(
        id=entry,
        line_id=line,
        student_id=student,
        uid=uid,
        date=date,
        start=start,
        planned_minutes=planned,
        delivered=delivered,
        reason=code or "",
        reason_words=words or "",
        # What the team decided stays, whatever the district's table says later.
        decision=decisions.get((entry, reason)),
        makes_up=makes_up,
        makes_up_for=makes_up_for,
        revision=revision,
        has_note=bool(note),
        compensatory=compensatory,
        provider_id=provider,
        given_by=given_by,
        given_under=given_under,
    )


def entry_get(viewer: Person, entry_id: int) -> DeliveryEntry:
    """An entry with its history, oldest version first; raises `ApplicationError` (404) for one out of sight."""
    versions = DeliveryVersion.objects.select_related("reason", "logged_by").order_by("number")
    decisions = TeamDecision.objects.select_related("reason", "recorded_by").order_by("recorded_at", "pk")
    rows = DeliveryEntry.objects.visible_to(viewer).select_related(
        "student__building__district",
        "student__district",
        "service_line__plan__student__building",
        "service_line__provider",
        "provider",
    )
    whole = rows.prefetch_related(Prefetch("versions", queryset=versions))
    row = whole.prefetch_related(Prefetch("decisions", queryset=decisions)).filter(pk=entry_id).first()
    if row is None:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return row


def undecided_entries(viewer: Person, teacher: Person | None = None) -> list[DeliveryVersion]:
    """Missed minutes whose reason is left to the team and about which nobody decided yet, oldest first.

    Each with entry, student and reason; of one teacher's services where a teacher is given.
    """
    rows = (
        DeliveryVersion.objects.visible_to(viewer)
        .annotate(effect_then=Coalesce(Subquery(_effect_then()), F("reason__effect")))
        .filter(effect_then=MissedReason.Effect.TEAM, delivered_minutes__lt=F("entry__planned_minutes"))
        .filter(number=F("entry__version"), entry__makes_up=False)
        .exclude(Exists(TeamDecision.objects.filter(entry=OuterRef("entry"), reason=OuterRef("reason"))))
    )
    if teacher is not None:
        rows = rows.filter(entry__service_line__provider=teacher)
    return list(
        rows.select_related("reason", "entry__student", "entry__service_line").order_by("entry__date", "entry_id")
    )


def _effect_then() -> QuerySet[ReasonEffect, str]:
    """What the outer version's reason did on the date of its session, where that was dated."""
    begun = ReasonEffect.objects.filter(reason=OuterRef("reason"), first_day__lte=OuterRef("entry__date"))
    return begun.order_by("-first_day").values_list("effect", flat=True)[:1]


def decided_entries(viewer: Person, teacher: Person | None = None) -> list[TeamDecision]:
    """The team's decisions, the latest first, those replaced by later ones as well."""
    rows = TeamDecision.objects.visible_to(viewer)
    if teacher is not None:
        rows = rows.filter(entry__service_line__provider=teacher)
    return list(
        rows.select_related("reason", "entry__student", "entry__service_line", "recorded_by").order_by(
            "-decided_on", "-recorded_at", "-pk"
        )
    )


def plan_changes_of(lines: Iterable[ServiceLine]) -> dict[int, list[PlanChange]]:
    """Changes of dates and minutes of these services and their plans by student, the latest first. One query.

    What changed a service as a whole is told once, and not by each of its versions.
    """
    students = _students_by_row(lines)
    known = _entries_about(students)
    whole = [entry for entry in known if _is_whole(entry)]
    found: dict[int, list[PlanChange]] = defaultdict(list)
    for entry in known:
        words = _change_words(entry)
        if words and not any(_tells(one, entry) for one in whole):
            change = PlanChange(entry.at, str(entry.actor) if entry.actor else "", words)
            found[students[entry.model, entry.object_id]].append(change)
    return found


def _entries_about(rows: Mapping[tuple[str, str], int]) -> list[AuditEntry]:
    """What the audit knows of these rows, the latest first. One query."""
    models, numbers = {model for model, _ in rows}, {number for _, number in rows}
    entries = AuditEntry.objects.filter(model__in=models, object_id__in=numbers).select_related("actor")
    return [entry for entry in entries.order_by("-at", "-pk") if (entry.model, entry.object_id) in rows]


def _students_by_row(lines: Iterable[ServiceLine]) -> dict[tuple[str, str], int]:
    """Whose the lines, their plans and their services are, by what the audit calls them."""
    found: dict[tuple[str, str], int] = {}
    for line in lines:
        for model, pk in ((ServiceLine, line.pk), (Plan, line.plan_id), (ContinuingService, line.service_id)):
            found[model._meta.label_lower, str(pk)] = line.plan.student_id
    return found


def _is_whole(entry: AuditEntry) -> bool:
    """Whether an entry tells what was done to a service as a whole."""
    return entry.model == ContinuingService._meta.label_lower and entry.action in CHANGES


def _tells(whole: AuditEntry, part: AuditEntry) -> bool:
    """Whether a change of a service as a whole holds a change of one of its versions."""
    if part.model != ServiceLine._meta.label_lower:
        return False
    states = whole.changes.get(f"line {part.object_id}", (None, None))
    before, after = reversed(states) if whole.action == "service_undo" else states
    pairs = {name: part.changes[name] for name in COUNTED_FIELDS if name in part.changes}
    kept = [[(state or {}).get(name) for state in (before, after)] for name in pairs]
    return kept == [list(pair) for pair in pairs.values()]


def _value_words(field: str, value: str) -> str:
    """A value as the audit keeps it; a date, which it keeps as ISO 8601 writes it, in words."""
    return date_words(dt.date.fromisoformat(value)) if field in ("start", "end") else value


def _change_words(entry: AuditEntry) -> str:
    """What changed of what counts; empty for a new row and for other fields."""
    if _is_whole(entry):
        return f"Service: {change_words(entry)}"
    what = "Plan" if entry.model == Plan._meta.label_lower else "Service"
    parts = [
        f"{words} from {_value_words(name, before)} to {_value_words(name, after)}"
        for name, words in COUNTED_FIELDS.items()
        if (pair := entry.changes.get(name))
        for before, after in [pair]
        if before is not None
    ]
    return f"{what}: {', '.join(parts)}" if parts else ""


def stored_client_ids(ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, bool]:
    """Which of these client ids the log holds already, and whether that session is logged now. Two queries.

    Both are one read of an id: whoever asks for the session beside it may see it as it was a moment before.
    """
    wanted = list(ids)
    now = DeliveryVersion.objects.current().order_by()
    first = now.filter(entry__client_id__in=wanted).values_list("entry__client_id", "delivered_minutes")
    later = now.filter(entry__versions__client_id__in=wanted).values_list(
        "entry__versions__client_id", "delivered_minutes"
    )
    return {one: minutes is not None for one, minutes in (*first, *later) if one is not None}
