"""The class hours of a day: each session with its routine, fitted to the minutes that the class really has."""

import datetime as dt
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from accounts.models import Person
from caseload.care.models import CautionTag
from caseload.care.selectors import cautions_met
from caseload.care.written import ASK_FIRST, LEAVES_THE_ROOM
from schedule.calendar.bells import Period
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, school_year_of, time_of
from schedule.calendar.words import listed
from schedule.class_hour.advice import AdvisedClass, AdvisedPart, advice_on
from schedule.class_hour.data import GoalServed, HourView, PartView, RoutineOption
from schedule.class_hour.fitting import Fit, PartTime, fit_parts
from schedule.class_hour.models import Routine, RoutineChoice, RoutinePart
from schedule.class_hour.selectors.routines import parts_read, routines_for, routines_listed, timed_parts
from schedule.equipment.models import SpaceCautions
from schedule.weeks.data import BuildingDayView, SessionView
from schedule.weeks.day_truth import SESSION, Part
from schedule.weeks.models import PlannedSession, WeekPlan
from schedule.weeks.selectors.day_shapes import sessions_as_held
from schedule.weeks.selectors.detail import build_day, build_detail
from schedule.weeks.selectors.weeks import week_in_force
from travel.places.models import Building

type _Ends = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class Hour:
    """A session with the routine that holds for it, before anything is drawn of it."""

    session: SessionView
    start: int
    end: int
    routine: Routine | None
    chosen: bool

    @property
    def parts(self) -> dict[int, RoutinePart]:
        """The routine's, by id in their order."""
        return {part.pk: part for part in self.routine.parts.all()} if self.routine is not None else {}

    @property
    def fit(self) -> Fit:
        """Its parts in the class's minutes."""
        parts = timed_parts(self.routine) if self.routine is not None else []
        return fit_parts(parts, self.start, self.end)


def hours_of_day(viewer: Person, teacher: Person, date: dt.date) -> tuple[Hour, ...]:
    """The sessions that take place on a date in a teacher's week in force, in order, as the viewer may see it."""
    week = week_in_force(viewer, teacher, date - dt.timedelta(days=date.weekday()))
    seen = build_day(viewer, week, date) if week is not None else None
    if seen is None or seen.day is None or not seen.students_shown:
        return ()
    return hours_of(viewer, teacher, date, seen.day.held, seen.day.buildings, seen.calendars, seen.rows)


def hours_of_week(viewer: Person, week: WeekPlan) -> dict[dt.date, tuple[Hour, ...]]:
    """The same for each day of a version of a week, a draft among them."""
    detail = build_detail(viewer, week)
    if not detail.students_shown:
        return {}
    return {day.date: hours_of(viewer, week.teacher, day.date, day.held, day.buildings) for day in detail.days}


def hours_of(
    viewer: Person,
    teacher: Person,
    date: dt.date,
    sessions: Sequence[SessionView],
    buildings: Sequence[BuildingDayView],
    calendars: Mapping[int, BuildingCalendar] | None = None,
    rows: Iterable[PlannedSession] | None = None,
) -> tuple[Hour, ...]:
    """The same for whoever has read the day already. The number of queries doesn't grow with the sessions.

    `calendars`: those of the sessions' schools, `rows`: the sessions themselves, where they were read already.
    """
    if not sessions or not viewer.has_perm("caseload.view"):
        return ()
    choice = _Choosing(viewer, teacher, sessions, rows)
    chosen = [(one, choice.of(one)) for one in sessions]
    parts_read({routine for _, (routine, _) in chosen if routine is not None})
    # A session without a routine needs no clock.
    real = _RealMinutes(
        teacher, date, [one for one, (routine, _) in chosen if routine is not None], buildings, calendars
    )
    return tuple(Hour(one, *real.of(one), *routine) for one, routine in chosen)


