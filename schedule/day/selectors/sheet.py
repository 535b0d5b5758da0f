"""The day sheet: one teacher's day from the week in force, with the calendar, the log and what was driven."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

from accounts.idempotency.shared import shared
from accounts.models import Person
from accounts.selectors import today_of
from caseload.progress.selectors.taking import goals_on_sheet
from schedule.calendar.selectors.covers import Covers, covers_between
from schedule.calendar.selectors.school_days import time_of
from schedule.class_hour.selectors.hours import hours_of, hours_shown
from schedule.day.data import DayBegin, DayLine, DayNotice, DayPerson, DaySheet
from schedule.day.selectors.calendar import (
    SATURDAY,
    days_beside,
    drives_day,
    entries_between,
    is_covered,
    next_teaching_day,
    notices_of,
    stays_away,
)
from schedule.day.selectors.legs import DayDrives, DayLeg, DriveDay
from schedule.log.selectors.sessions import Known, LogSession, day_sessions
from schedule.weeks.data import BuildingDayView, DayDetail, ItemView, SessionView
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.arrivals import LegArrival, day_arrivals
from schedule.weeks.selectors.detail import build_day, day_items
from schedule.weeks.selectors.pages import district_today
from schedule.weeks.selectors.weeks import week_in_force

NOT_COVERED = "You don't cover this teacher on this day."
NO_WEEK = "No week is in force here."
NOTHING = "Nothing is planned on this day."
NO_SESSION = "No session at your school on this day."


def day_sheet(
    viewer: Person, teacher: Person, date: dt.date, now: dt.datetime | None = None, *, whole: bool = False
) -> DaySheet:
    """A teacher's day as the viewer may see it; the caller has chosen a teacher whom the viewer may ask for.

    The number of queries grows neither with the sessions nor with the drives. `whole`: with what only the API says,
    such as the next day with a session even where this one has some (`schedule.weeks.selectors.detail.build_day`).
    """
    covered = is_covered(viewer, teacher, date)
    monday = date - dt.timedelta(days=date.weekday())
    week = week_in_force(viewer, teacher, monday) if covered else None
    today = district_today(viewer, now)
    before, after = days_beside(viewer, teacher, date)
    empty = DaySheet(
        teacher_id=teacher.pk,
        teacher_name=str(teacher),
        date=date,
        is_today=date == today,
        may_tap=date == today and drives_day(viewer, teacher, date) and viewer.has_perm("day.tap"),
        week_id=None,
        version=None,
        reason=_reason(date, NO_WEEK if covered else NOT_COVERED),
        notices=(),
        begin=None,
        lines=(),
        other_drives=(),
        before=before,
        after=after,
        next_day=None,
    )
    if week is None:
        entries = entries_between(teacher.district_id or 0, (), date, date)
        sheet = replace(empty, notices=notices_of(entries, ()))
    else:
        covers = _covers_seen(viewer, teacher, date)
        sheet = _Day(viewer, week, replace(empty, cover=covers.called_on(date)), covers, now, whole=whole).sheet()
    if sheet.sessions and not whole:
        return sheet
    return replace(sheet, next_day=next_teaching_day(viewer, teacher, date))


def day_drives(viewer: Person, teacher: Person, date: dt.date) -> DayDrives:
    """The drives of a day as `day_sheet` has them, to be tapped: without chances, and nothing beside them."""
    monday = date - dt.timedelta(days=date.weekday())
    key = ("week in force", viewer.pk, viewer.mates, today_of(viewer), teacher.pk, monday)
    covered = is_covered(viewer, teacher, date)
    week = shared(key, lambda: week_in_force(viewer, teacher, monday)) if covered else None
    if week is None or viewer.sees_no_students_in_weeks:
        return DayDrives((), ())
    return DriveDay(viewer, week.teacher, date, day_items(viewer, week, date), ()).read(may_tap=True)


def _covers_seen(viewer: Person, teacher: Person, date: dt.date) -> Covers:
    """Who stands in, for whoever may see the teacher's students."""
    return covers_between([teacher.pk], date, date) if viewer.has_perm("caseload.view") else Covers()


def _reason(date: dt.date, otherwise: str) -> str:
    return f"{date:%A}: no school." if date.weekday() >= SATURDAY else otherwise


