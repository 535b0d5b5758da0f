"""A week that make-ups are tried in: the version in force, else the newest draft, else the standing pattern.

A make-up is asked for under the version of its service that holds today; in a week it stands under that of its day.
Nothing is written here. Every place is re-timed and judged by the same code as an edit by hand, so what is offered
can be booked as long as nobody changes the week in the meantime.
"""

import datetime as dt
import uuid
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from accounts.models import Person
from caseload.plans.selectors import line_on, versions_by_line
from schedule.calendar.laid_out import DayFacts
from schedule.make_ups.minutes import MakeUpSlot
from schedule.planner.check import Verdict, check
from schedule.planner.problem import Goal, Start
from schedule.planner.result import ItemKind, Itinerary
from schedule.weeks.models import WeekPlan
from schedule.weeks.pattern import carry_pairs
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.editing import edit_input, rearranged, rearranged_plan
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.make_up_services import MakeUp, make_up_key
from schedule.weeks.planning.outcome import (
    Told,
    broken_rules,
    content_of,
    dated,
    drive_minutes_of,
    misplaced,
    planner_sessions,
)
from schedule.weeks.timing import retime_days, time_week
from schedule.weeks.versions.content import SessionContent, WeekContent, content_read
from schedule.weeks.versions.history import WeekBefore, standing_pattern, weeks_before

type Moment = tuple[dt.date, int, int]

DAYS = 7
NOT_PLANNED = "It doesn't fit at its usual time, and this week isn't planned yet."
"""Why a session has no place in a week that was made from the standing pattern."""

TRIED = 10
"""Make-ups of the same lines and length that one week may take."""


@dataclass(frozen=True, slots=True)
class MakeUpPlace:
    """A session that would fit, and what it costs against the week as it stands."""

    session: SessionContent
    slot: MakeUpSlot


