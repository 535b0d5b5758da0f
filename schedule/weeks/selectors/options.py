"""Where one session of a week could be held, tried moment by moment.

Only the two days that a move touches are timed and judged again: the judge's rules of a day look at that day alone.
"""

import datetime as dt
import uuid as uuid_lib
from collections.abc import Mapping
from dataclasses import dataclass, replace

from accounts.errors import ApplicationError
from schedule.calendar.selectors.school_days import time_of
from schedule.planner.check import Violation, check, day_violations, horizon_violations
from schedule.planner.problem import Session
from schedule.planner.result import DayPlan, ItemKind, Itinerary
from schedule.weeks.data import SessionOption
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import WeekInput
from schedule.weeks.planning.editing import edit_input, rearranged_plan
from schedule.weeks.planning.outcome import broken_rules, dated, misplaced, planner_sessions, rule_sentences
from schedule.weeks.timing import time_day
from schedule.weeks.versions.content import SessionContent, WeekContent
from travel.places.naming import short_school_names


@dataclass(frozen=True, slots=True)
class _Timed:
    """One day around its sessions: its itinerary, the rules that it breaks, minutes at the wheel."""

    plan: DayPlan
    violations: tuple[Violation, ...]
    drive: int


class SessionMoments:
    """Tries moments of one session against the rest of a week."""

    def __init__(self, week: WeekPlan, content: WeekContent) -> None:
        self.content = content
        self.loaded: WeekInput = edit_input(week, content)
        self.planned = planner_sessions(self.loaded, content.sessions)
        self.short = short_school_names({one.pk: one.name for one in self.loaded.buildings.values()})
        self.places = {one.uid: number for number, one in enumerate(content.sessions)}
        plan = rearranged_plan(self.loaded, content, content.sessions, frozenset())
        self.days = {day.day: self._judged(day) for day in plan.days}
        self.timed: dict[tuple[str, Session | None], _Timed] = {}
        self.horizons: dict[dt.date, tuple[Violation, ...]] = {}
        self.broken = set(broken_rules(self.loaded, content.sessions, check(self.loaded.problem, plan)))

    def _judged(self, day: DayPlan) -> _Timed:
        drive = sum(item.drive_minutes for item in day.of_kind(ItemKind.DRIVE))
        return _Timed(day, day_violations(self.loaded.problem, day), drive)

    def new_session(self, line: int) -> SessionContent:
        """A session for an unplaced line, not yet anywhere."""
        key = self.loaded.units.unit_of_line().get(line)
        if key is None:
            raise ApplicationError("This service isn't owed this week anymore.", code="not_owed")
        info = self.loaded.info(key)
        minutes = self.loaded.problem.unit(key).minutes
        return SessionContent(
            uid=str(uuid_lib.uuid4()),
            date=self.loaded.monday,
            start=0,
            end=minutes,
            building=info.building,
            key=key,
            setting=info.setting,
            lines=info.lines,
            students_from=info.students_from,
        )

    def of(self, session: SessionContent) -> tuple[SessionOption, ...]:
        """Every moment, in order of date and time; one space a moment, the present one first."""
        if not self.loaded.problem.has_unit(session.key):
            raise ApplicationError("This service isn't owed this week anymore.", code="not_owed")
        found = {}
        for moment in sorted(self._moments(session), key=lambda one: one[:2]):
            day, at, space = moment
            kept = self.loaded.spaces.get((self._code(session), space or "")) == session.space
            if (day, at) not in found or kept:
                found[day, at] = self._option(session, day, at, space)
        return tuple(found.values())

    def _code(self, session: SessionContent) -> str:
        return self.loaded.sources.calendars[session.building].building.code

    def _moments(self, session: SessionContent) -> list[tuple[str, int, str | None]]:
        problem = self.loaded.problem
        services = {service.id: service for service in problem.services}
        unit = problem.unit(session.key)
        moments = [(one.day, one.at, one.space) for one in unit.starts]
        known = {one[:2] for one in moments}
        barred = [bar for member in problem.members(session.key) for bar in services[member].barred]
        return moments + [(bar.day, bar.at, bar.space) for bar in barred if (bar.day, bar.at) not in known]

    def _option(self, session: SessionContent, day: str, at: int, space: str | None) -> SessionOption:
        code = self._code(session)
        tried = dated(
            self.loaded,
            replace(
                session,
                date=dt.date.fromisoformat(day),
                start=at,
                end=at + session.end - session.start,
                space=self.loaded.spaces.get((code, space or "")),
            ),
        )
        days = self._tried(session, tried)
        touched = [violation for key in days for violation in days[key].violations]
        # What is said of untouched days and of other sessions is broken already, so it is none of this move's.
        week = self._horizon(tried.date, days)
        other = [one for one in rule_sentences(self.loaded, [*touched, *week]) if one not in self.broken]
        mine = misplaced(self.loaded, tried)
        return SessionOption(
            date=tried.date,
            start=time_of(tried.start),
            end=time_of(tried.end),
            building_id=tried.building,
            building_code=code,
            building_name=self.loaded.buildings[code].name,
            building_short=self.short[tried.building],
            space_id=tried.space,
            space_name=space or "",
            period=tried.period,
            added_drive_minutes=sum(one.drive - self.days[key].drive for key, one in days.items()),
            breaks=tuple(dict.fromkeys([*([mine] if mine else []), *other])),
            is_now=(tried.date, tried.start) == (session.date, session.start),
        )

    def _tried(self, session: SessionContent, tried: SessionContent) -> dict[str, _Timed]:
        """The days that the move touches, in order, as they would be. A day is timed once for all moments."""
        [moved] = planner_sessions(self.loaded, [tried])
        touched = {session.date.isoformat(), tried.date.isoformat()}
        return {key: self._day(key, session, moved) for key in self.days if key in touched}

    def _day(self, key: str, session: SessionContent, moved: Session) -> _Timed:
        known = (key, moved if moved.day == key else None)
        if known not in self.timed:
            held = [one for one in self._with(session, moved) if one.day == key]
            self.timed[known] = self._judged(time_day(self.loaded.problem, self.loaded.problem.day(key), held))
        return self.timed[known]

    def _with(self, session: SessionContent, moved: Session) -> list[Session]:
        """The week's sessions with this one moved, or added where the week doesn't hold it."""
        at = self.places.get(session.uid, len(self.planned))
        return [*self.planned[:at], moved, *self.planned[at + 1 :]]

    def _horizon(self, date: dt.date, days: Mapping[str, _Timed]) -> tuple[Violation, ...]:
        """Rules of the whole week. Nothing is pinned here, so they ask on which day a session is, not when."""
        if date not in self.horizons:
            plan = Itinerary(tuple(days.get(key, day).plan for key, day in self.days.items()))
            self.horizons[date] = horizon_violations(self.loaded.problem, plan)
        return self.horizons[date]
