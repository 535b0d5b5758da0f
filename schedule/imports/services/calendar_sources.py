"""The district's school calendar by address: added, read in the background, what it brings saved by decision.

A reading changes no day by itself: it says what waits. A person saves it through the import of calendars, which
can be undone; where the row says so, days that are clear-cut are saved without asking. What a calendar says no
more is only ever offered for removal. The address is written to no log and no audit entry.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.selectors import working_as
from accounts.services import NOT_LISTED, NOT_THERE, audit_write, permission_require
from accounts.validation import row_validate
from jobs.services import job_add
from schedule.calendar.models import CalendarSource, WordRule
from schedule.calendar.published.fetch import FetchError, calendar_address, fetch_calendar
from schedule.calendar.published.news import News, Told, told, undecided
from schedule.calendar.published.parsing import told_at_most
from schedule.calendar.published.reach import Allowed, is_public
from schedule.calendar.published.reading import CalendarPreview
from schedule.calendar.published.words import CalendarFinding
from schedule.imports.models import ImportBatch
from schedule.imports.services.calendar_files import KIND as IMPORT_KIND
from schedule.imports.services.calendar_files import calendar_batch, calendar_commit
from schedule.imports.services.calendar_labels import label_notes
from schedule.imports.services.calendar_reading import calendar_read, word_rules_ensure
from schedule.imports.services.calendar_waiting import (
    findings_of,
    last_read,
    settled_of,
    source_news,
    source_waits,
    window_of,
)
from schedule.imports.services.tables import forget_previews, require_importer
from travel.places.models import Building

KIND = "read_school_calendar"
PERMISSION = "district.change"
FIELDS = ("title", "address", "building", "applies_alone")
READ_AGAIN = dt.timedelta(hours=1)
MOST_SOURCES = 10
LONGEST_PROBLEM = 400
NOTHING_WAITS = "Nothing from this calendar is waiting to be saved."
NOTHING_PLAIN = "What is waiting can't be saved without a review. Review it first."
NOT_ASKED = "This calendar no longer asks about that event. Review what is waiting."
NO_SUCH_ANSWER = "Choose what this event stands for."
NO_KEEPER = "{} can't save days anymore. Open this address and save it, so that it is done in your name."


def _forget(row: CalendarSource, before: Mapping[str, Any]) -> list[str]:
    """Empty what was read at another address, or settled for another building; the names of these fields."""
    names = []
    if before["address"] != row.address:
        row.content, row.read_at, row.problem, row.waiting = b"", None, "", {}
        row.left_out, row.label_notes = [], []
        names += ["content", "read_at", "problem", "waiting", "left_out", "label_notes"]
    if before["building"] != row.building:
        row.settled = []
        names.append("settled")
    return names


def source_save(*, actor: Person, row: CalendarSource, values: Mapping[str, Any]) -> CalendarSource:
    """Add an address or change one; it is read in the background at once, in the actor's name from now on.

    Raises `ValidationError` by field, or `ApplicationError` (403 for the role, 404 for what is out of sight).
    """
    district = _district_of(actor, row)
    before = {name: getattr(row, name) for name in FIELDS} if row.pk else dict.fromkeys(FIELDS)
    for name in FIELDS:
        if name in values:
            setattr(row, name, values[name])
    row.district, row.keeper = district, actor
    problems = _problems(actor, row)
    with transaction.atomic():
        row_validate(row, problems=problems)
        if not row.pk and CalendarSource.objects.filter(district=district).count() >= MOST_SOURCES:
            raise ApplicationError(f"{MOST_SOURCES} addresses are the limit. Remove one first.", code="too_many")
        # Only what was asked for: a reading may write the rest at the same time.
        names = [*FIELDS, "keeper", *_forget(row, before)]
        row.save(update_fields=names if row.pk else None)
        changes = {name: [before[name], getattr(row, name)] for name in ("title", "applies_alone")}
        changes["building"] = [before["building"] and before["building"].pk, row.building_id]
        audit_write(actor=actor, district=district, action="calendar_source_save", row=row, changes=changes)
        source_ask(row=row)
    word_rules_ensure(actor=actor)
    return row


def source_delete(*, actor: Person, row: CalendarSource) -> None:
    """Delete an address with what waits from it; the days that were saved from it stay."""
    district = _district_of(actor, row)
    with transaction.atomic():
        audit_write(actor=actor, district=district, action="calendar_source_delete", row=row)
        row.delete()


def source_again(*, actor: Person, row: CalendarSource) -> None:
    """Have an address read again, because somebody wants it."""
    _district_of(actor, row)
    with transaction.atomic():
        source_ask(row=row)


def source_ask(*, row: CalendarSource) -> None:
    """Have an address read in the background; asking twice reads once."""
    CalendarSource.objects.filter(pk=row.pk).update(asked_at=timezone.now())
    job_add(kind=KIND, payload={"source": row.pk}, district=row.district_id, unique_key=f"{KIND}:{row.pk}")


def sources_ask_due(*, district: District | None = None) -> int:
    """Have addresses read that weren't asked for within the hour, of one district or of all; returns how many."""
    rows = CalendarSource.objects.exclude(asked_at__gt=timezone.now() - READ_AGAIN)
    if district is not None:
        rows = rows.filter(district=district)
    due = list(rows.defer("content"))
    for row in due:
        with transaction.atomic():
            source_ask(row=row)
    return len(due)


