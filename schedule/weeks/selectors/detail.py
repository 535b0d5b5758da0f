"""Builds ``WeekDetail``: rows of a version as plain values, cut down to what the viewer may see."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from accounts.models import Person
from caseload.plans.names import student_names
from caseload.plans.naming import StudentNames
from schedule.calendar.models import ContractDay, SchoolYear
from schedule.calendar.selectors.covers import covers_between
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, minutes_of, time_of
from schedule.calendar.starts import pattern_key
from schedule.planner.problem import Goal
from schedule.weeks.data import (
    BuildingDayView,
    DayDetail,
    GoalFigure,
    ItemView,
    PlaceView,
    SessionView,
    UnplacedView,
    WeekDetail,
)
from schedule.weeks.models import DayItem, PlannedSession, SessionAttendee, UnplacedSession, WeekPlan, WeekRevision
from schedule.weeks.pattern import kind_of
from schedule.weeks.selectors.attending import NOBODY, People, people_of
from schedule.weeks.selectors.day_shapes import StraightLeg, WeekMarks, week_marks
from schedule.weeks.version_names import VersionRow, version_titles
from schedule.weeks.versions.history import standing_pattern, weeks_before
from travel.places.models import Building
from travel.places.naming import short_school_names

GOAL_LABELS = {
    Goal.UNPLACED: "Owed minutes not placed",
    Goal.WISHES: "Minutes of contract wishes missed",
    Goal.DRIVING: "Minutes at the wheel",
    Goal.CHANGE: "Sessions moved from where they were",
    Goal.SAMENESS: "Minutes away from the usual times",
}


def goal_label(goal: str) -> str:
    """A goal in words."""
    return GOAL_LABELS[Goal(goal)]


def goal_figures(figures: Mapping[str, Any]) -> tuple[GoalFigure, ...]:
    """The goals kept with a week, in their order."""
    return tuple(
        GoalFigure(one["goal"], goal_label(one["goal"]), one["value"], one["bound"], one["status"])
        for one in figures.get("goals", [])
    )


def _minutes_placed(sessions: Iterable[SessionView]) -> int:
    """Minutes of all students together."""
    return sum(one.minutes * max(1, len(one.attendees)) for one in sessions)


def build_detail(viewer: Person, week: WeekPlan, names: StudentNames | None = None) -> WeekDetail:
    """The version as the viewer may see it; the caller has checked that it may be seen at all.

    ``names`` where students are called differently than for this viewer, such as by codes only on a terminal.
    """
    office = viewer.role == Person.Role.OFFICE
    names = names or week_names(viewer, week)
    seen = _Seen(viewer, week, office, names)
    figures = {} if office else week.figures
    placed = _minutes_placed(seen.sessions)
    return WeekDetail(
        week_id=week.pk,
        teacher_id=week.teacher_id,
        teacher_name=str(week.teacher),
        monday=week.monday,
        last_date=week.last_date,
        status=week.status,
        status_label=week.get_status_display(),
        version=week.version,
        revision=week.revision,
        name=week.name,
        published_by=str(week.published_by) if week.published_by else "",
        published_at=week.published_at,
        created_by=str(week.created_by),
        created_at=week.created_at,
        based_on_id=week.based_on_id,
        days=seen.days(),
        places=seen.places(),
        unplaced=() if office else _unplaced(week, names),
        goals=goal_figures(figures),
        sessions_placed=len(seen.sessions),
        minutes_placed=int(figures.get("minutes_placed", placed)),
        minutes_owed=int(figures.get("minutes_owed", placed)),
        drive_minutes=sum(item.drive_minutes for item in seen.driven),
        miles=sum((item.miles for item in seen.driven), Decimal(0)),
        broken=names.all_told(figures.get("broken", [])),
        no_longer_fits=names.all_told(figures.get("no_longer_fits", [])),
        notes=names.all_told([*figures.get("groups", []), *figures.get("notes", [])]),
        changes=() if office else names.all_told(week.changes),
        students_shown=not office,
        may_edit=week.teacher_id == viewer.pk or viewer.is_coordinator,
        title=titles_of([week])[week.pk],
        can_undo=week.status == WeekPlan.Status.DRAFT and WeekRevision.objects.filter(week=week).exists(),
    )


def titles_of(weeks: Iterable[WeekPlan]) -> dict[int, str]:
    """What versions are called, told apart from all others of their weeks; by id (one query)."""
    wanted = {(week.teacher_id, week.monday) for week in weeks}
    zones = {week.teacher_id: ZoneInfo(week.district.time_zone) for week in weeks}
    rows = WeekPlan.objects.filter(teacher__in=zones, monday__in={monday for _, monday in wanted})
    found: dict[tuple[int, dt.date], list[VersionRow]] = {key: [] for key in wanted}
    for pk, teacher, monday, number, name, made in rows.values_list(
        "pk", "teacher_id", "monday", "version", "name", "created_at"
    ):
        if (teacher, monday) in found:
            found[teacher, monday].append(VersionRow(pk, number, name, made.astimezone(zones[teacher])))
    return {pk: title for versions in found.values() for pk, title in version_titles(versions).items()}


def week_names(viewer: Person, week: WeekPlan) -> StudentNames:
    """How the students of a week are called for somebody."""
    attending = SessionAttendee.objects.filter(session__week=week).values_list("student_id", flat=True)
    return student_names(viewer, among=attending.distinct())


def _as_held(one: SessionView, marks: WeekMarks) -> SessionView:
    """A session as calendar, log and what happened leave it."""
    changed = marks.changed(one.uid)
    left = changed.end - changed.start if changed.start is not None and changed.end is not None else None
    return replace(
        one,
        off=marks.off_session(one.uid),
        changed=changed.words,
        left=left,
        attendees=tuple(each for each in one.attendees if each.student_id not in changed.without),
        without=(
            *one.without,
            *(f"{each.who} is absent" for each in one.attendees if each.student_id in changed.without),
        ),
    )


def _on[T: SessionView | ItemView](views: Iterable[T], date: dt.date) -> tuple[T, ...]:
    """What is on a date."""
    return tuple(one for one in views if one.date == date)


def _hours(contract: ContractDay | None) -> tuple[int | None, int | None]:
    """When a contract day begins and ends."""
    return (minutes_of(contract.start), minutes_of(contract.end)) if contract is not None else (None, None)


def _substitute(viewer: Person) -> Person | None:
    return viewer if viewer.role == Person.Role.SUBSTITUTE else None


class _Seen:
    """What one viewer sees of one version."""

    def __init__(self, viewer: Person, week: WeekPlan, office: bool, names: StudentNames) -> None:
        self.week = week
        self.office = office
        sessions = PlannedSession.objects.visible_to(viewer).filter(week=week).order_by("date", "start")
        rows = list(sessions.select_related("building", "space", "school_class").distinct())
        people = {} if office else people_of(viewer, rows, names)
        items = DayItem.objects.none() if office else DayItem.objects.visible_to(viewer).filter(week=week)
        substitute = _substitute(viewer)
        self.marks = week_marks(week, substitute)
        parts = [(row.pk, _item(row)) for row in items.select_related("origin", "building")]
        self.items = (
            *(replace(one, off=self.marks.off_item(pk), elsewhere=self.marks.elsewhere(pk)) for pk, one in parts),
            *([] if office else self._straight_items()),
        )
        self._leave_to_the_teacher(substitute)
        used = {row.building_id for row in rows} | self._item_buildings()
        self.buildings = list(Building.objects.visible_to(viewer).filter(pk__in=used).distinct())
        self.calendars = self._calendars()
        usual = {} if office else _usual_times(week, self.calendars)
        self.sessions = tuple(
            replace(_as_held(one, self.marks), usual=_is_usual(one, usual, self.calendars))
            for one in (_session(row, people.get(row.pk, NOBODY), office) for row in rows)
        )
        self._shorten_schools()

    def _leave_to_the_teacher(self, substitute: Person | None) -> None:
        """Of a day of which somebody gives some sessions: only the drives between these, no lunch, no meeting."""
        if substitute is None:
            return
        covers = covers_between([self.week.teacher_id], self.week.monday, self.week.last_date).by(substitute)
        self.items = tuple(
            one
            for one in self.items
            if covers.whole_day(one.date) or (one.kind == "drive" and not one.off and covers.on(one.date))
        )

    def _shorten_schools(self) -> None:
        """Short names of the week's schools, for where there is little room."""
        short = short_school_names({one.pk: one.name for one in self.buildings})
        self.sessions = tuple(replace(one, building_short=short.get(one.building_id, "")) for one in self.sessions)
        self.items = tuple(replace(one, building_short=short.get(one.building_id or 0, "")) for one in self.items)

    def _calendars(self) -> dict[int, BuildingCalendar]:
        years = SchoolYear.objects.filter(
            district=self.week.district, first_day__lte=self.week.last_date, last_day__gte=self.week.monday
        )
        year = years.order_by("first_day").first()
        return load_calendars(self.week.district, self.buildings, year) if year else {}

    def places(self) -> tuple[PlaceView, ...]:
        """The buildings of the week, by name."""
        rows = sorted(self.buildings, key=lambda one: one.name)
        return tuple(PlaceView(one.pk, one.code, one.name) for one in rows)

    def days(self) -> tuple[DayDetail, ...]:
        """Monday to Friday, and a weekend day that is worked."""
        contract = {row.weekday: row for row in ContractDay.objects.filter(teacher=self.week.teacher)}
        dates = [self.week.monday + dt.timedelta(days=n) for n in range(7)]
        busy = {one.date for one in self.sessions} | {one.date for one in self.items}
        return tuple(
            self._day(date, contract.get(date.weekday())) for date in dates if date.weekday() < 5 or date in busy
        )

    @property
    def driven(self) -> list[ItemView]:
        """The items that take place."""
        return [item for item in self.items if not item.off]

    def _item_buildings(self) -> set[int]:
        """Every building of the items."""
        ends = [(item.building_id, item.origin_id) for item in self.items]
        return {pk for pair in ends for pk in pair if pk is not None}

    def _straight_items(self) -> list[ItemView]:
        """Drives past what is left out."""
        return [_straight(date, leg) for date, leg in self.marks.straight()]

    def _day(self, date: dt.date, contract: ContractDay | None) -> DayDetail:
        sessions, items = _on(self.sessions, date), _on(self.items, date)
        entries: list[SessionView | ItemView] = [*sessions, *items]
        entries.sort(key=lambda one: (one.start_minute, one.end_minute))
        buildings = tuple(_building_day(one, date) for one in self.calendars.values())
        works, reason = _works(contract, buildings, bool(entries))
        reason = reason or ("" if self.office else self.marks.reason(date))
        starts, ends = (None, None) if self.office else _hours(contract)
        return DayDetail(
            date=date,
            works=works,
            reason=reason,
            contract_start_minute=starts,
            contract_end_minute=ends,
            buildings=buildings,
            sessions=sessions,
            items=items,
            entries=tuple(entries),
            is_off=not self.office and self.marks.is_off(date),
            stops=() if self.office else self.marks.stops(date),
        )


