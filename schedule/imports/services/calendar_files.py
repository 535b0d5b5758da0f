"""A district's calendar: from the file that a school website publishes, or from a state's public holidays.

Previewed, decided by a person, committed whole; undone by schedule.imports.services.tables.import_undo.
"""

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words, span_words
from accounts.errors import ApplicationError
from accounts.models import District, Person
from schedule.calendar.calendars import LONGEST_RANGE_DAYS, MONDAY_TO_FRIDAY, EntryKind, school_days
from schedule.calendar.calendars import SpecialDays as Entry
from schedule.calendar.models import CalendarEntry, CalendarSource, SchoolYear, WordRule
from schedule.calendar.published.groups import (
    DAY_KINDS,
    MOST_GROUPS,
    UNDECIDED,
    EventGroup,
    choose_kinds,
    ends_of_year,
    group_findings,
    undecided_dates,
)
from schedule.calendar.published.words import CalendarFinding, HolidayError, state_holidays
from schedule.calendar.services.records import calendar_entry_delete, calendar_entry_save, school_year_save
from schedule.imports.files.problems import RowProblem, count_errors
from schedule.imports.models import ImportBatch
from schedule.imports.rows.rehearse import shadows_of
from schedule.imports.rows.snapshot import compare_snapshots, take_snapshot
from schedule.imports.services.calendar_labels import label_notes
from schedule.imports.services.calendar_reading import answers_keep, calendar_read, word_rules_ensure
from schedule.imports.services.calendar_waiting import source_waits
from schedule.imports.services.saving import NOT_IN_PREVIEW, claim_batch, finish_commit
from schedule.imports.services.tables import NOT_YOURS, STILL_PROBLEMS, forget_previews, require_importer
from travel.places.models import Building

KIND = "calendar"
NO_SUCH_END = "A break's last day comes on or after its first, and within 99 days. Correct it."
_NO_END = "The calendar names a {there} day of school and no {missing} one, so the school year was left as it is."
_NO_DAYS = "With this calendar no date from {days} is a school day."


@dataclass(slots=True)
class _Work:
    """What applying a calendar did, and what is wrong with it."""

    actor: Person
    district: District
    building: Building | None
    problems: list[RowProblem] = field(default_factory=list)
    tally: dict[str, int] = field(default_factory=lambda: {"new": 0, "changed": 0, "same": 0, "removed": 0})

    def note(self, value: str, message: str, remedy: str, *, warning: bool) -> None:
        """Note a problem of the calendar."""
        self.problems.append(RowProblem(KIND, 0, "", value, message, remedy, warning=warning))


def calendar_preview(
    *, actor: Person, filename: str, content: bytes, first: dt.date, last: dt.date, building: Building | None = None
) -> ImportBatch:
    """Read a published iCalendar file and say what it would do to the calendar; nothing is saved but the preview.

    Raises ApplicationError: 403 for the role, `unreadable_file` (422) for a file that can't be used.
    """
    word_rules_ensure(actor=actor)
    district = require_importer(actor)
    read = calendar_read(district=district, content=content, dates=(first, last), building=building)
    source = {"source": filename, "notes": list(read.problems), "labels": label_notes(district, building, read)}
    return _preview(actor, (*read.found, *read.unmatched), source, (first, last), building)


def holidays_preview(
    *, actor: Person, state: str, first: dt.date, last: dt.date, building: Building | None = None
) -> ImportBatch:
    """Take a state's public holidays between two dates for a preview. Raises ApplicationError."""
    require_importer(actor)
    if not 0 <= (last - first).days <= LONGEST_RANGE_DAYS:
        raise ApplicationError(
            f"{span_words(first, last)} isn't a range of three years or less. Correct the dates.",
            status=422,
        )
    try:
        found = state_holidays(state, list(range(first.year, last.year + 1)))
    except HolidayError as error:
        raise ApplicationError(str(error), code="unknown_state", status=422) from error
    inside = [finding for finding in found if first <= finding.first <= last]
    if not inside:
        raise ApplicationError(f"No public holiday falls in {span_words(first, last)}.", status=422)
    source = {"source": f"Public holidays, {state.upper() or 'United States'}", "notes": []}
    return _preview(actor, inside, source, (first, last), building)


def _preview(
    actor: Person,
    findings: Sequence[CalendarFinding],
    source: dict[str, Any],
    dates: tuple[dt.date, dt.date],
    building: Building | None,
) -> ImportBatch:
    """Keep the findings as a preview, with what applying them as recognized would do."""
    batch = calendar_batch(actor=actor, findings=findings, source=source, dates=dates, building=building)
    with transaction.atomic():
        forget_previews(actor, KIND)
        batch.save()
    return batch


