"""Writes of the delivery log: what happened to a session, corrections, the team's decisions.

Taking back what one tap logged is in `caseload.delivery.services.undo`.

Nothing is edited: a correction is a new version. Whoever sends an entry makes its `client_id`, and the same one
sent twice is stored once. `now` is the moment of writing (aware; the clock's if not given): what is today or too
long ago is asked by the date where the student's building is.

Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for what is out of sight, 409
with a code that tells what is in the way.
"""

import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.dates import date_words
from accounts.errors import ApplicationError
from accounts.idempotency.shared import shared
from accounts.models import Person, Substitution
from accounts.models.mate import alone
from accounts.services import NOT_THERE, audit_write, permission_require
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, TeamDecision
from caseload.delivery.selectors.alike import question_about
from caseload.delivery.selectors.log import settings_of
from caseload.delivery.services.closed import entries_closed_require
from caseload.delivery.services.rules import reasons_get
from caseload.delivery.services.versions import (
    CHANGED,
    ID_USED,
    Reasons,
    entry_again,
    is_stored_version,
    revision_claim,
    version_add,
    version_values,
)
from caseload.delivery.signals import log_written
from caseload.delivery.told import LogItem, Outcome
from caseload.ledger.terms import Effect
from caseload.plans.models import ServiceLine, caseload_teacher_on
from caseload.plans.names import students_seen
from travel.places.models import Building

WRITE, DECIDE = "log.write", "log.decide"
ALIKE = "alike_logged"
LOGGED = "This session is logged already. Correct its entry instead."
AMENDS = "This month is closed. Say in the note why it is amended: the note stands beside the original."


def local_date(building: Building, now: dt.datetime | None = None) -> dt.date:
    """The date where a building is."""
    return (now or timezone.now()).astimezone(ZoneInfo(building.zone)).date()


def delivery_log(*, actor: Person, item: LogItem, now: dt.datetime | None = None) -> DeliveryEntry:
    """Log one service line at one session, a make-up, or minutes that nobody planned (planned minutes 0).

    Minutes without a planned session that look like another entry's are asked about first (code ``alike_logged``);
    `LogItem.confirmed` answers.
    """
    found = deliveries_log(actor=actor, items=[item], action="delivery_log", sending=item.client_id, now=now)
    return found[0]


def deliveries_log(
    *, actor: Person, items: Sequence[LogItem], action: str, sending: uuid.UUID, now: dt.datetime | None = None
) -> list[DeliveryEntry]:
    """Log several at once, all or none; entries in the order of `items`.

    `sending` is the tap's own client id: what it wrote is found again by it (`caseload.delivery.services.undo`).
    Problems come under the item's service: ``12.reason`` for the line with id 12, where there are several items.
    Items whose client id is stored already are answered with what is stored (code ``client_id_used`` if that says
    something else). A session that somebody logged before is refused (code ``already_logged``), unless its log was
    withdrawn: then this is its next version.
    """
    permission_require(actor, WRITE)
    _items_require(actor, items, now)
    try:
        with transaction.atomic():
            return _items_store(actor, items, action, sending)
    except IntegrityError as error:
        # Somebody stored one of these between our look and our write: look again.
        stored = _stored_by_client_id(items)
        if len(stored) == len(items):
            return [_same_or_refuse(stored[item.client_id], item) for item in items]
        raise ApplicationError(LOGGED, code="already_logged") from error


def delivery_correct(
    *,
    actor: Person,
    entry: DeliveryEntry,
    outcome: Outcome | None,
    expected_revision: int,
    client_id: uuid.UUID | None = None,
    now: dt.datetime | None = None,
) -> DeliveryEntry:
    """Add a version that says what happened after all; without an outcome the log is withdrawn.

    `expected_revision` is the entry's that the person saw: if somebody was faster nothing is stored (code
    ``changed_meanwhile``). The same client id sent twice is stored once.
    """
    permission_require(actor, WRITE)
    entries_require(actor, [entry], now)
    if client_id is not None and is_stored_version(entry, client_id):
        return entry_again(entry)
    try:
        with transaction.atomic():
            if entries_closed_require([(entry.service_line, entry.date)]):
                _amendment_require(outcome)
            reasons = reasons_get(entry.district, [outcome.reason] if outcome is not None else [])
            values = version_values(actor, entry, outcome, reasons)
            return version_add(actor, entry, values, expected_revision, client_id)
    except IntegrityError as error:
        raise ApplicationError(CHANGED, code="changed_meanwhile") from error