def _works(contract: ContractDay | None, buildings: Sequence[BuildingDayView], anything: bool) -> tuple[bool, str]:
    if contract is None:
        return False, "No contract hours on this weekday."
    if buildings and not any(one.open for one in buildings) and not anything:
        reasons = dict.fromkeys(one.reason for one in buildings if one.reason)
        return False, "No students: " + ", ".join(reasons) + "."
    return True, ""


def _building_day(calendar: BuildingCalendar, date: dt.date) -> BuildingDayView:
    facts = calendar.facts(date)
    building = calendar.building
    periods = facts.bells.periods if facts.bells else ()
    return BuildingDayView(
        building.code,
        building.name,
        facts.open,
        calendar.bell_name(date),
        facts.cycle_label,
        facts.reason or facts.problem,
        min((period.start for period in periods), default=None),
        max((period.end for period in periods), default=None),
    )


type Usual = Mapping[int, Mapping[str, set[int]]]


def _usual_times(week: WeekPlan, calendars: Mapping[int, BuildingCalendar]) -> Usual:
    """Of each service line: kind of day and minutes in the published weeks that the planner compares with."""
    weeks = weeks_before(week.teacher, week.monday, {})
    found: dict[int, dict[str, set[int]]] = {}
    for one in standing_pattern(weeks, week.monday, calendars, lambda session: map(str, session.lines)):
        key = kind_of(one, lambda building, date: calendars[building].facts(date))
        found.setdefault(int(one.unit), {}).setdefault(key, set()).add(one.at)
    return found