class _Choosing:
    """Which routine holds for a session: the one chosen for it, its group's, or its class's."""

    def __init__(
        self,
        viewer: Person,
        teacher: Person,
        sessions: Sequence[SessionView],
        rows: Iterable[PlannedSession] | None,
    ) -> None:
        uids = [one.uid for one in sessions]
        self.by_id = {one.pk: one for one in routines_listed(viewer)}
        usual = _usual(teacher, self.by_id.values())
        self.by_class = {one.school_class_id: one for one in usual if one.school_class_id is not None}
        self.by_group = {students: one for one in usual if (students := _group(one))}
        # Without any routine there is nothing to choose.
        self.classes = _classes(teacher, uids, rows) if self.by_class else {}
        self.chosen = _chosen(teacher, uids) if self.by_id else {}

    def of(self, session: SessionView) -> tuple[Routine | None, bool]:
        """The routine, and whether it was chosen for this session."""
        chosen = self.chosen.get(session.uid, 0)
        if chosen is None or chosen in self.by_id:
            return self.by_id.get(chosen or 0), True
        group = self.by_group.get(frozenset(one.student_id for one in session.attendees))
        return group or self.by_class.get(self.classes.get(session.uid, 0)), False


def _usual(teacher: Person, routines: Iterable[Routine]) -> list[Routine]:
    """A teacher's own without the variants: those are chosen for a session."""
    return [one for one in routines if one.teacher_id == teacher.pk and one.variant_of_id is None]


def _classes(teacher: Person, uids: Sequence[str], rows: Iterable[PlannedSession] | None) -> dict[str, int]:
    """Classes by session."""
    if rows is None:
        read = PlannedSession.objects.filter(uid__in=uids, week__teacher=teacher)
        pairs: Iterable[tuple[uuid.UUID, int | None]] = read.values_list("uid", "school_class_id")
    else:
        pairs = ((one.uid, one.school_class_id) for one in rows)
    return {str(uid): pk for uid, pk in pairs if pk is not None}


def _chosen(teacher: Person, uids: Sequence[str]) -> dict[str, int | None]:
    """Routines that were chosen, by session; None where it was none."""
    rows = RoutineChoice.objects.filter(session_uid__in=uids, teacher=teacher)
    return {str(one.session_uid): one.routine_id for one in rows}


def _group(routine: Routine) -> frozenset[int]:
    return frozenset(one.pk for one in routine.students.all())


class _RealMinutes:
    """When a class is really there: its session, cut to the school's hours and to its own period on that day.

    Of a session that is held in part, as when its teacher is late, what is left of it.
    """

    def __init__(
        self,
        teacher: Person,
        date: dt.date,
        sessions: Sequence[SessionView],
        buildings: Sequence[BuildingDayView],
        calendars: Mapping[int, BuildingCalendar] | None,
    ) -> None:
        self.hours = {one.building_code: one for one in buildings}
        self.left = _times_left(teacher, date, sessions)
        named = {one.building_id for one in sessions if one.period}
        if calendars is None or named - set(calendars):
            calendars = _calendars(teacher, date, named)
        self.periods = {
            (pk, period.name.casefold()): (period.start, period.end)
            for pk in named & set(calendars)
            for period in _periods(calendars[pk], date)
        }

    def of(self, session: SessionView) -> tuple[int, int]:
        """Its first minute and its end."""
        start, end = session.start_minute, session.end_minute
        day = self.hours.get(session.building_code)
        spans = [self.left[session.uid]] if session.uid in self.left else []
        spans += [(day.opens_minute, day.closes_minute)] if day is not None else []
        spans.append(self.periods.get((session.building_id, session.period.casefold()), (None, None)))
        for first, last in spans:
            if first is not None and last is not None and first < end and start < last:
                start, end = max(start, first), min(end, last)
        return start, end


def _periods(calendar: BuildingCalendar, date: dt.date) -> Iterable[Period]:
    bells = calendar.facts(date).bells
    return bells.periods if bells is not None else ()


def _calendars(teacher: Person, date: dt.date, buildings: Iterable[int]) -> Mapping[int, BuildingCalendar]:
    rows = list(Building.objects.filter(pk__in=buildings))
    if teacher.district is None or not rows:
        return {}
    return load_calendars(teacher.district, rows, school_year_of(teacher.district, date, date))