def _amendment_require(outcome: Outcome | None) -> None:
    """A correction of a closed month, where the district keeps those as amendments, says why in its note."""
    if outcome is not None and not outcome.note.strip():
        raise ValidationError({"note": AMENDS})


def decision_record(
    *,
    actor: Person,
    entry: DeliveryEntry,
    effect: str,
    decided_by: str,
    decided_on: dt.date,
    note: str = "",
    expected_revision: int,
    now: dt.datetime | None = None,
) -> TeamDecision:
    """Record what the plan's team decided about an entry's missed minutes.

    Refused where no minutes were missed, and where the district's table doesn't leave the reason to the team. A
    later decision is kept beside the one before and counts in its place.
    """
    permission_require(actor, DECIDE)
    _entries_mine(alone(actor), [entry])
    version = entry.versions.current().select_related("reason").first()
    reason = version.reason if version is not None else None
    if reason is None or entry.makes_up or reason.effect_on(entry.date) is not Effect.TEAM:
        raise ApplicationError("There is nothing here for the team to decide.", code="nothing_to_decide")
    if decided_on > local_date(entry.building, now):
        raise ValidationError({"decided_on": "This day is in the future. Enter the day of the decision."})
    row = TeamDecision(
        entry=entry,
        reason=reason,
        effect=effect,
        decided_by=decided_by.strip(),
        decided_on=decided_on,
        note=note.strip(),
        recorded_by=actor,
    )
    row.full_clean()
    with transaction.atomic():
        entries_closed_require([(entry.service_line, entry.date)])
        revision_claim(entry, expected_revision)
        row.save()
        audit_write(
            actor=actor,
            district=entry.district,
            action="decision_record",
            row=entry,
            changes={"effect": [None, row.effect], "decided_on": [None, row.decided_on]},
        )
    return row


# ---- who and when ----------------------------------------------------------------------------------------


def _items_require(actor: Person, items: Sequence[LogItem], now: dt.datetime | None) -> None:
    """Every line is the actor's to log, and every date within the limits."""
    students = {item.service_line.plan.student_id for item in items}
    if students - students_seen(actor, students):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    teachers = _covered_teachers(actor)
    for line, date, uid in {(item.service_line, item.date, item.session_uid) for item in items}:
        _line_require(actor, line, date, _of_session(teachers, date, uid))
    for building, date in {(item.service_line.building_on(item.date), item.date) for item in items}:
        _date_require(actor, building, date, "date", now)


def _covered_teachers(actor: Person) -> list[Substitution]:
    """Whom a substitute covers, and when."""
    if actor.role != Person.Role.SUBSTITUTE:
        return []
    return list(actor.substitutions.prefetch_related("sessions"))


def _of_session(substitutions: Iterable[Substitution], date: dt.date, uid: uuid.UUID | None) -> list[Substitution]:
    """Those by which a session is the substitute's to log."""
    return [one for one in substitutions if one.covers_session(date, uid)]


def _line_require(actor: Person, line: ServiceLine, date: dt.date, substitutions: Iterable[Substitution]) -> None:
    """A teacher logs the own services and that day's caseload, a substitute those of the teacher covered on it.

    Where a team shares the log, mates log each other's on its days, too.
    """
    own = {line.provider_id, caseload_teacher_on(line.plan.student, date)}
    covered = {one.teacher_id for one in substitutions if one.covers(date)}
    if not (actor.is_coordinator or own & ({actor.pk} | covered | actor.mates_logged(date))):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)