def source_read(*, row: CalendarSource, allowed: Allowed = is_public) -> bool:
    """Fetch an address and note what it brings; what is clear-cut is saved where the row says so.

    What fails is told on the page, and the last good reading stays.
    """
    try:
        content = fetch_calendar(row.address, allowed=allowed)
        read = calendar_read(district=row.district, content=content, dates=window_of(row), building=row.building)
    except FetchError as error:
        _tell(row, str(error))
        return False
    except ApplicationError as error:
        _tell(row, error.message)
        return False
    same = CalendarSource.objects.filter(pk=row.pk, address=row.address)
    told_out = {"left_out": told_at_most(read.problems), "label_notes": _label_notes(row, read)}
    if not same.update(content=content, read_at=timezone.now(), problem="", **told_out):
        return False  # It was taken out or led elsewhere in the meantime.
    if row.applies_alone:
        _apply_alone(row, read)
    row.refresh_from_db(fields=["settled"])
    source_waits(row, read)
    return True


def source_preview(*, actor: Person, row: CalendarSource, everything: bool = False) -> ImportBatch:
    """A preview of what waits, or of everything that the last good reading says, to be decided by the actor.

    Raises `ApplicationError`: `not_read` before the first good reading, `nothing_waits` if there is nothing.
    """
    _district_of(actor, row)
    read = last_read(row)
    findings = findings_of(read)
    gone = source_news(row, read).gone
    shown = findings if everything else undecided(findings, settled_of(row))
    if not shown and not gone:
        raise ApplicationError(NOTHING_WAITS, code="nothing_waits")
    batch = _batch(actor, row, shown, [*read.problems], [told(finding) for finding in findings])
    batch.content["gone"] = [
        {"entry": day.key, "first": day.first, "last": day.last, "kind": day.kind, "title": day.title}
        for day in gone
    ]
    with transaction.atomic():
        forget_previews(actor, IMPORT_KIND)
        batch.save()
    batch.refresh_from_db()
    return batch


def source_apply(*, actor: Person, row: CalendarSource) -> ImportBatch:
    """Save the waiting days that are clear-cut, as recognized; all else keeps waiting.

    Recognized by words that leave nothing open, from today on, and nothing that is saved says otherwise of these
    dates. Raises `ApplicationError`: `nothing_plain` if there is none, or the import's own refusal.
    """
    _district_of(actor, row)
    read = last_read(row)
    done = _apply_plain(actor, row, source_news(row, read))
    if done is None:
        raise ApplicationError(NOTHING_PLAIN, code="nothing_plain")
    return done


