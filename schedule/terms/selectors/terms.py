"""Reads of terms for pages and the API; the shapes are in ``schedule.terms.data``."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from accounts.errors import ApplicationError
from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from schedule.calendar.day_words import WEEKDAYS
from schedule.calendar.selectors.school_days import minutes_of
from schedule.terms.data import (
    ExceptionView,
    KindView,
    PeriodMinutesView,
    SideView,
    StandsView,
    TermView,
    TermWeekView,
)
from schedule.terms.models import TermPlan
from schedule.terms.sameness import SIDE_WORDS, Side
from schedule.terms.selectors.not_held import not_held
from schedule.terms.selectors.ways import term_later, term_ways
from schedule.terms.words import when_words
from schedule.weeks.models import TimetableSession, TimetableVersion, WeekPlan
from schedule.weeks.selectors.runs import run_detail

NOT_FOUND = "There is no such term."
STATES = {
    "planning": "Being planned",
    "failed": "Not planned",
    "draft": "Draft",
    "in_force": "In force",
    "taken_back": "Taken back",
}


def term_get(viewer: Person, term_id: int) -> TermPlan:
    """A term that the viewer may see; raises ``ApplicationError`` (404) for any other."""
    rows = TermPlan.objects.visible_to(viewer)
    row = rows.select_related("run__job", "run__teacher", "district", "standing").filter(pk=term_id).first()
    if row is None:
        raise ApplicationError(NOT_FOUND, code="not_found", status=404)
    return row


def terms_of(viewer: Person, teacher: Person) -> list[TermPlan]:
    """A teacher's terms that the viewer may see, the newest first."""
    rows = TermPlan.objects.visible_to(viewer).filter(run__teacher=teacher)
    return list(rows.select_related("run__job", "run__teacher", "district", "standing").order_by("-pk"))


def term_state(term: TermPlan) -> str:
    """Where a term's standing timetable is; the key of ``STATES``."""
    if not term.run.job.is_over:
        return "planning"
    timetable = term.standing
    if timetable is None:
        return "failed"
    if timetable.is_in_force:
        return "in_force"
    return "taken_back" if timetable.taken_back_at is not None else "draft"


def gives_way_to(viewer: Person, term: TermPlan) -> TermPlan | None:
    """The term in force that was published after one in force and counts on the dates that both have."""
    mine = term.standing
    if mine is None or not mine.is_in_force:
        return None
    rows = TermPlan.objects.visible_to(viewer).filter(
        run__teacher=term.run.teacher,
        standing__published_at__gt=mine.published_at,
        standing__taken_back_at__isnull=True,
        standing__first_day__lte=mine.last_day,
        standing__last_day__gte=mine.first_day,
    )
    return rows.select_related("run").order_by("-standing__published_at", "-pk").first()


def term_detail(viewer: Person, term: TermPlan) -> TermView:
    """How far a term is, and what it holds."""
    row, names = term_get(viewer, term.pk), student_names(viewer)
    run, found = row.run, row.summary
    weeks = tuple(_weeks(row, found.get("weeks", []), names))
    state = term_state(row)
    return TermView(
        term_id=row.pk,
        teacher_id=run.teacher_id,
        teacher_name=str(run.teacher),
        first_date=run.first_date,
        last_date=run.last_date,
        worth=row.worth,
        state=state,
        state_label=STATES[state],
        run=run_detail(viewer, run, names),
        sessions=found.get("sessions", 0),
        open=found.get("open", 0),
        kept=found.get("kept", 0),
        drive_minutes=found.get("drive_minutes", 0),
        least_driving=found.get("least_driving"),
        minutes_owed=sum(week.minutes_owed for week in weeks),
        minutes_placed=sum(week.minutes_placed for week in weeks),
        standing=tuple(_standing(row, found, names)),
        later=tuple(term_later(row, found.get("later", []), names)),
        sides=_sides(found.get("sameness", {})),
        kinds=_kinds(weeks, {one["monday"] for one in found.get("weeks", []) if one["regular"]}),
        weeks=weeks,
        ways=tuple(term_ways(row, found.get("ways", []), names)),
        minutes=tuple(_minutes(found.get("minutes", []), names)),
        shared=tuple(found.get("shared", [])),
        notes=names.all_told(run.summary.get("notes", [])),
        cut=found.get("stopped", False),
        could_be_placed=found.get("could_be_placed"),
    )


def _minutes(kept: Iterable[Mapping[str, Any]], names: StudentNames) -> Iterator[PeriodMinutesView]:
    for one in kept:
        yield PeriodMinutesView(
            line_id=one["line"],
            who=names.told(one["who"]),
            statement=one["statement"],
            period=one["period"],
            by_week=one["by_week"],
            owed=one["owed"],
            placed=one["placed"],
            reserve=one["reserve"],
            reserve_wanted=one["reserve_wanted"],
            sentences=tuple(one["words"]),
            behind=one["behind"],
        )


# ---- weeks -----------------------------------------------------------------------------------------------


