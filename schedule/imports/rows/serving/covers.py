"""Rows of covers to records."""

import datetime as dt
from functools import partial
from typing import Any
from uuid import UUID

from accounts.dates import span_words
from accounts.models import Person, Substitution
from schedule.calendar.happened import OF_TEACHER
from schedule.calendar.models import Happening
from schedule.covers.selectors import covers_arranged, session_time, sessions_told
from schedule.covers.services import NOT_BOTH, cover_bring
from schedule.imports.files.values import CellError
from schedule.imports.rows.context import ParsedRow, TableRun
from schedule.imports.rows.schools import looked_up
from schedule.weeks.models import PlannedSession, WeekPlan

_DAYS = ("first_date", "last_date")
LINK_STAYS = "This time is kept for {name}. A table doesn't change who comes by a link."
LOGGED = "{teacher} is away in this time: what the absence logged as missed is logged anew when this is saved."


def write_covers(run: TableRun, rows: list[ParsedRow]) -> None:
    """Covers, each known by its teacher, its first day, who stands in, and for which sessions."""
    saved = list(covers_arranged(run.actor).select_related("substitute", "teacher__district"))
    told = {pk: "; ".join(words) for pk, words in sessions_told(saved).items()}
    wanted = [(row, values) for row in rows if (values := _values(run, row)) is not None]
    meant = {row.number: found for row, values in wanted if (found := _taken(saved, values, told)) is not None}
    for row, values in wanted:
        found = meant.get(row.number) or _corrected(run, row, saved, values)
        _write(run, row, found, values, told)


def _values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """What a row says; None with the problem noted."""
    teacher = looked_up(run, row, "teacher", run.lookups.own_teacher, row.get("teacher"))
    name, called = row.get("substitute"), row.get("called", "")
    if bool(name) == bool(called):
        message = NOT_BOTH if name else "It doesn't say who stands in."
        run.fault(row, "substitute", message, "Fill in “Substitute” or “Name”.")
        return None
    substitute = looked_up(run, row, "substitute", run.lookups.substitute, name) if name else None
    if teacher is None or (name and substitute is None):
        return None
    return {
        "teacher": teacher,
        "substitute": substitute,
        "called": called,
        **{one: row.values[one] for one in _DAYS},
        "sessions": "; ".join(sorted(_session_words(one) for one in row.get("sessions", ()))),
    }


def _session_words(text: str) -> str:
    """A session as tables name it, however the hour is written."""
    day, _, hour = text.partition(" ")
    return f"{day} {hour.strip().rjust(5, '0')}" if hour else text


def _taken(saved: list[Substitution], values: dict[str, Any], told: dict[int, str]) -> Substitution | None:
    """The cover of a row's teacher, first day, sessions and person; it is no other row's from here on."""
    for one in saved:
        same = (one.teacher, one.first_date, told[one.pk]) == tuple(
            values[name] for name in ("teacher", "first_date", "sessions")
        )
        if same and _is_by(one.substitute, values):
            saved.remove(one)
            return one
    return None


def _is_by(person: Person, values: dict[str, Any]) -> bool:
    if person.by_link:
        return bool(values["called"]) and person.called.casefold() == values["called"].casefold()
    return bool(person == values["substitute"])


def _corrected(
    run: TableRun, row: ParsedRow, saved: list[Substitution], values: dict[str, Any]
) -> Substitution | None:
    """The one cover of a row's teacher on its days that no row means. The preview says so."""
    alike = [one for one in saved if one.teacher == values["teacher"] and _meets(one, values)]
    if len(alike) != 1:
        return None
    found = alike[0]
    saved.remove(found)
    message = f"This row is taken for {found.substitute.called}, {span_words(found.first_date, found.last_date)}."
    remedy = "If it is one of its own, send the row of that one along with it."
    run.fault(row, "first_date", message, remedy, warning=True)
    return found


def _meets(one: Substitution, values: dict[str, Any]) -> bool:
    return bool(one.first_date <= values["last_date"] and values["first_date"] <= one.last_date)


def _write(
    run: TableRun, row: ParsedRow, found: Substitution | None, values: dict[str, Any], told: dict[int, str]
) -> None:
    """One cover, unless it would change who comes by a link."""
    own = {name: values[name] for name in ("teacher", "substitute", *_DAYS)}
    kept, called = {"sessions": "", "called": ""}, values["called"]
    if found is not None:
        if not _link_stays(run, row, found, values):
            return
        kept["sessions"] = told[found.pk]
        if found.substitute.by_link:
            own["substitute"], called = found.substitute, ""
    uids = looked_up(run, row, "sessions", _uids, values, found)
    if uids is None:
        return
    before = run.tally.same
    saved = run.put(
        row,
        partial(_bring, uids, called),
        found or Substitution(),
        {**own, "sessions": values["sessions"], "called": called},
        beside=kept,
    )
    if saved is not None and run.tally.same == before and _is_away(saved):
        message = LOGGED.format(teacher=values["teacher"].called)
        run.fault(row, "first_date", message, "Nothing has to be done.", warning=True)


def _link_stays(run: TableRun, row: ParsedRow, found: Substitution, values: dict[str, Any]) -> bool:
    """Whether a row leaves who comes by a link, with the problem noted."""
    called = values["called"]
    if not (found.substitute.by_link or called) or _is_by(found.substitute, values):
        return True
    name = found.substitute.called
    remedy = f"Write “{name}” there, or end it at the absence first."
    run.fault(row, "called" if called else "substitute", LINK_STAYS.format(name=name), remedy)
    return False


def _bring(
    sessions: frozenset[UUID], called: str, *, actor: Person, row: Substitution, values: dict[str, Any]
) -> Substitution:
    own = {name: value for name, value in values.items() if name not in {"called", "sessions"}}
    return cover_bring(actor=actor, row=row, values=own, sessions=sessions, called=called)


def _uids(values: dict[str, Any], found: Substitution | None) -> frozenset[UUID]:
    """The planned sessions that a row names. Raises CellError."""
    names = [one for one in values["sessions"].split("; ") if one]
    known = _known_sessions(values, found) if names else {}
    lost = next((name for name in names if name not in known), None)
    if lost is not None:
        message = f"No session of this teacher is planned for {lost}."
        remedy = "Write date and start as the week in force has them, or leave the cell empty for the whole days."
        raise CellError(message, remedy)
    return frozenset(known[name] for name in names)


def _known_sessions(values: dict[str, Any], found: Substitution | None) -> dict[str, UUID]:
    """The teacher's sessions on a row's days, and those that the cover has already, as tables name them."""
    span: tuple[dt.date, dt.date] = (values["first_date"], values["last_date"])
    rows = PlannedSession.objects.filter(
        week__teacher=values["teacher"], week__status=WeekPlan.Status.PUBLISHED, date__range=span
    )
    kept = [one.session_uid for one in found.sessions.all()] if found is not None else []
    return {str(uid): uid for uid in kept} | {session_time(one): one.uid for one in rows}


def _is_away(row: Substitution) -> bool:
    """Whether an absence of the teacher has logged something on these days."""
    rows = Happening.objects.standing().filter(kind__in=OF_TEACHER, teacher=row.teacher)
    met = rows.filter(first_date__lte=row.last_date, last_date__gte=row.first_date)
    return met.filter(logged_until__isnull=False).exists()