class _Day:
    """Reads a date of a week in force."""

    def __init__(
        self,
        viewer: Person,
        week: WeekPlan,
        empty: DaySheet,
        covers: Covers,
        now: dt.datetime | None,
        *,
        whole: bool,
    ) -> None:
        self.viewer = viewer
        self.week = week
        self.date = empty.date
        self.empty = replace(empty, week_id=week.pk, version=week.version)
        self.seen = build_day(viewer, week, self.date, whole=whole)
        self.day = self.seen.day
        self.names = {pk: one.name for pk, one in self.seen.places.items()}
        self.entries = entries_between(week.district_id, self._buildings(), self.date, self.date)
        may_log = viewer.has_perm("log.view")
        logs_all = viewer.is_coordinator or week.teacher_id == viewer.pk
        known = Known(
            self.seen.held,
            self.seen.gone,
            self.seen.care,
            self.seen.names.full,
            self.seen.rows if logs_all else None,
        )
        logged = day_sessions(viewer, week.teacher, self.date, now, known) if may_log and self.day else ()
        held = self.day.held if self.day is not None and self.seen.students_shown else ()
        days, calendars = self._building_days(), self.seen.calendars
        hours = hours_of(viewer, week.teacher, self.date, held, days, calendars, self.seen.rows)
        self.hours = {one.uid: one for one in hours_shown(hours)}
        self.logged: Mapping[str, LogSession] = {str(one.uid): one for one in logged}
        self.covers = self._shared(covers)
        self.goals = goals_on_sheet(viewer, self._attendees(), day=self.date)

    def sheet(self) -> DaySheet:
        """The whole of it."""
        if self.day is None or not self.day.entries:
            return replace(self.empty, reason=_reason(self.date, self._empty_day()), notices=self._notices(()))
        drives = self._drives(self.day)
        lines = tuple(
            sorted(
                [
                    *map(self._session, self.day.sessions),
                    *self._items(self.day),
                    *map(_drive, drives.legs),
                ],
                key=lambda one: (one.start_minute, one.end_minute),
            )
        )
        return replace(
            self.empty,
            reason=self.day.reason if self.day.is_off else "",
            notices=self._notices(lines),
            begin=None if self._is_somebody_elses() else self._begin(lines),
            lines=lines,
            other_drives=drives.others,
            phones={pk: one.office_phone for pk, one in self.seen.places.items() if one.office_phone},
        )

    def _shared(self, covers: Covers) -> Covers:
        """Who else gives which session, on a day that the viewer shares with them."""
        if not self.empty.cover:
            return Covers()
        return Covers() if covers.whole_day(self.date) or covers.by(self.viewer).every else covers

    def _buildings(self) -> set[int]:
        """Those that the day goes to; all of the week's on a day without anything."""
        if self.day is None or not self.day.entries:
            return set(self.names)
        ids = {one.building_id for one in self.day.entries}
        ids |= {one.origin_id for one in self.day.items}
        return {one for one in ids if one is not None}

    def _empty_day(self) -> str:
        if not self.seen.students_shown:
            return NO_SESSION
        return self.day.reason if self.day is not None and self.day.reason else NOTHING

    # ---- the calendar --------------------------------------------------------------------------------

    def _notices(self, lines: Sequence[DayLine]) -> tuple[DayNotice, ...]:
        buildings = [one for one in self._building_days() if one.building_name in self._names_of_day()]
        return tuple(
            replace(one, to_mark=self._to_mark(lines, one)) if one.closes else one
            for one in notices_of(self.entries, buildings)
        )

    def _names_of_day(self) -> set[str]:
        return {self.names[pk] for pk in self._buildings() if pk in self.names}

    def _building_days(self) -> Sequence[BuildingDayView]:
        return self.day.buildings if self.day is not None else ()

    def _to_mark(self, lines: Sequence[DayLine], notice: DayNotice) -> int:
        return sum(
            line.log == "waiting" and bool(line.off) and notice.building_id in {None, line.building_id}
            for line in lines
        )

    # ---- lines ---------------------------------------------------------------------------------------

    def _session(self, one: SessionView) -> DayLine:
        logged = self.logged.get(one.uid)
        return replace(
            _line(one, "Make-up" if one.makes_up else "Session", one.class_name or one.setting_label),
            warning="" if one.off else one.changed[:1].upper() + one.changed[1:],
            session=one,
            people=_people(one, logged),
            log=_log_state(logged),
            hour=self.hours.get(one.uid),
            goals=None if one.off else self.goals.get(one.uid),
            cover=self.covers.who_comes(self.date, one.uid),
        )

    def _attendees(self) -> dict[str, dict[int, str]]:
        """By session the names of those whom the viewer may see."""
        sessions = self.day.sessions if self.day is not None else ()
        return {one.uid: {each.student_id: each.name for each in one.attendees if each.name} for one in sessions}

    def _items(self, day: DayDetail) -> list[DayLine]:
        """Lunch, preparation and meetings; drives have lines of their own. None is held where nobody drives to."""
        return [_item(one) for one in day.items if one.kind != "drive" or not (one.origin_id and one.building_id)]

    def _drives(self, day: DayDetail) -> DayDrives:
        if not self.seen.students_shown:
            return DayDrives((), ())
        found = DriveDay(self.viewer, self.week.teacher, self.date, day.items, self._arrivals(), self.seen.places)
        return found.read(may_tap=self.empty.may_tap)

    def _arrivals(self) -> Sequence[LegArrival]:
        """Chances of arriving on time, for those who see them on the week's page too."""
        if self.week.teacher_id != self.viewer.pk and not self.viewer.is_coordinator:
            return []
        return day_arrivals(self.viewer, self.week, self.seen.rows, self.seen.item_rows, self.seen.places)

    def _is_somebody_elses(self) -> bool:
        """Whether somebody else than the viewer stands in for the whole day."""
        stands_in = self.viewer.role == Person.Role.SUBSTITUTE
        return bool(self.empty.cover) and not stands_in and stays_away(self.week.teacher, self.date)

    def _first(self, lines: Sequence[DayLine]) -> DayLine | None:
        """With what the viewer's day begins."""
        stops, shared = self.day.stops if self.day is not None else (), bool(self.covers.every)
        mine = (line for line in lines if _is_own(line, shared=shared))
        return next((line for line in mine if _begins_at(line) in stops), None)

    def _begin(self, lines: Sequence[DayLine]) -> DayBegin | None:
        """Where the car goes first: from home, or wherever the day begins. Nowhere on a day that is off.

        A day for which somebody stands in begins for them, not for the teacher who is away.
        """
        first = self._first(lines)
        at = _begins_at(first) if first is not None and self.seen.students_shown else None
        building = self.seen.places.get(at) if at is not None else None
        if first is None or building is None:
            return None
        signing_in = 0 if first.leg is not None else building.arrive_minutes
        return DayBegin(building.pk, building.name, time_of(max(0, first.start_minute - signing_in)))


