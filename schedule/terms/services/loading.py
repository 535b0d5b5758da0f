"""A teacher's term as a question for the planner: each week loaded as it would be by itself, units named alike.

Nothing is written here. Minutes that are owed by the month, the marking period or the year are shared out over the
weeks before (``schedule.terms.selectors.minutes``).
"""

import datetime as dt
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from django.db.models import Min

from accounts.errors import ApplicationError
from accounts.models import District
from accounts.selectors import today_in
from caseload.plans.models import ServiceLine
from schedule.calendar.models import SchoolYear
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars
from schedule.planner.term.following import once_each
from schedule.planner.term.term import LaterTimetable, Term, TermWeek
from schedule.planner.term.term import StandingSession as Stands
from schedule.planner.term.term import StandingTimetable as Standing
from schedule.terms.days import PlaceDay, WeekKind, kind_of_week, unusual_days
from schedule.terms.selectors.minutes import Counts, TermMinutes, term_minutes
from schedule.terms.unit_ids import WeekIds, problem_in_term, renamed_line, unit_ids_of, week_ids
from schedule.weeks.models import PlanRun, TimetableVersion
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.line_week import LineWeek
from schedule.weeks.planning.load import WeekRows, week_input, week_rows
from schedule.weeks.planning.make_up_services import MakeUp, is_make_up
from schedule.weeks.services.base import run_base
from schedule.weeks.services.runs import SKIPPED, mondays_between
from schedule.weeks.versions.content import SessionContent, WeekContent
from schedule.weeks.versions.history import content_in_force
from schedule.weeks.versions.standing import standing_in_force, standing_sessions
from travel.places.models import Building

NOWHERE = 0
"""The building of a session that is only presumed: it belongs to no pattern."""


@dataclass(frozen=True, slots=True)
class LoadedWeek:
    """One week of the term with the way back to its rows; ``regular``: no day of it is unusual."""

    loaded: WeekInput
    ids: WeekIds
    week: TermWeek
    in_force: WeekContent | None
    kind: WeekKind
    regular: bool

    @property
    def monday(self) -> dt.date:
        """Its Monday."""
        return self.loaded.monday


@dataclass(slots=True)
class LoadedTerm:
    """All weeks that can be planned, and why the others can't."""

    weeks: list[LoadedWeek] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    minutes: TermMinutes = field(default_factory=TermMinutes)

    def term(self, standing: Standing | None, worth: int, later: Sequence[LaterTimetable] = ()) -> Term:
        """The question for the planner."""
        return Term(tuple(one.week for one in self.weeks), standing, worth, tuple(later))


def term_load(run: PlanRun) -> LoadedTerm:
    """Every week of a run's dates. Raises ``ApplicationError`` where none can be planned, or rules are missing.

    Each week is read once and asked twice: where minutes by the month or longer fit, and with what it holds.
    """
    mondays = mondays_between(run.first_date, run.last_date)
    first = _Reading(run)
    settled = {monday: run_base(run, monday, {}, first.in_force(monday)).settled for monday in mondays}
    # Of a term that began already, what was known when it began: weeks without a plan aren't unknown ones then.
    today = min(today_in(run.district), run.first_date)
    minutes = term_minutes(run.teacher, mondays, first.load, today, settled)
    if not first.held:
        raise first.troubles[0]
    second = replace(first, make_ups=minutes.make_ups, held={}, troubles=[])
    found = LoadedTerm(notes=[one.message for one in first.troubles], minutes=minutes)
    for monday in first.held:
        loaded = minutes.loaded.get(monday) if monday not in minutes.make_ups else None
        loaded = loaded or second.load(monday, minutes.counts.get(monday, {}))
        if loaded is not None:
            found.weeks.append(_loaded_week(loaded, first.in_force(monday)))
    return found


@dataclass(slots=True)
class _Reading:
    """Weeks of a run one after the other, each read when first asked for; what it owes counts for later ones."""

    run: PlanRun
    make_ups: Mapping[dt.date, Mapping[MakeUp, int]] = field(default_factory=dict)
    held: dict[dt.date, WeekContent] = field(default_factory=dict)
    troubles: list[ApplicationError] = field(default_factory=list)
    rows: dict[dt.date, WeekRows] = field(default_factory=dict)
    calendars: dict[tuple[int, ...], Mapping[int, BuildingCalendar]] = field(default_factory=dict)

    def in_force(self, monday: dt.date) -> WeekContent | None:
        """The week as it is published."""
        return content_in_force(self.run.teacher, monday)

    def load(self, monday: dt.date, counts: Counts) -> WeekInput | None:
        """One week with these counts; None, and why, where it can't be planned."""
        base = run_base(self.run, monday, self.held, self.in_force(monday))
        base = replace(base, counts=counts, make_ups=self.make_ups.get(monday, {}))
        try:
            if monday not in self.rows:
                self.rows[monday] = week_rows(self.run.teacher, monday, base, self._calendars)
            loaded = week_input(self.rows[monday], base)
        except ApplicationError as error:
            if error.code not in SKIPPED:
                raise
            self.troubles.append(error)
            return None
        self.held[monday] = _presumed(loaded)
        return loaded

    def _calendars(
        self, district: District, buildings: Sequence[Building], year: SchoolYear
    ) -> Mapping[int, BuildingCalendar]:
        """The weeks of a year ask for the same calendars, laid out once."""
        key = year.pk, *sorted(one.pk for one in buildings)
        if key not in self.calendars:
            self.calendars[key] = load_calendars(district, buildings, year)
        return self.calendars[key]