def _is_usual(session: SessionView, usual: Usual, calendars: Mapping[int, BuildingCalendar]) -> bool | None:
    calendar = calendars.get(session.building_id)
    key = pattern_key(session.date, session.cycle_day, by_week=calendar is not None and calendar.by_week)
    known = [usual[one.line_id] for one in session.attendees if one.line_id in usual]
    return any(session.start_minute in times.get(key, ()) for times in known) if known else None


def _session(row: PlannedSession, seen: People, office: bool) -> SessionView:
    attendees = seen.attendees
    class_name = row.school_class.name if row.school_class else ""
    people = " + ".join(one.who for one in attendees)
    plain = class_name or row.get_setting_display()
    whole_class = row.planner_key.startswith("class-") and class_name
    return SessionView(
        uid=str(row.uid),
        date=row.date,
        start=row.start,
        end=row.end,
        start_minute=minutes_of(row.start),
        end_minute=minutes_of(row.end),
        building_id=row.building_id,
        building_code=row.building.code,
        building_name=row.building.name,
        space_id=row.space_id,
        space_name=row.space.name if row.space else "",
        setting=row.setting,
        setting_label=row.get_setting_display(),
        class_name=class_name,
        period=row.period,
        cycle_day=row.cycle_day,
        pinned=row.pinned,
        makes_up=row.makes_up,
        label=plain if office or whole_class else people or plain,
        attendees=attendees,
        without=seen.without,
    )