def _times_left(teacher: Person, date: dt.date, sessions: Sequence[SessionView]) -> dict[str, _Ends]:
    """From when to when sessions are held that are held in part."""
    short = [one for one in sessions if one.left is not None]
    parts = [
        Part(
            SESSION,
            one.start_minute,
            one.end_minute,
            one.building_id,
            key=one.uid,
            students_from=one.students_from_id,
        )
        for one in short
    ]
    held = sessions_as_held(teacher, {date: parts}) if parts else {}
    return {str(uid): (one.short.start, one.short.end) for (uid, _), one in held.items() if one.short is not None}


# ---- what is shown -----------------------------------------------------------------------------------------


def hours_shown(hours: Sequence[Hour]) -> tuple[HourView, ...]:
    """Hours of one day as pages and the API show them: the cautions that they meet cost one query."""
    met = _Met(hours)
    return tuple(_hour_view(one, met) for one in hours)


class _Met:
    """What of the day's activities meets a caution of whom. Asked about: students whom the viewer may see."""

    def __init__(self, hours: Sequence[Hour]) -> None:
        self.places = _space_tags(hours)
        here = [tag for there in self.places.values() for tag in there]
        tags = {tag.pk for tag in (*here, *_part_tags(hours))}
        self.names = {pk: who for hour in hours for pk, who in _told_of(hour)}
        self.met = cautions_met(self.names, tags, day=hours[0].session.date) if tags else ()

    def of_part(self, hour: Hour, part: RoutinePart) -> tuple[str, ...]:
        """What there is to ask before a part, and whom, in sentences."""
        return self._asked(hour, _tags(part))

    def of_place(self, hour: Hour) -> tuple[str, ...]:
        """The same before going into the session's space."""
        return self._asked(hour, self.places.get(hour.session.space_id or 0, ()))

    def _asked(self, hour: Hour, there: Iterable[CautionTag]) -> tuple[str, ...]:
        among = {one.student_id for one in hour.session.attendees}
        tags = {tag.name for tag in there}
        return tuple(
            f"{listed(both).capitalize()}, {self.names[one.student]}: {one.whom} decides."
            for one in self.met
            if one.student in among and (both := [tag for tag in one.tags if tag in tags])
        )


def _told_of(hour: Hour) -> Iterator[tuple[int, str]]:
    """Students, by id and name, about whom the page may say what is written."""
    return ((one.student_id, one.who) for one in hour.session.attendees if one.care is not None and one.care.told)


def _space_tags(hours: Iterable[Hour]) -> dict[int, list[CautionTag]]:
    """By space what a caution may be about there."""
    spaces = {hour.session.space_id for hour in hours} - {None}
    rows = SpaceCautions.objects.filter(space__in=spaces).prefetch_related("caution_tags")
    return {row.space_id: list(row.caution_tags.all()) for row in rows}


def _part_tags(hours: Iterable[Hour]) -> list[CautionTag]:
    return [tag for hour in hours for part in hour.parts.values() for tag in _tags(part)]


def _tags(part: RoutinePart) -> Iterable[CautionTag]:
    return part.activity.caution_tags.all() if part.activity is not None else ()


def _hour_view(hour: Hour, met: _Met) -> HourView:
    session, routine, fit = hour.session, hour.routine, hour.fit
    rows = hour.parts
    parts = tuple(
        _part(rows[time.key], time, met.of_part(hour, rows[time.key]), _served(hour, rows[time.key]))
        for time in fit.times
    )
    place_ask = met.of_place(hour)
    return HourView(
        uid=session.uid,
        date=session.date,
        title=session.class_name or session.label or session.setting_label,
        building_name=session.building_name,
        space_name=session.space_name,
        start=time_of(hour.start),
        end=time_of(hour.end),
        minutes=hour.end - hour.start,
        planned_minutes=session.minutes,
        routine_id=routine.pk if routine is not None else None,
        routine_title=str(routine or ""),
        chosen=hour.chosen,
        parts=parts,
        out=tuple(str(rows[key]) for key in fit.out),
        left_over=fit.left_over if rows else 0,
        over=fit.over,
        students_from=session.students_from,
        advice=_advice(hour, rows, fit),
        asked=_asked_once(hour, place_ask, parts),
        place_ask=place_ask,
    )