def entries_require(actor: Person, entries: Sequence[DeliveryEntry], now: dt.datetime | None) -> None:
    """Every entry is the actor's to change, and every date within the limits."""
    _entries_mine(actor, entries)
    for building, date in {(entry.building, entry.date) for entry in entries}:
        _date_require(actor, building, date, "date", now)


def may_correct(actor: Person, entry: DeliveryEntry) -> bool:
    """Whether an entry is the actor's to correct, by whose it is; months and limits are asked when it is done."""
    try:
        correction_require(actor, entry)
    except ApplicationError:
        return False
    return True


def correction_require(actor: Person, entry: DeliveryEntry) -> None:
    """The same as a demand. Raises `ApplicationError` (404)."""
    _entries_mine(actor, [entry])


def _entries_mine(actor: Person, entries: Sequence[DeliveryEntry]) -> None:
    wanted = {entry.pk for entry in entries}
    if DeliveryEntry.objects.visible_to(actor).filter(pk__in=wanted).count() != len(wanted):
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    substitutions = _covered_teachers(actor)
    for line, date, uid in {(entry.service_line, entry.date, entry.session_uid) for entry in entries}:
        _line_require(actor, line, date, _of_session(substitutions, date, uid))


def _date_require(actor: Person, building: Building, date: dt.date, field: str, now: dt.datetime | None) -> None:
    """Not in the future, and not longer ago than the district allows (a coordinator isn't held to that)."""
    today = local_date(building, now)
    if date > today:
        raise ValidationError({field: f"{date_words(date)} is in the future. Log a session on its day or later."})
    district = building.district
    days = shared(("settings", district.pk, today), lambda: settings_of(district, today)).backdating_days
    if not actor.is_coordinator and date < today - dt.timedelta(days=days):
        raise ValidationError(
            {
                field: f"{date_words(date)} is more than {days} days ago, the district's limit. Ask the "
                "coordinator to log it."
            }
        )


# ---- storing ---------------------------------------------------------------------------------------------


def _items_store(actor: Person, items: Sequence[LogItem], action: str, sending: uuid.UUID) -> list[DeliveryEntry]:
    # In this order: an entry of this very sending that comes between the two looks is found by the second, and not
    # taken for somebody else's.
    existing = _existing_sessions(items)
    stored = _stored_by_client_id(items)
    _new_require([item for item in items if item.client_id not in stored])
    reasons = reasons_get(items[0].service_line.district, [item.outcome.reason for item in items])
    found: dict[uuid.UUID, DeliveryEntry] = {}
    new: list[tuple[DeliveryEntry, DeliveryVersion]] = []
    for item in items:
        if item.client_id in stored:
            found[item.client_id] = _same_or_refuse(stored[item.client_id], item)
        elif (entry := existing.get((item.service_line.pk, item.session_uid))) is not None:
            found[item.client_id] = _log_again(actor, entry, item, reasons, sending)
        else:
            entry, version = _new_entry(actor, item, reasons, alone=len(items) == 1)
            new.append((entry, version))
            found[item.client_id] = entry
    if new:
        _new_store(actor, new, action, sending)
    return [found[item.client_id] for item in items]


def _new_require(items: Sequence[LogItem]) -> None:
    """No month of theirs is closed; minutes that look like those of another entry are asked about first."""
    entries_closed_require((item.service_line, item.date) for item in items)
    for item in items:
        question = "" if item.confirmed else question_about(item)
        if question:
            raise ApplicationError(question, code=ALIKE)


def _new_store(
    actor: Person, new: Sequence[tuple[DeliveryEntry, DeliveryVersion]], action: str, sending: uuid.UUID
) -> None:
    """Store new entries with their first versions, and note it once."""
    DeliveryEntry.objects.bulk_create([entry for entry, _ in new])
    for entry, version in new:
        version.entry, version.sending = entry, sending
    DeliveryVersion.objects.bulk_create([version for _, version in new])
    log_written.send(DeliveryVersion, session_uids={entry.session_uid for entry, _ in new} - {None})
    first = new[0][0]
    changes = {"entries": [None, [entry.pk for entry, _ in new]]}
    audit_write(actor=actor, district=first.district, action=action, row=first, changes=changes)