def _people(session: SessionView, log: LogSession | None) -> tuple[DayPerson, ...]:
    logged = {one.line_id: one.entry for one in log.attendees if one.is_logged} if log is not None else {}
    return tuple(
        DayPerson(
            student_id=one.student_id,
            line_id=one.line_id,
            code=one.code,
            name=one.name,
            provisional=one.provisional,
            entry_id=entry.id if (entry := logged.get(one.line_id)) is not None else None,
            delivered=entry.delivered if entry is not None else None,
            planned=entry.planned_minutes if entry is not None else None,
            care=one.care,
        )
        for one in session.attendees
    )


def _log_state(log: LogSession | None) -> str:
    if log is None or not log.attendees or (log.off and not log.is_logged):
        return ""
    if log.is_logged:
        return "logged"
    return ("" if log.falls_out else "to_come") if log.is_future else "waiting"


def _is_own(line: DayLine, *, shared: bool) -> bool:
    """Whether the viewer's day can begin with it: on a shared day with a session of the own, and no drive."""
    return not line.off and not line.cover and not (shared and line.leg)


def _begins_at(line: DayLine) -> int | None:
    return line.leg.origin_id if line.leg is not None else line.building_id


def _line(one: SessionView | ItemView, label: str, title: str) -> DayLine:
    """What a session and an item of the week have in common on the sheet."""
    return DayLine(
        kind=one.kind,
        kind_label=label,
        title=title,
        start=one.start,
        end=one.end,
        start_minute=one.start_minute,
        end_minute=one.end_minute,
        building_id=one.building_id,
        building_name=one.building_name,
        off=one.off,
    )


def _item(one: ItemView) -> DayLine:
    return replace(_line(one, one.kind_label, one.title or one.kind_label), warning=one.elsewhere)


def _drive(one: DayLeg) -> DayLine:
    view = one.view
    return DayLine(
        kind="drive",
        kind_label="Drive",
        title=f"{view.origin_name} to {view.destination_name}",
        start=time_of(one.start_minute),
        end=time_of(one.end_minute),
        start_minute=one.start_minute,
        end_minute=one.end_minute,
        building_id=view.destination_id,
        building_name=view.destination_name,
        off=one.off,
        leg=view,
    )