def _weeks(term: TermPlan, kept: Iterable[Mapping[str, Any]], names: StudentNames) -> Iterator[TermWeekView]:
    planned = WeekPlan.objects.filter(plan_run=term.run).select_related("teacher__district").order_by("pk")
    rows = {row.monday: row for row in planned}
    off = not_held(list(rows.values()))
    for one in kept:
        monday = dt.date.fromisoformat(one["monday"])
        row = rows.get(monday)
        yield TermWeekView(
            monday=monday,
            kind=one["kind"],
            turn=one["turn"],
            expected=one["expected"],
            open=one["open"],
            kept=one["kept"],
            drive_minutes=one["drive_minutes"],
            minutes_owed=one["minutes_owed"],
            minutes_placed=one["minutes_placed"],
            proved=one["proved"],
            exceptions=tuple(ExceptionView(away["why"], names.told(away["words"])) for away in one["exceptions"]),
            week_id=row.pk if row else None,
            status=row.status if row else "",
            status_label=row.get_status_display() if row else "",
            not_held=off.get(row.pk, ()) if row else (),
        )


def _kinds(weeks: Iterable[TermWeekView], regular: set[str]) -> tuple[KindView, ...]:
    """Each kind of week by the week that shows it best: all days as usual, fewest exceptions, the first."""
    groups: dict[tuple[str, str], list[TermWeekView]] = {}
    for week in weeks:
        groups.setdefault((week.kind, week.turn), []).append(week)
    found = []
    for (kind, turn), mine in groups.items():
        best = min(mine, key=lambda one: (one.monday.isoformat() not in regular, len(one.exceptions), one.monday))
        found.append(KindView(kind, turn, len(mine), best.week_id, best.monday, len(best.exceptions)))
    return tuple(sorted(found, key=lambda one: (one.kind, one.turn, one.monday)))


def _sides(kept: Mapping[str, Any]) -> tuple[SideView, ...]:
    rows = ((side, *kept[side.value]) for side in Side if side.value in kept)
    return tuple(SideView(side.value, SIDE_WORDS[side], count, of) for side, count, of in rows if of)


# ---- the standing timetable ------------------------------------------------------------------------------


def _standing(term: TermPlan, found: Mapping[str, Any], names: StudentNames) -> Iterator[StandsView]:
    """The sessions of the term's timetables in the order of the week, cycle days after it."""
    stands = {(unit, key, at, place): count for unit, key, at, place, count in found.get("standing", [])}
    away: dict[tuple[str, str, int, str], int] = {}
    for week in found.get("weeks", []):
        for one in week["exceptions"]:
            if one["usual"] is not None:
                spot = (one["unit"], *one["usual"])
                away[spot] = away.get(spot, 0) + 1
    timetables = [*filter(None, [term.standing]), *term.later.order_by("first_day", "pk")]
    for row, since, until in sorted(_standing_rows(timetables), key=lambda one: _in_the_week(one[0])):
        spot = _spot_of(row)
        yield StandsView(
            who=_who(row, names),
            when=when_words(row.weekday, row.cycle_day, minutes_of(row.start)),
            start=row.start,
            end=row.end,
            building_id=row.building_id,
            building_name=row.building.name,
            space_name=row.space.name if row.space else "",
            setting_label=row.get_setting_display(),
            class_name=row.school_class.name if row.school_class else "",
            stands=stands.get(spot, 0),
            away=away.get(spot, 0),
            since=since,
            until=until,
        )


def _standing_rows(
    timetables: Sequence[TimetableVersion],
) -> Iterator[tuple[TimetableSession, dt.date | None, dt.date | None]]:
    """Each session once, with its first and last day where these aren't the term's."""
    rows: dict[_Spot, TimetableSession] = {}
    stands: list[set[_Spot]] = []
    for one in timetables:
        sessions = one.sessions.select_related("building", "space", "school_class").prefetch_related("attendees")
        mine = {_spot_of(row): row for row in sessions}
        rows = mine | rows
        stands.append(set(mine))
    for spot, row in rows.items():
        held = [number for number, mine in enumerate(stands) if spot in mine]
        after = timetables[held[-1] + 1 :]
        yield (
            row,
            timetables[held[0]].first_day if held[0] else None,
            after[0].first_day - dt.timedelta(days=1) if after else None,
        )


type _Spot = tuple[str, str, int, str]


def _spot_of(row: TimetableSession) -> _Spot:
    return row.planner_key, pattern_key_of(row), minutes_of(row.start), row.building.code


def _in_the_week(row: TimetableSession) -> tuple[Any, ...]:
    return row.weekday is None, row.weekday or 0, row.cycle_day, row.start, row.pk


def pattern_key_of(row: TimetableSession) -> str:
    """The kind of day on which a session stands (see ``schedule.calendar.starts.pattern_key``)."""
    weekday = "" if row.weekday is None else WEEKDAYS[row.weekday]
    return " ".join(filter(None, [row.cycle_day, weekday]))


def _who(row: TimetableSession, names: StudentNames) -> str:
    """A class by its name, else its students as the viewer may know them."""
    if row.school_class is not None:
        return row.school_class.name
    people = [names.full.get(one.student_id, "") for one in row.attendees.all()]
    return ", ".join(filter(None, people)) or row.get_setting_display()