class MakeUpWeek:
    """One teacher's week, as it stands and with the make-ups added so far.

    Raises ``ApplicationError`` as ``load_week`` does (no school days, no services, ...).
    """

    def __init__(self, teacher: Person, monday: dt.date, wanted: Iterable[MakeUp]) -> None:
        """Load the week with room for these make-ups."""
        self.teacher = teacher
        self.monday = monday
        self.row = newest_version(teacher, monday)
        asked = set(wanted)
        self._versions = versions_by_line({line for one in asked for line in one.lines})
        more = [one for one in self._under_versions(asked) for _ in range(TRIED)]
        self.loaded, self.content = self._stand(teacher, more)
        self.added: list[SessionContent] = []
        self._settle()

    @property
    def in_force(self) -> bool:
        """Whether the week is published."""
        return self.row is not None and self.row.status == WeekPlan.Status.PUBLISHED

    def places(self, wanted: MakeUp, not_before: dt.date, avoid: Collection[dt.date]) -> list[MakeUpPlace]:
        """Where one more such session fits: no rule broken that isn't broken now, in order of date and time."""
        found: dict[tuple[dt.date, int], MakeUpPlace] = {}
        for key, start in self._starts(wanted):
            date = dt.date.fromisoformat(start.day)
            span = (date, start.at, start.at + wanted.minutes)
            barred = date < not_before or date in avoid or self._taken(span)
            if barred or span[:2] in found:
                continue
            place = self._tried(key, span, start.space)
            if place is not None:
                found[span[:2]] = place
        return [found[moment] for moment in sorted(found)]

    def under(self, wanted: MakeUp, day: dt.date) -> MakeUp:
        """A make-up under the versions of its services that are in force on a day."""
        lines = sorted({line_on(line, day, self._versions) for line in wanted.lines})
        return MakeUp(tuple(lines), wanted.minutes)

    def together(self, sessions: Sequence[SessionContent]) -> int | None:
        """Minutes of driving that sessions add together; None where they break a rule that isn't broken now."""
        tried = self._with(sessions)
        return None if tried is None else drive_minutes_of(tried[0]) - self._drive

    def add(self, session: SessionContent) -> None:
        """Keep a session that ``places`` offered."""
        self.content = rearranged(
            self.loaded, self.content, [*self.content.sessions, session], frozenset({session.date.isoformat()})
        )
        self.added.append(session)
        self._settle()

    def dates_of(self, line: int) -> list[dt.date]:
        """Dates on which a line's service meets in this week, under whichever version."""
        own = {line, *(pk for pk, _, _ in self._versions.get(line, ()))}
        return [one.date for one in self.content.sessions if own.intersection(one.lines)]

    # ---- within ------------------------------------------------------------------------------------------

    def _under_versions(self, wanted: Iterable[MakeUp]) -> tuple[MakeUp, ...]:
        """Each make-up under every version that is in force in the week."""
        dates = [self.monday + dt.timedelta(days=number) for number in range(DAYS)]
        return tuple(dict.fromkeys(self.under(one, date) for one in wanted for date in dates))

    def _starts(self, wanted: MakeUp) -> Iterator[tuple[str, Start]]:
        """Where a make-up can be in the week by itself, with its key there: each version on its own days."""
        for key in map(make_up_key, self._under_versions([wanted])):
            if self.loaded.problem.has_unit(key):
                yield from ((key, start) for start in self.loaded.problem.unit(key).starts)

    def _stand(self, teacher: Person, more: list[MakeUp]) -> tuple[WeekInput, WeekContent]:
        if self.row is not None:
            content = content_read(self.row)
            return edit_input(self.row, content, more), content
        before = weeks_before(teacher, self.monday, {})
        groups = tuple({one.key for week in before for one in week.sessions if one.key.startswith("group-")})
        loaded = load_week(teacher, self.monday, Base(make_ups=dict.fromkeys(more, TRIED), keep_groups=groups))
        sessions = _carried(loaded, _under_units(loaded, before))
        plan = time_week(loaded.problem, planner_sessions(loaded, sessions))
        return loaded, content_of(loaded, sessions, plan, Told(otherwise=NOT_PLANNED))

    def _settle(self) -> None:
        self._plan: Itinerary = rearranged_plan(self.loaded, self.content, self.content.sessions, frozenset())
        verdict = check(self.loaded.problem, self._plan)
        self._drive = drive_minutes_of(self._plan)
        self._miles = miles_of(self.loaded, self._plan)
        self._wishes = verdict.figures.of(Goal.WISHES)
        self._broken = set(broken_rules(self.loaded, self.content.sessions, verdict))

    def _taken(self, span: Moment) -> bool:
        return any(_meet(span, _span(one)) for one in self.content.sessions)

    def _with(self, more: Sequence[SessionContent]) -> tuple[Itinerary, Verdict] | None:
        """The week with more sessions, timed and judged; None where they break a rule that isn't broken now."""
        sessions = [*self.content.sessions, *more]
        days = frozenset(one.date.isoformat() for one in more)
        plan = retime_days(self.loaded.problem, self._plan, planner_sessions(self.loaded, sessions), days)
        verdict = check(self.loaded.problem, plan)
        broken = broken_rules(self.loaded, sessions, verdict)
        return (plan, verdict) if self._broken.issuperset(broken) else None

    def _tried(self, key: str, span: Moment, space: str | None) -> MakeUpPlace | None:
        date, at, end = span
        info = self.loaded.info(key)
        code = self.loaded.sources.calendars[info.building].building.code
        session = dated(
            self.loaded,
            SessionContent(
                uid=str(uuid.uuid4()),
                date=date,
                start=at,
                end=end,
                building=info.building,
                key=key,
                setting=info.setting,
                lines=info.lines,
                space=self.loaded.spaces.get((code, space or "")),
                school_class=info.school_class,
                makes_up=True,
                students_from=info.students_from,
            ),
        )
        tried = self._with([session])
        if tried is None:
            return None
        plan, verdict = tried
        building = self.loaded.buildings[code]
        slot = MakeUpSlot(
            date=date,
            start=at,
            end=end,
            building_code=code,
            building_name=building.name,
            period=session.period,
            space_id=session.space,
            space_name=space or "",
            added_drive_minutes=drive_minutes_of(plan) - self._drive,
            added_miles=miles_of(self.loaded, plan) - self._miles,
            at_building=any(one.date == date and one.building == info.building for one in self.content.sessions),
            wishes_missed=max(verdict.figures.of(Goal.WISHES) - self._wishes, 0),
            in_force=self.in_force,
        )
        return MakeUpPlace(session, slot)