def _asked_once(hour: Hour, place_ask: Sequence[str], parts: Sequence[PartView]) -> str:
    """The sentence for the page: it stands once, however many ask for it."""
    return ASK_FIRST if place_ask or any(one.ask for one in parts) else hour.session.ask_first


def _served(hour: Hour, part: RoutinePart) -> tuple[GoalServed, ...]:
    """The part's goals that hold on that day, of those in the session whom the viewer may see."""
    who = dict(_told_of(hour))
    return tuple(
        GoalServed(one.pk, one.student_id, who[one.student_id], one.text)
        for one in part.goals.all()
        if one.student_id in who and one.start <= hour.session.date <= one.last_day
    )


def _part(row: RoutinePart, time: PartTime, ask: tuple[str, ...], goals: tuple[GoalServed, ...]) -> PartView:
    return PartView(
        part_id=row.pk,
        title=str(row),
        kind=row.kind,
        kind_label=row.get_kind_display(),
        what=row.what or (row.activity.about if row.activity is not None else ""),
        cue=row.cue,
        start=time_of(time.start),
        end=time_of(time.end),
        minutes=time.minutes,
        usual=time.usual,
        least=row.least_minutes,
        when_short=row.when_short,
        where=row.where,
        leads=row.leads,
        aide_notes=row.aide_notes,
        set_up=row.set_up,
        set_up_by=row.set_up_by,
        equipment=tuple(f"{need.count} {need.equipment.name}" for need in row.needs.all()),
        ask=ask,
        goals=goals,
    )


def _advice(hour: Hour, rows: Mapping[int, RoutinePart], fit: Fit) -> tuple[str, ...]:
    if hour.routine is None or not fit.times:
        return ()
    last = fit.times[-1]
    tags = {
        tag for who in hour.session.attendees if who.care for one in who.care.cautions_listed for tag in one.tags
    }
    of = AdvisedClass(
        attention=hour.routine.attention_minutes,
        ends_shorter=last.usual - last.minutes,
        ending_fell_out=list(rows)[-1] in fit.out,
        leaves_the_room=LEAVES_THE_ROOM in {tag.casefold() for tag in tags},
    )
    return advice_on([_advised(rows[time.key], time) for time in fit.times], of)


def _advised(row: RoutinePart, time: PartTime) -> AdvisedPart:
    return AdvisedPart(
        title=str(row),
        minutes=time.minutes,
        is_loud=row.activity is not None and row.activity.is_loud,
        is_known=row.is_known,
        is_far_apart=row.is_far_apart,
    )


def hour_found(viewer: Person, teacher: Person, date: dt.date, uid: uuid.UUID) -> Hour | None:
    """One hour of a date, if it takes place and the viewer sees it."""
    return next((one for one in hours_of_day(viewer, teacher, date) if one.session.uid == str(uid)), None)


def stations_part_of(viewer: Person, teacher: Person, date: dt.date, uid: uuid.UUID) -> tuple[int, int] | None:
    """When a session's routine comes to its first stations, in minutes after midnight, and for how many minutes."""
    hour = hour_found(viewer, teacher, date, uid)
    parts = hour.parts if hour is not None else {}
    times = [one for one in hour.fit.times if parts[one.key].kind == RoutinePart.Kind.STATIONS] if hour else []
    return (times[0].start, times[0].end - times[0].start) if times else None


def options_for(viewer: Person, teacher: Person) -> list[RoutineOption]:
    """What can be chosen for a session: the teacher's own by name, then the shelf's."""
    rows: Iterable[Routine] = sorted(routines_for(viewer), key=lambda one: (one.teacher_id != teacher.pk, str(one)))
    return [
        RoutineOption(one.pk, str(one) if one.teacher_id == teacher.pk else f"{one} (shelf)")
        for one in rows
        if one.teacher_id == teacher.pk or one.on_shelf
    ]