def _new_entry(
    actor: Person, item: LogItem, reasons: Reasons, *, alone: bool
) -> tuple[DeliveryEntry, DeliveryVersion]:
    try:
        entry = _entry_from(item)
        return entry, version_values(actor, entry, item.outcome, reasons)
    except ValidationError as error:
        if alone:
            raise
        prefix = item.service_line.pk
        raise ValidationError({f"{prefix}.{name}": texts for name, texts in error.error_dict.items()}) from error


def _stored_by_client_id(items: Iterable[LogItem]) -> dict[uuid.UUID, DeliveryVersion]:
    """The version that each client id made, if it is stored."""
    ids = [item.client_id for item in items]
    rows = DeliveryVersion.objects.select_related("entry", "reason").order_by()
    first = {row.entry.client_id: row for row in rows.filter(entry__client_id__in=ids, number=1)}
    later = {row.client_id: row for row in rows.filter(client_id__in=ids) if row.client_id is not None}
    return first | later


def _existing_sessions(items: Iterable[LogItem]) -> Mapping[tuple[int, uuid.UUID | None], DeliveryEntry]:
    uids = {item.session_uid for item in items if item.session_uid is not None}
    rows = DeliveryEntry.objects.filter(session_uid__in=uids).order_by() if uids else DeliveryEntry.objects.none()
    return {(row.service_line_id, row.session_uid): row for row in rows}


def _same_or_refuse(version: DeliveryVersion, item: LogItem) -> DeliveryEntry:
    """What is stored under a client id, if it says the same."""
    entry = version.entry
    told = (item.service_line.pk, item.session_uid, item.date, item.outcome.minutes(item.planned_minutes))
    kept = (entry.service_line_id, entry.session_uid, entry.date, version.delivered_minutes)
    reason = version.reason.code if version.reason is not None else ""
    if told != kept or reason != item.outcome.reason:
        raise ApplicationError(ID_USED, code="client_id_used")
    return entry


def _log_again(
    actor: Person, entry: DeliveryEntry, item: LogItem, reasons: Reasons, sending: uuid.UUID
) -> DeliveryEntry:
    """Log a session whose log was withdrawn."""
    current = entry.versions.current().first()
    if current is not None and current.delivered_minutes is not None:
        raise ApplicationError(LOGGED, code="already_logged")
    values = version_values(actor, entry, item.outcome, reasons)
    values.sending = sending
    return version_add(actor, entry, values, entry.revision, item.client_id)


def _compensatory_require(item: LogItem) -> None:
    """Compensatory time is of the same student, and no make-up beside."""
    if item.compensatory is None:
        return
    if item.compensatory.student_id != item.service_line.plan.student_id:
        raise ValidationError({"compensatory": "This compensatory time is of another student. Choose another one."})
    if item.makes_up:
        raise ValidationError({"makes_up": "Minutes either make up what a service owes or give compensatory time."})


def _entry_from(item: LogItem) -> DeliveryEntry:
    _compensatory_require(item)
    entry = DeliveryEntry(
        client_id=item.client_id,
        service_line=item.service_line,
        student=item.service_line.plan.student,
        provider_id=item.provider_id or item.service_line.provider_id,
        session_uid=item.session_uid,
        date=item.date,
        start=item.start,
        planned_minutes=item.planned_minutes,
        setting=item.setting or item.service_line.setting,
        makes_up=item.makes_up,
        makes_up_for=item.makes_up_for,
        compensatory=item.compensatory,
    )
    # The rows that it points to were looked at above; unique ones are the database's to keep.
    entry.full_clean(exclude=["service_line", "student", "compensatory", "provider"], validate_unique=False)
    return entry
