"""What one viewer sees of a version of a week: its sessions, what fills the days between them, and its dates."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

from django.db.models import QuerySet

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import today_of
from caseload.plans.naming import StudentNames
from schedule.calendar.models import ContractDay
from schedule.calendar.selectors.covers import covers_between
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, minutes_of, year_among
from schedule.weeks.data import BuildingDayView, DayDetail, ItemView, PlaceView, SessionView
from schedule.weeks.models import DayItem, PlannedSession, WeekPlan
from schedule.weeks.models.weeks import all_seen_by
from schedule.weeks.selectors.attending import NOBODY, People, people_of
from schedule.weeks.selectors.leaving import Gone, gone_in
from schedule.weeks.selectors.seen.marks import KnownRows, WeekMarks, week_marks
from schedule.weeks.selectors.seen.rows import building_day, item_view, session_view, straight_view
from schedule.weeks.selectors.seen.usual import is_usual, usual_times
from schedule.weeks.selectors.told.joint import JointSeen, joint_seen
from schedule.weeks.selectors.told.lunches import LunchTitles, lunch_titles
from travel.places.models import Building
from travel.places.naming import short_school_names

CONTRACT = SqlOnce(lambda teacher: ContractDay.objects.filter(teacher=teacher).order_by("weekday"))

BESIDE = ("building", "students_from", "space", "school_class")
SESSIONS = SqlOnce(lambda week: _of_sessions().filter(week=week))
SESSIONS_ON = SqlOnce(lambda week, date: _of_sessions().filter(week=week, date=date))
ITEMS = SqlOnce(lambda week: _of_items().filter(week=week))
ITEMS_ON = SqlOnce(lambda week, date: _of_items().filter(week=week, date=date))


def _of_sessions() -> QuerySet[PlannedSession]:
    return PlannedSession.objects.order_by("date", "start").select_related(*BESIDE)


def _of_items() -> QuerySet[DayItem]:
    return DayItem.objects.select_related("origin", "building")


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


class SeenWeek:
    """What one viewer sees of one version, or of one `date` of it.

    A date is read alone. `whole`: with what can't be said of a date alone: whether each session stands when earlier
    weeks held it, for which twelve weeks are read, and names of schools that are short among those of the week.
    """

    def __init__(
        self,
        viewer: Person,
        week: WeekPlan,
        names: StudentNames,
        date: dt.date | None = None,
        *,
        whole: bool = True,
    ) -> None:
        self.viewer, self.week, self.names = viewer, week, names
        self.office = viewer.sees_no_students_in_weeks
        self.whole = whole
        self.substitute = viewer if viewer.role == Person.Role.SUBSTITUTE else None
        # What a substitute sees of a date hangs on the covers of all of them.
        self.only = date if self.substitute is None else None
        self.sees_all = all_seen_by(viewer)

    @cached_property
    def marks(self) -> WeekMarks:
        """What calendar, log and what happened change."""
        known = KnownRows([*self.rows, *self.item_rows], self.gone) if self.sees_all else None
        return week_marks(self.week, self.substitute, self.only, known)

    @cached_property
    def gone(self) -> Gone:
        """Who isn't in these sessions anymore."""
        return gone_in(self.rows)

    @cached_property
    def joint(self) -> JointSeen:
        """Which of its sessions another teacher gives as well, and which no longer are at the same time."""
        return JointSeen() if self.office else joint_seen(self.week)

    # ---- rows ------------------------------------------------------------------------------------------------

    def _sessions(self) -> QuerySet[PlannedSession]:
        return PlannedSession.objects.visible_to(self.viewer).filter(week=self.week)

    def _items(self) -> QuerySet[DayItem]:
        rows = DayItem.objects.none() if self.office else DayItem.objects.visible_to(self.viewer)
        return rows.filter(week=self.week)

    @cached_property
    def rows(self) -> list[PlannedSession]:
        """The sessions."""
        return list(shared(self._key("sessions"), self._rows_read))

    def _rows_read(self) -> tuple[PlannedSession, ...]:
        found = tuple(self._known(SESSIONS, SESSIONS_ON) if self.sees_all else self._sessions_seen())
        for row in found:
            row.week, row.building.district = self.week, self.week.district
        return found

    def _known[Row](self, every: SqlOnce[Row], of_date: SqlOnce[Row]) -> list[Row]:
        """All rows of the version, or of the date: for whoever sees all of what they may see of it."""
        return every(self.week.pk) if self.only is None else of_date(self.week.pk, self.only)

    def _sessions_seen(self) -> QuerySet[PlannedSession]:
        rows = self._sessions() if self.only is None else self._sessions().filter(date=self.only)
        return rows.order_by("date", "start").select_related(*BESIDE).distinct()

    @cached_property
    def people(self) -> dict[int, People]:
        """Who is in each session; nobody for an office."""
        return {} if self.office else people_of(self.viewer, self.rows, self.names, self.gone)

    @cached_property
    def item_rows(self) -> list[DayItem]:
        """What fills the days between the sessions."""
        return list(shared(self._key("items"), self._items_read))

    def _items_read(self) -> tuple[DayItem, ...]:
        if self.sees_all:
            return tuple(self._known(ITEMS, ITEMS_ON))
        rows = self._items() if self.only is None else self._items().filter(date=self.only)
        return tuple(rows.select_related("origin", "building"))

    def _key(self, what: str) -> tuple[object, ...]:
        """What rows hang on: who sees them, of which date, and on which day they are looked at."""
        return "seen", what, self.viewer.pk, self.viewer.mates, today_of(self.viewer), self.week.pk, self.only

    @cached_property
    def fillings(self) -> tuple[ItemView, ...]:
        """The same as plain values, without the schools' short names."""
        parts = [(row.pk, item_view(row)) for row in self.item_rows]
        straight = [] if self.office else [straight_view(date, leg) for date, leg in self.marks.straight()]
        held = (
            replace(self._with_whom(one), off=self.marks.off_item(pk), elsewhere=self.marks.elsewhere(pk))
            for pk, one in parts
        )
        return self._left_to_the_teacher((*held, *straight))

    @cached_property
    def lunches(self) -> LunchTitles:
        """With whom lunch is had; for the teacher and who sees the teacher's days, not for who stands in."""
        has_lunch = any(one.kind == DayItem.Kind.LUNCH for one in self.item_rows)
        return lunch_titles(self.week) if has_lunch and not self.office and self.substitute is None else {}

    def _with_whom(self, item: ItemView) -> ItemView:
        is_lunch = item.kind == DayItem.Kind.LUNCH and item.date in self.lunches
        return replace(item, title=self.lunches[item.date]) if is_lunch else item

    def _left_to_the_teacher(self, items: tuple[ItemView, ...]) -> tuple[ItemView, ...]:
        """Of a day of which somebody gives some sessions: only the drives between these, no lunch, no meeting."""
        if self.substitute is None:
            return items
        covers = covers_between([self.week.teacher_id], self.week.monday, self.week.last_date).by(self.substitute)
        return tuple(
            one
            for one in items
            if covers.whole_day(one.date) or (one.kind == "drive" and not one.off and covers.on(one.date))
        )

    def _here(self) -> set[int]:
        """Every building of what was read."""
        ends = [(item.building_id, item.origin_id) for item in self.fillings]
        return {row.building_id for row in self.rows} | {pk for pair in ends for pk in pair if pk is not None}

    @cached_property
    def buildings(self) -> list[Building]:
        """Those of the week that the viewer may see; of a date alone that goes anywhere, those it goes to."""
        used = self._here()
        if self.only is not None and (self.whole or not used):
            used |= set(self._sessions().order_by().values_list("building_id", flat=True).distinct())
            ends = self._items().order_by().values_list("building_id", "origin_id").distinct()
            used |= {pk for pair in ends for pk in pair if pk is not None}
        found = list(Building.objects.visible_to(self.viewer).filter(pk__in=used).distinct())
        for building in found:
            building.district = self.week.district
        return found

    @cached_property
    def short_names(self) -> Mapping[int, str]:
        """Of the week's schools, for where there is little room."""
        return short_school_names({one.pk: one.name for one in self.buildings})

    @cached_property
    def sessions(self) -> tuple[SessionView, ...]:
        """Each as calendar, log and what happened leave it."""
        times = usual_times(self.week, self.calendars) if self.whole and not self.office else {}
        views = (session_view(row, self.people.get(row.pk, NOBODY), self.office) for row in self.rows)
        return tuple(
            replace(
                _as_held(one, self.marks),
                usual=is_usual(one, times, self.calendars),
                building_short=self.short_names.get(one.building_id, one.building_name),
                students_from_short=self.short_names.get(one.students_from_id or 0, one.students_from),
                together=self.joint.beside.get(one.uid, ()),
                beside=self.joint.otherwise.get(one.uid, ()),
            )
            for one in views
        )

    @cached_property
    def items(self) -> tuple[ItemView, ...]:
        """What fills the days between them."""
        short = self.short_names
        return tuple(replace(one, building_short=short.get(one.building_id or 0, "")) for one in self.fillings)

    @cached_property
    def calendars(self) -> dict[int, BuildingCalendar]:
        """Of the same schools."""
        year = year_among(self.week.district, self.week.monday, self.week.last_date)
        return load_calendars(self.week.district, self.buildings, year) if year else {}

    # ---- what is made of them --------------------------------------------------------------------------------

    def places(self) -> tuple[PlaceView, ...]:
        """The buildings of the week, by name."""
        rows = sorted(self.buildings, key=lambda one: one.name)
        return tuple(PlaceView(one.pk, one.code, one.name) for one in rows)

    def days(self) -> tuple[DayDetail, ...]:
        """Monday to Friday, and a weekend day that is worked."""
        contract = {row.weekday: row for row in CONTRACT(self.week.teacher_id)}
        dates = [self.week.monday + dt.timedelta(days=n) for n in range(7)] if self.only is None else [self.only]
        busy = {one.date for one in self.sessions} | {one.date for one in self.items}
        return tuple(
            self._day(date, contract.get(date.weekday())) for date in dates if date.weekday() < 5 or date in busy
        )

    @property
    def driven(self) -> list[ItemView]:
        """The items that take place."""
        return [item for item in self.items if not item.off]

    def _day(self, date: dt.date, contract: ContractDay | None) -> DayDetail:
        sessions, items = _on(self.sessions, date), _on(self.items, date)
        entries: list[SessionView | ItemView] = [*sessions, *items]
        entries.sort(key=lambda one: (one.start_minute, one.end_minute))
        buildings = tuple(building_day(one, date) for one in self.calendars.values())
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
