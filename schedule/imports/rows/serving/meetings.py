"""Rows of common meetings to records."""

from functools import partial
from typing import Any

from accounts.models import Person
from schedule.imports.files.values import CellError
from schedule.imports.rows.context import ParsedRow, TableRun, changed_words
from schedule.imports.rows.schools import building_of, looked_up
from schedule.meetings.models import CommonMeeting
from schedule.meetings.selectors import asked_again, when_words
from schedule.meetings.services import common_meeting_bring

_OWN_DAYS = ("weekday", "month_place", "date", "first_day", "start")
_PEOPLE = ("teachers", "asked")
NOT_THEIRS = "Only who called this meeting, or a coordinator, changes it."


def write_common_meetings(run: TableRun, rows: list[ParsedRow]) -> None:
    """Common meetings, each known by its title and when it is."""
    wanted = [(row, values) for row in rows if (values := _values(run, row)) is not None]
    saved = list(_saved(run.actor))
    meant = {row.number: found for row, values in wanted if (found := _taken(saved, values)) is not None}
    for row, values in wanted:
        found = meant.get(row.number) or _moved(run, row, saved, values)
        if _can_be_saved(run, row, found, values):
            told = partial(_told, run.actor, found, values)
            run.put(row, common_meeting_bring, found or CommonMeeting(district=run.district), values, told=told)


def _saved(actor: Person) -> list[CommonMeeting]:
    """Meetings alone: no row is taken for a common lunch."""
    meetings = CommonMeeting.objects.visible_to(actor).filter(kind=CommonMeeting.Kind.MEETING)
    rows = meetings.select_related("district", "building", "called_by")
    return list(rows.prefetch_related("teachers", "asked").order_by("pk"))


def _taken(saved: list[CommonMeeting], values: dict[str, Any]) -> CommonMeeting | None:
    """The meeting of a row's title, days and start; it is no other row's from here on."""
    alike = (one for one in saved if all(getattr(one, name) == values[name] for name in _OWN_DAYS))
    found = next((one for one in alike if _plain(one.title) == _plain(values["title"])), None)
    if found is not None:
        saved.remove(found)
    return found


def _moved(
    run: TableRun, row: ParsedRow, saved: list[CommonMeeting], values: dict[str, Any]
) -> CommonMeeting | None:
    """The one meeting of a row's title that no row means: it was moved. The preview says so."""
    alike = [one for one in saved if _plain(one.title) == _plain(values["title"])]
    if len(alike) != 1:
        return None
    saved.remove(alike[0])
    message = f"This row is taken for “{alike[0].title}”, {when_words(alike[0])}."
    remedy = "If it is a meeting of its own, send the row of that one along with it."
    run.fault(row, "title", message, remedy, warning=True)
    return alike[0]


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def _values(run: TableRun, row: ParsedRow) -> dict[str, Any] | None:
    """A meeting as the service takes it; None with the problem noted."""
    weekday, which = row.get("weekday"), row.get("month_place")
    values: dict[str, Any] = {
        "title": row.values["title"],
        "weekday": None if weekday is None else int(weekday),
        "month_place": None if which is None else int(which),
        "start": row.values["start"],
        "end": row.values["end"],
        **{name: row.get(name) for name in ("date", "first_day", "last_day")},
        "building": building_of(run, row) if row.get("building") else None,
        "called_by": looked_up(run, row, "called_by", _caller, run, row),
        **{name: looked_up(run, row, name, _people, run, row, name) for name in _PEOPLE},
    }
    lost = any(values[name] is None and row.get(name) for name in ("building", "called_by", *_PEOPLE))
    return None if lost else values


def _caller(run: TableRun, row: ParsedRow) -> Person | None:
    """Who called it: the teacher whose row it is, and for a coordinator whoever is named. Raises CellError."""
    name = row.get("called_by")
    if name is None:
        return None if run.actor.is_coordinator else run.actor
    return run.lookups.colleague(name)


def _people(run: TableRun, row: ParsedRow, name: str) -> list[Person]:
    """The teachers of a list; whoever calls a meeting as a teacher is in it. Raises CellError."""
    found = [run.lookups.any_teacher(one) for one in row.get(name, ())]
    if name == "teachers" and not run.actor.is_coordinator and not row.get("called_by"):
        found.append(run.actor)
    return sorted({one.pk: one for one in found}.values(), key=lambda one: one.pk)


def _can_be_saved(run: TableRun, row: ParsedRow, found: CommonMeeting | None, values: dict[str, Any]) -> bool:
    """Whether the actor may say what a row says of others, with the problems noted."""
    before = len(run.problems)
    if found is not None and changed_words(run.table, found, values):
        if not CommonMeeting.objects.changeable_by(run.actor).filter(pk=found.pk).exists():
            run.fault(row, "", NOT_THEIRS, "Leave the row as it was exported, or take it out.")
        elif found.called_by != values["called_by"]:
            who = found.called_by.username if found.called_by is not None else "nobody in particular"
            message = f"This meeting is kept as called by {who}, which stays."
            run.fault(row, "called_by", message, "Write it so, or give a new meeting a title of its own.")
    elif found is None and not run.actor.is_coordinator and values["called_by"] != run.actor:
        message = "A teacher brings only meetings that the teacher calls."
        run.fault(row, "called_by", message, "Leave the cell empty, or ask the coordinator to import this row.")
    for name, error in _answers(run.actor, found, values):
        run.cell_fault(row, name, error)
    return len(run.problems) == before


def _answers(actor: Person, found: CommonMeeting | None, values: dict[str, Any]) -> list[tuple[str, CellError]]:
    """Where a row answers for another, or asks again who said yes."""
    there = {*found.teachers.all()} if found is not None else set()
    waiting = {*found.asked.all()} if found is not None else set()
    if actor.is_coordinator:
        put_in = waiting.intersection(values["teachers"])
        asks = {*values["asked"]} - waiting if found is not None else set()
    else:
        put_in = {*values["teachers"]} - there - {actor}
        again = asked_again(actor, found, values) if found is not None else []
        asks = there.intersection(values["asked"]) - {*again}
    told = []
    if put_in:
        message = f"{_names(put_in)} didn't say yes to it yet, and nobody answers for another."
        told.append(("teachers", CellError(message, "Write them under “Asked”: they answer under Meetings.")))
    if asks:
        message = f"{_names(asks)} can't be asked by this row."
        told.append(("asked", CellError(message, "Write them under “In it”.")))
    return told


def _told(actor: Person, found: CommonMeeting | None, values: dict[str, Any]) -> list[str]:
    """Who said yes and is asked anew, because the meeting is at another time or place."""
    again = asked_again(actor, found, values) if found is not None else []
    return [f"{_names({*again})} said yes and is asked again"] if again else []


def _names(people: set[Person]) -> str:
    return ", ".join(sorted(one.username for one in people))