def calendar_batch(
    *,
    actor: Person,
    findings: Sequence[CalendarFinding],
    source: dict[str, Any],
    dates: tuple[dt.date, dt.date],
    building: Building | None,
) -> ImportBatch:
    """An unsaved preview of the findings; `source` says where they come from and is kept with it."""
    district = require_importer(actor)
    groups = group_findings(findings)
    if len(groups) > MOST_GROUPS:
        raise ApplicationError(
            f"This calendar has {len(groups)} different events; the limit is {MOST_GROUPS}. Export the district's "
            "calendar of school days, not the one of all activities.",
            code="unreadable_file",
            status=422,
        )
    batch = ImportBatch(district=district, person=actor, role=actor.role, kind=KIND)
    batch.content = {
        **source,
        "first": dates[0].isoformat(),
        "last": dates[1].isoformat(),
        "building": building.pk if building else None,
        "groups": [group.as_json() for group in groups],
    }
    with shadows_of(district, [KIND]):
        work = _apply(actor, batch, groups, building)
    _note(batch, groups, work)
    return batch


def _note(batch: ImportBatch, groups: Sequence[EventGroup], work: _Work) -> None:
    """Keep choices, problems and counts with the batch."""
    batch.problem_count = count_errors(work.problems)
    batch.row_count = sum(len(group.dates) for group in groups)
    batch.content["groups"] = [group.as_json() for group in groups]
    batch.content["problems"] = [problem.as_json() for problem in work.problems]
    batch.content["tallies"] = {KIND: work.tally}


def calendar_commit(
    *,
    actor: Person,
    batch: ImportBatch,
    kinds: Sequence[str],
    remove: Collection[int] = (),
    ends: Mapping[int, dt.date] | None = None,
) -> ImportBatch:
    """Save the events as a person decided, all or nothing.

    `kinds` has one of WordRule.Kind for each group of the preview, in order; "ordinary" leaves its events out. What
    was in doubt and is decided is kept among the district's words; "undecided" leaves it to be asked again.
    `remove` names entries that the calendar says no more, among those that the preview offers; `ends` the last days
    of breaks that the calendar has on one day only, by the place of the group.
    Raises ApplicationError; with `import_has_problems` the preview keeps the choices and lists the problems.
    """
    district = require_importer(actor)
    if batch.person_id != actor.pk:
        raise ApplicationError(NOT_YOURS, code="not_yours")
    with transaction.atomic():
        claim_batch(batch, ImportBatch.State.PREVIEW)
        groups = _choose(batch, kinds, ends or {})
        building = _building_of(actor, batch)
        before = take_snapshot(district, [KIND])
        work = _apply(actor, batch, groups, building, _offered(batch, remove))
        answers_keep(actor=actor, district=district, groups=groups)
        if count_errors(work.problems):
            transaction.set_rollback(True)
        else:
            content = {"source": batch.content["source"], "tallies": {KIND: work.tally}}
            content |= {name: batch.content.get(name, []) for name in ("notes", "labels")}
            content["open"] = [group.title for group in groups if group.kind == UNDECIDED]
            changes = compare_snapshots(before, take_snapshot(district, [KIND]))
            _settle(batch, groups)
            finish_commit(actor=actor, batch=batch, content=content, changes=changes)
            return batch
    _note(batch, groups, work)
    batch.save(update_fields=["content", "problem_count", "row_count"])
    message = next((problem.message for problem in work.problems if not problem.warning), STILL_PROBLEMS)
    raise ApplicationError(f"{message} Nothing was saved.", code="import_has_problems")


def _choose(batch: ImportBatch, kinds: Sequence[str], ends: Mapping[int, dt.date]) -> tuple[EventGroup, ...]:
    """The preview's groups as chosen. Raises ApplicationError."""
    groups = [EventGroup.from_json(stored) for stored in batch.content.get("groups", [])]
    offered = groups or batch.content.get("gone")
    if not offered or len(kinds) != len(groups) or not set(kinds) <= {*WordRule.Kind.values, UNDECIDED}:
        raise ApplicationError("Choose what each event stands for.", code="choices_missing", status=422)
    try:
        return choose_kinds(groups, kinds, ends)
    except ValueError as error:
        raise ApplicationError(NO_SUCH_END, code="choices_missing", status=422) from error


def _offered(batch: ImportBatch, remove: Collection[int]) -> Sequence[CalendarEntry]:
    """The entries to be taken out that are still there. Raises ApplicationError for one that wasn't offered."""
    if not set(remove) <= {gone["entry"] for gone in batch.content.get("gone", [])}:
        raise ApplicationError("Choose from the days that are listed.", code="choices_missing", status=422)
    return list(CalendarEntry.objects.filter(district=batch.district, pk__in=remove).order_by("pk"))


def _settle(batch: ImportBatch, groups: Sequence[EventGroup]) -> None:
    """Note with the address that the events came from which of them are decided, and what waits still."""
    row = CalendarSource.objects.filter(pk=batch.content.get("calendar_source")).first()
    if row is not None:
        left = undecided_dates(groups)
        row.settled = [told for told in batch.content.get("settles", []) if tuple(told) not in left]
        row.waiting = {}
        row.save(update_fields=["settled", "waiting"])
        # The address may have been changed since the preview: then its new calendar is still to be read.
        if row.content:
            source_waits(row)