def _item(row: DayItem) -> ItemView:
    return ItemView(
        kind=row.kind,
        kind_label=row.get_kind_display(),
        date=row.date,
        start=row.start,
        end=row.end,
        start_minute=minutes_of(row.start),
        end_minute=minutes_of(row.end),
        title=row.title,
        origin_id=row.origin_id,
        origin_code=row.origin.code if row.origin else "",
        origin_name=row.origin.name if row.origin else "",
        building_id=row.building_id,
        building_code=row.building.code if row.building else "",
        building_name=row.building.name if row.building else "",
        drive_minutes=row.drive_minutes,
        miles=row.miles,
        source=row.source,
    )


def _straight(date: dt.date, leg: StraightLeg) -> ItemView:
    return ItemView(
        kind=DayItem.Kind.DRIVE.value,
        kind_label=DayItem.Kind.DRIVE.label,
        date=date,
        start=time_of(leg.start),
        end=time_of(leg.end),
        start_minute=leg.start,
        end_minute=leg.end,
        origin_id=leg.origin.pk,
        origin_code=leg.origin.code,
        origin_name=leg.origin.name,
        building_id=leg.building.pk,
        building_code=leg.building.code,
        building_name=leg.building.name,
        drive_minutes=leg.minutes or 0,
        miles=leg.miles or Decimal(0),
        source=leg.source,
        straight=True,
    )


def _unplaced(week: WeekPlan, names: StudentNames) -> tuple[UnplacedView, ...]:
    rows = UnplacedSession.objects.filter(week=week).select_related("service_line__plan__student")
    return tuple(
        UnplacedView(
            id=row.pk,
            line_id=row.service_line_id,
            code=row.service_line.plan.student.code,
            name=names.full.get(row.service_line.plan.student_id, ""),
            statement=row.service_line.statement,
            sessions=row.sessions,
            minutes=row.minutes,
            reasons=names.all_told(row.reasons),
            ask=names.told(row.ask),
        )
        for row in rows.order_by("-minutes", "service_line__plan__student__code", "pk")
    )
