"""A teacher's dates as they are told, from what every page shows of them."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from accounts.models import Person
from schedule.calendar.selectors.covers import covers_on
from schedule.calendar.words import listed
from schedule.notices.day_changes import KnownDay, KnownSession
from schedule.weeks.data import SessionView, WeekDetail
from schedule.weeks.models import PlannedSession
from schedule.weeks.selectors.detail import build_detail
from schedule.weeks.selectors.weeks import week_in_force


@dataclass(frozen=True, slots=True)
class SeenDate:
    """A date as it is, and which of its sessions aren't at their usual times."""

    day: KnownDay
    unusual: tuple[KnownSession, ...]


def known_days(teacher: Person, dates: Iterable[dt.date]) -> dict[dt.date, SeenDate]:
    """Each date as the week in force, the calendar and what happened leave it; without a week it is empty."""
    wanted = sorted(set(dates))
    weeks = {monday: _week(teacher, monday) for monday in {_monday(date) for date in wanted}}
    covers = covers_on(teacher, wanted)
    return {date: _seen(weeks[_monday(date)], date, covers.get(date, "")) for date in wanted}


def _monday(date: dt.date) -> dt.date:
    return date - dt.timedelta(days=date.weekday())


def _seen(detail: WeekDetail | None, date: dt.date, cover: str) -> SeenDate:
    days = detail.days if detail is not None else ()
    sessions = [one for day in days if day.date == date for one in day.sessions]
    classes = _classes(sessions)
    known = {one.uid: _known(one, classes.get(one.uid)) for one in sessions}
    unusual = tuple(known[one.uid] for one in sessions if one.usual is False and not one.off)
    return SeenDate(KnownDay(tuple(known.values()), cover), unusual)


def _week(teacher: Person, monday: dt.date) -> WeekDetail | None:
    week = week_in_force(teacher, teacher, monday)
    return build_detail(teacher, week) if week is not None else None


def _classes(sessions: Iterable[SessionView]) -> dict[str, int]:
    rows = PlannedSession.objects.filter(uid__in=[one.uid for one in sessions]).exclude(school_class=None)
    return {str(uid): pk for uid, pk in rows.values_list("uid", "school_class_id") if pk is not None}


def _known(one: SessionView, class_id: int | None) -> KnownSession:
    return KnownSession(
        uid=one.uid,
        start=one.start_minute,
        end=one.end_minute,
        building=one.building_id,
        school=one.building_name,
        space=one.space_name,
        class_id=class_id,
        class_name=one.class_name,
        off=one.off,
        otherwise=one.changed,
        students_from=one.students_from_id,
        beside=listed(one.beside) if one.beside else "",
    )