def _facts_of(loaded: WeekInput) -> dict[tuple[int, dt.date], DayFacts]:
    """What each day of the week is at each building."""
    return {
        (building, date): loaded.facts(building, date)
        for building in loaded.sources.calendars
        for date in loaded.sources.dates
    }


def _under_units(loaded: WeekInput, before: Iterable[WeekBefore]) -> list[WeekBefore]:
    """Earlier weeks, the sessions of services that have changed since under what stands for them in this week."""
    lines = {line for week in before for one in week.sessions for line in one.lines}
    versions, units = versions_by_line(lines), loaded.units.unit_of_line()

    def renamed(one: SessionContent) -> SessionContent:
        every = {pk for line in one.lines for pk, _, _ in versions.get(line, ())}
        keys = {units[line] for line in every if line in units}
        if len(keys) != 1 or loaded.problem.has_unit(one.key):
            return one
        key = keys.pop()
        minutes = loaded.problem.unit(key).minutes
        return replace(one, key=key, lines=loaded.info(key).lines, end=one.start + minutes)

    return [replace(week, sessions=tuple(renamed(one) for one in week.sessions)) for week in before]


def _carried(loaded: WeekInput, before: Sequence[WeekBefore]) -> list[SessionContent]:
    """The standing pattern on this week's dates, groups and classes as they were.

    Those that aren't owed now, whose day doesn't come, or that bells, spaces, students or the teacher's own day
    don't allow are left out.
    """
    owed: Counter[str] = Counter()
    for week in before:
        owed |= Counter(one.key for one in week.sessions)
    old = {(one.key, one.date, one.start): one for week in before for one in week.sessions}
    held = standing_pattern(
        before,
        loaded.monday,
        loaded.sources.calendars,
        lambda one: [one.key] if loaded.problem.has_unit(one.key) else [],
    )
    kept: list[SessionContent] = []
    plan = time_week(loaded.problem, [])
    for was, carried in carry_pairs(held, _facts_of(loaded), owed):
        one = old[was.unit, was.date, was.at]
        session = dated(loaded, replace(one, uid=str(uuid.uuid4()), date=carried.date, pinned=False))
        more = None if misplaced(loaded, session) else _with_one_more(loaded, plan, kept, session)
        if more is not None:
            kept.append(session)
            plan = more
    return kept


def _with_one_more(
    loaded: WeekInput, plan: Itinerary, kept: Sequence[SessionContent], session: SessionContent
) -> Itinerary | None:
    """The plan with one session more; None where it breaks a further rule, as of a meeting or of what is owed."""
    sessions = planner_sessions(loaded, [*kept, session])
    tried = retime_days(loaded.problem, plan, sessions, frozenset({session.date.isoformat()}))
    before, after = (set(check(loaded.problem, one).violations) for one in (plan, tried))
    return tried if after <= before else None


def miles_of(week: WeekInput, plan: Itinerary) -> Decimal:
    """Miles driven in a whole plan; a drive of unknown length counts none."""
    drives = (item for day in plan.days for item in day.of_kind(ItemKind.DRIVE))
    return sum((_miles(week, one.place or "", one.to_place or "") for one in drives), Decimal(0))


def _miles(week: WeekInput, origin: str, to: str) -> Decimal:
    if origin not in week.buildings or to not in week.buildings:
        return Decimal(0)
    return week.drives.leg(week.buildings[origin].pk, week.buildings[to].pk).miles or Decimal(0)


def _span(one: SessionContent) -> Moment:
    return one.date, one.start, one.end


def newest_version(teacher: Person, monday: dt.date) -> WeekPlan | None:
    """The version in force, else the newest draft."""
    rows = WeekPlan.objects.filter(teacher=teacher, monday=monday).select_related("teacher", "district")
    published = rows.filter(status=WeekPlan.Status.PUBLISHED).first()
    drafts = rows.filter(status=WeekPlan.Status.DRAFT).order_by("-created_at", "-pk")
    return published or drafts.first()


def _meet(one: Moment, other: Moment) -> bool:
    return one[0] == other[0] and one[1] < other[2] and other[1] < one[2]