def source_answer(
    *, actor: Person, row: CalendarSource, title: str, kind: str, until: dt.date | None = None
) -> ImportBatch:
    """Save what the events of one title in doubt stand for, one of `WordRule.Kind`; "ordinary" leaves them out.

    The answer is kept among the district's words, so the title is not asked about again; undoing the import takes
    both back. `until` is the last day of a break whose end is asked.

    Raises `ApplicationError`: `not_asked`, `choices_missing` (422), or the import's own refusal.
    """
    _district_of(actor, row)
    if kind not in WordRule.Kind.values:
        raise ApplicationError(NO_SUCH_ANSWER, code="choices_missing", status=422)
    asked = tuple(one for one in source_news(row, last_read(row)).doubtful if one.title == title)
    if not asked:
        raise ApplicationError(NOT_ASKED, code="not_asked")
    batch = _batch(actor, row, asked, [], [*settled_of(row), *(told(finding) for finding in asked)])
    with transaction.atomic():
        batch.save()
        ends = {} if until is None else {0: until}
        return calendar_commit(actor=actor, batch=batch, kinds=[kind] * len(batch.content["groups"]), ends=ends)


# ---- helpers ---------------------------------------------------------------------------------------------


def _district_of(actor: Person, row: CalendarSource) -> District:
    """The district of a person who may do this, the row's as well. Raises `ApplicationError`."""
    permission_require(actor, PERMISSION)
    district = require_importer(actor)
    if row.pk and row.district_id != district.pk:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    return district


def _label_notes(row: CalendarSource, read: CalendarPreview) -> list[str]:
    return told_at_most(label_notes(row.district, row.building, read))


def _problems(actor: Person, row: CalendarSource) -> dict[str, str]:
    """What is wrong with the address or the building; the address is put as it is kept."""
    found = {}
    if row.address:
        try:
            row.address = calendar_address(row.address)
        except FetchError as error:
            found["address"] = str(error)
    if row.building is not None and not Building.objects.changeable_by(actor).filter(pk=row.building.pk).exists():
        found["building"] = NOT_LISTED
    return found


def _tell(row: CalendarSource, problem: str) -> None:
    if len(problem) > LONGEST_PROBLEM:
        problem = problem[: LONGEST_PROBLEM - 1] + "…"
    CalendarSource.objects.filter(pk=row.pk).update(problem=problem)


def _batch(
    actor: Person, row: CalendarSource, findings: tuple[CalendarFinding, ...], notes: list[str], settles: list[Told]
) -> ImportBatch:
    """An unsaved preview that settles these events with the address once it is saved."""
    kept = sorted({(first.isoformat(), last.isoformat(), title) for first, last, title in settles})
    source = {"source": row.title, "notes": notes, "calendar_source": row.pk, "settles": kept}
    source["labels"] = row.label_notes
    return calendar_batch(
        actor=actor, findings=findings, source=source, dates=window_of(row), building=row.building
    )


def _apply_plain(actor: Person, row: CalendarSource, news: News) -> ImportBatch | None:
    """Save what is plain as an import of its own; None if nothing is. Raises `ApplicationError`."""
    if not news.plain:
        return None
    settles = [*settled_of(row), *(told(finding) for finding in news.plain)]
    batch = _batch(actor, row, news.plain, [], settles)
    with transaction.atomic():
        batch.save()
        # One of the transaction: a batch that is refused leaves no preview behind.
        return calendar_commit(actor=actor, batch=batch, kinds=[group["kind"] for group in batch.content["groups"]])


def _apply_alone(row: CalendarSource, read: CalendarPreview) -> None:
    """In the keeper's name; why it could not be done stands on the page."""
    working_as(row.keeper, Person.Role.COORDINATOR, Person.Role.TEACHER)
    try:
        _district_of(row.keeper, row)
        if not row.keeper.is_active:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
    except ApplicationError:
        _tell(row, NO_KEEPER.format(row.keeper))
        return
    try:
        _apply_plain(row.keeper, row, source_news(row, read))
    except ApplicationError as error:
        _tell(row, f"{error.message} Review what is waiting.")