def _building_of(actor: Person, batch: ImportBatch) -> Building | None:
    """The building that a calendar is for, if it is for one. Raises ApplicationError if it is gone."""
    key = batch.content.get("building")
    if key is None:
        return None
    building = Building.objects.changeable_by(actor).filter(pk=key).first()
    if building is None:
        raise ApplicationError(NOT_IN_PREVIEW, code="not_in_preview")
    return building


def _apply(
    actor: Person,
    batch: ImportBatch,
    groups: Sequence[EventGroup],
    building: Building | None,
    remove: Sequence[CalendarEntry] = (),
) -> _Work:
    """Write the entries and the ends of the year; call it inside a transaction and roll back on problems."""
    work = _Work(actor, batch.district, building)
    for entry in remove:
        calendar_entry_delete(actor=actor, row=entry)
        work.tally["removed"] += 1
    for group in groups:
        if group.kind in DAY_KINDS:
            for first, last in group.dates:
                _write_entry(work, group, first, last)
    first, last = (dt.date.fromisoformat(batch.content[name]) for name in ("first", "last"))
    year = _write_year(work, groups, first, last)
    if year is not None:
        first, last = year.first_day, year.last_day
    if not _has_school_day(work, first, last):
        message = _NO_DAYS.format(days=span_words(first, last))
        work.note("", message, "Leave out the event that closes all of it, or correct its dates.", warning=False)
    return work


def _write_entry(work: _Work, group: EventGroup, first: dt.date, last: dt.date) -> None:
    """One entry: the same one stays, one of the same title and first date is corrected, else it is new."""
    title = group.title[:120]
    saved = CalendarEntry.objects.filter(district=work.district, building=work.building, first_date=first)
    if saved.filter(last_date=last, kind=group.kind).exists():
        work.tally["same"] += 1
        return
    entry = saved.filter(title=title).first()
    row = entry or CalendarEntry(district=work.district, building=work.building)
    values = {"first_date": first, "last_date": last, "kind": group.kind, "title": title}
    if entry is not None and entry.kind != group.kind:
        values["bell_schedule"] = None
    try:
        calendar_entry_save(actor=work.actor, row=row, values=values)
    except ValidationError as error:
        work.note(
            title,
            f"{title}, {date_words(first)}: {' '.join(error.messages)}",
            "Leave this event out.",
            warning=False,
        )
        return
    work.tally["changed" if entry else "new"] += 1


def _write_year(work: _Work, groups: Sequence[EventGroup], first: dt.date, last: dt.date) -> SchoolYear | None:
    """Set the ends of the school year where the calendar names them; the year that counts, if there is one."""
    begins, ends = ends_of_year(groups)
    years = SchoolYear.objects.filter(district=work.district, first_day__lte=last, last_day__gte=first)
    year = years.order_by("first_day").first()
    if work.building is not None or (begins is None and ends is None):
        return year
    if year is not None:
        named = {"first_day": begins or year.first_day, "last_day": ends or year.last_day}
        return _save_year(work, year, named)
    if begins is None or ends is None:
        there, missing = ("first", "last") if ends is None else ("last", "first")
        message = _NO_END.format(there=there, missing=missing)
        work.note("", message, "Add the school year on the page of the calendar.", warning=True)
        return None
    name = f"{begins.year}-{ends.year % 100:02d}"
    return _save_year(
        work, SchoolYear(district=work.district), {"name": name, "first_day": begins, "last_day": ends}
    )


def _save_year(work: _Work, year: SchoolYear, values: Mapping[str, Any]) -> SchoolYear | None:
    """The year with these values; None with the problem noted."""
    if all(getattr(year, name) == value for name, value in values.items()):
        work.tally["same"] += 1
        return year
    work.tally["changed" if year.pk else "new"] += 1
    try:
        return school_year_save(actor=work.actor, row=year, values=values)
    except ValidationError as error:
        remedy = "Choose another kind for the event that names this day, or correct the school year."
        work.note("", " ".join(error.messages), remedy, warning=False)
        return None


def _has_school_day(work: _Work, first: dt.date, last: dt.date) -> bool:
    """Whether students attend on any date of a range."""
    rows = CalendarEntry.objects.filter(district=work.district, first_date__lte=last, last_date__gte=first)
    entries = [
        Entry(
            row.first_date,
            row.last_date,
            EntryKind(row.kind),
            row.title,
            bell=str(row.bell_schedule or ""),
            precedence=int(row.building_id is not None),
        )
        for row in rows.select_related("bell_schedule")
        if row.building_id is None or (work.building is not None and row.building_id == work.building.pk)
    ]
    return bool(school_days(first, last, MONDAY_TO_FRIDAY, entries))
