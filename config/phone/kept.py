"""Which pages a phone keeps for a day without signal: today's and those of the next days with sessions."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse

from accounts.models import Person
from schedule.calendar.happened import HappeningKind
from schedule.day.data import DayLine, DaySheet
from schedule.day.selectors.calendar import next_teaching_day
from schedule.day.selectors.sheet import day_sheet
from schedule.stations.selectors.showing import rotations_shown
from schedule.weeks.pages.context import query
from schedule.weeks.selectors.pages import district_today, teacher_for

DAYS_AHEAD = 5


@dataclass(frozen=True, slots=True)
class KeptDay:
    """A date with the addresses of its pages, the day sheet first."""

    date: dt.date
    addresses: tuple[str, ...]


def kept_days(viewer: Person, *, encrypted: bool) -> tuple[KeptDay, ...]:
    """Today and the next five days with sessions of whose day the viewer drives; nothing for anybody else.

    `encrypted`: the phone can't be read without a passcode, so students' own pages and the packet come along.
    """
    teacher = teacher_for(viewer, None) if viewer.has_perm("day.tap") else None
    if teacher is None:
        return ()
    return tuple(_day(viewer, teacher, sheet, encrypted=encrypted) for sheet in _sheets(viewer, teacher))


def _sheets(viewer: Person, teacher: Person) -> Iterator[DaySheet]:
    date: dt.date | None = district_today(viewer)
    for _ in range(DAYS_AHEAD + 1):
        if date is None:
            return
        sheet = day_sheet(viewer, teacher, date)
        yield sheet
        date = next_teaching_day(viewer, teacher, date)


def _day(viewer: Person, teacher: Person, sheet: DaySheet, *, encrypted: bool) -> KeptDay:
    found = [*_of_day(viewer, teacher, sheet), *_of_sessions(viewer, teacher, sheet)]
    found += _of_students(teacher, sheet) if encrypted else ()
    return KeptDay(sheet.date, tuple(dict.fromkeys(found)))


def _of_day(viewer: Person, teacher: Person, sheet: DaySheet) -> Iterator[str]:
    """What is about the day as a whole, each as the day sheet links to it."""
    own = teacher == viewer
    whose = "" if own else query(teacher=teacher.pk)
    yield reverse("day_of", args=[sheet.date]) + whose
    if not sheet.lines:
        return
    if viewer.has_perm("log.view"):
        yield reverse("log") + query(teacher=None if own else teacher.pk, date=sheet.date)
    yield reverse("load_list", args=[sheet.date]) + whose
    if viewer.has_perm("week.change"):
        yield reverse("road_map") + query(day=sheet.date)
        yield reverse("happenings") + query(date=None if sheet.is_today else sheet.date)
    if sheet.is_today:
        yield from _to_send(viewer)


def _to_send(viewer: Person) -> Iterator[str]:
    """What isn't sent yet, and the forms of what may happen on the way, to be noted."""
    yield reverse("unsent")
    if viewer.has_perm("week.change"):
        for kind in HappeningKind:
            yield reverse("happening_new") + query(kind=kind.value)


def _of_sessions(viewer: Person, teacher: Person, sheet: DaySheet) -> Iterator[str]:
    shown = rotations_shown(viewer, [one.session.uid for one in sheet.sessions if one.session is not None])
    whose = "" if teacher == viewer else query(teacher=teacher.pk)
    for line in sheet.sessions:
        if line.session is None or line.off:
            continue
        uid = line.session.uid
        yield from (reverse(name, args=[sheet.date, uid]) + whose for name in _hour_pages(line))
        if uid in shown:
            yield from (reverse(name, args=[uid]) for name in ("rotation", "rotation_cards"))
        yield from _to_write(viewer, line)


def _hour_pages(line: DayLine) -> tuple[str, ...]:
    """What happens in a session, and the view in which that runs."""
    return ("class_hour", "class_hour_run") if line.hour is not None else ()


def _to_write(viewer: Person, line: DayLine) -> Iterator[str]:
    """Where data are taken and the session is logged."""
    if line.goals is not None:
        yield line.goals.address
    if line.session is not None and line.log in {"waiting", "to_come"} and viewer.has_perm("log.write"):
        yield reverse("log_session") + query(uid=line.session.uid)


def _of_students(teacher: Person, sheet: DaySheet) -> Iterator[str]:
    """Contacts and all that a substitute would need on paper, and each student's own page."""
    if not sheet.lines:
        return
    yield reverse("packet") + query(teacher=teacher.pk, first=sheet.date, last=sheet.date)
    for line in sheet.sessions:
        yield from (reverse("student_detail", args=[one.student_id]) for one in line.people if one.name)