def _presumed(loaded: WeekInput) -> WeekContent:
    """The week as if all that it owes were held in it, at times and places that say nothing."""
    return WeekContent(sessions=tuple(one for line in loaded.lines.values() for one in _held(loaded, line)))


def _held(loaded: WeekInput, line: LineWeek) -> Iterator[SessionContent]:
    """A line's sessions, spread over the dates of the week on which it is owed."""
    dates = [date for date in loaded.sources.dates if line.active_on(date)] or list(loaded.sources.dates)
    for number in range(line.owed.sessions):
        yield SessionContent(
            uid=str(uuid.uuid4()),
            date=dates[number * len(dates) // line.owed.sessions],
            start=0,
            end=line.owed.minutes,
            building=NOWHERE,
            key="",
            setting=line.line.setting,
            lines=(line.line.pk,),
        )


def _loaded_week(loaded: WeekInput, in_force: WeekContent | None) -> LoadedWeek:
    units = [*unit_ids_of(loaded.problem)]
    firsts = first_versions(line for unit in units for line in loaded.info(unit).lines)
    ids = week_ids({unit: renamed_line(unit, firsts) for unit in units})
    days = _place_days(loaded)
    unusual = unusual_days(days)
    week = TermWeek(loaded.monday.isoformat(), problem_in_term(loaded.problem, ids), unusual)
    return LoadedWeek(loaded, ids, week, in_force, kind_of_week(days), not unusual)


def first_versions(lines: Iterable[int]) -> dict[int, int]:
    """The first version of each line's service, by the line."""
    services = dict(ServiceLine.objects.filter(pk__in=set(lines)).values_list("pk", "service_id"))
    rows = ServiceLine.objects.filter(service__in=set(services.values())).order_by("service_id")
    first = dict(rows.values("service_id").annotate(first=Min("pk")).values_list("service_id", "first"))
    return {line: first[service] for line, service in services.items()}


def _place_days(loaded: WeekInput) -> list[PlaceDay]:
    """Each school on each weekday on which the teacher works in some week."""
    weekdays = sorted({date.weekday() for date in loaded.sources.dates} | set(range(5)))
    taught = _taught(loaded)
    calendars = [calendar for pk, calendar in sorted(loaded.sources.calendars.items()) if pk in taught]
    dates = [loaded.monday + dt.timedelta(days=n) for n in weekdays]
    return [one for calendar in calendars for date in dates for one in _place_day(calendar, date)]


def _taught(loaded: WeekInput) -> set[int]:
    """The schools of a week's services: where each is held, and where its students come from."""
    infos = [loaded.info(one.id) for one in loaded.problem.services if not is_make_up(one.id)]
    return {pk for one in infos for pk in (one.building, one.students_from) if pk is not None}


def _place_day(calendar: BuildingCalendar, date: dt.date) -> Iterator[PlaceDay]:
    """A school on a date, once for each of its rotations."""
    for turning, facts in enumerate(calendar.facts(date).each()):
        yield PlaceDay(calendar.building.code, calendar.building.name, facts, turning)


# ---- the standing timetable in force ---------------------------------------------------------------------


def standing_load(run: PlanRun, term: LoadedTerm) -> tuple[TimetableVersion, Standing] | None:
    """The timetable in force when the term begins, also in the names of its units; ``None`` where there is none."""
    timetable = standing_in_force(run.teacher, term.weeks[0].monday)
    return None if timetable is None else (timetable, standing_read(timetable, term))


def standing_read(timetable: TimetableVersion, term: LoadedTerm) -> Standing:
    """A timetable in the names of a term's units, without what isn't owed in the term, or not at its school."""
    names = _Names.of(term.weeks)
    sessions = (names.standing(one) for one in standing_sessions(timetable, term.weeks[0].monday))
    return once_each(one for one in sessions if one is not None)


@dataclass(frozen=True, slots=True)
class _Names:
    """What a term calls the rows of a standing timetable: units by key and by line, schools and spaces by id."""

    units: Mapping[str, str]
    lines: Mapping[int, str]
    places: Mapping[int, BuildingCalendar]
    spaces: Mapping[int, str]

    @classmethod
    def of(cls, weeks: Sequence[LoadedWeek]) -> "_Names":
        """From all weeks of the term."""
        units, lines = dict[str, str](), dict[int, str]()
        places, spaces = dict[int, BuildingCalendar](), dict[int, str]()
        for week in weeks:
            units |= {one: one for one in unit_ids_of(week.week.problem)}
            lines |= {line: week.ids.term_id(one) for line, one in week.loaded.units.unit_of_line().items()}
            places |= week.loaded.sources.calendars
            spaces |= {pk: name for (_, name), pk in week.loaded.spaces.items()}
        return cls(units, lines, places, spaces)

    def standing(self, one: SessionContent) -> Stands | None:
        """A session of a timetable as the planner knows it."""
        unit = self.units.get(one.key) or next((self.lines[line] for line in one.lines if line in self.lines), None)
        if unit is None or one.building not in self.places:
            return None
        calendar = self.places[one.building]
        key = calendar.facts(one.date).kind_of(one.date, one.cycle_day)
        return Stands(unit, key, one.start, calendar.building.code, self.spaces.get(one.space or 0))
