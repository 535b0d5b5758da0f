"""Reads what happened to the sessions of some dates, and when their teacher is away.

Only ids, times and grades are read, no table with a student's name: a building's feed asks, too.
"""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Value

from accounts.idempotency.shared import shared
from accounts.models import Person
from caseload.delivery.selectors.log import settings_of
from caseload.plans.enrollment.selectors import grade_on
from schedule.calendar.happened import OF_TEACHER, Became, HappeningKind, Planned, Said, become
from schedule.calendar.selectors.covers import Covers, covers_between
from schedule.calendar.selectors.happened import said_between
from schedule.calendar.selectors.school_days import minutes_of
from schedule.weeks.day_truth import SESSION, Part
from schedule.weeks.models import PlannedSession, SessionAttendee


@dataclass(frozen=True, slots=True)
class WhatHappened:
    """What became of each date's sessions, by uid; by date when the teacher is away; the least that is held.

    `covered`: sessions at which somebody stands in for a teacher of whom anything was said.
    """

    became: Mapping[dt.date, Mapping[str, Became]] = field(default_factory=dict)
    away: Mapping[dt.date, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    least: int = 1
    covered: frozenset[str] = frozenset()


def happened_to(teacher: Person, parts: Mapping[dt.date, Sequence[Part]], *, cut: bool) -> WhatHappened:
    """What stands of these dates; one query where nothing does, seven at most. Covered sessions have their teacher.

    `cut`: some of them have other hours, so that the least that is held is asked for.
    """
    if teacher.district is None:
        return WhatHappened()
    district, first, last = teacher.district.pk, min(parts), max(parts)
    said = shared(
        ("said", district, first, last, teacher.pk), lambda: said_between(district, first, last, [teacher.pk])
    )
    least = settings_of(teacher.district, last).least_minutes if said or cut else 1
    covers = _covers(teacher, parts, said)
    planned = _planned(teacher, parts, said) if said else {}
    became = _became(planned, said, covers, least)
    away = {date: _away(said, date, covers) for date in parts}
    covered = frozenset(uid for date, day in planned.items() for uid in day if covers.of_session(date, uid))
    return WhatHappened(became, away, least, covered)


def _became(
    planned: Mapping[dt.date, Mapping[str, Planned]], said: Sequence[Said], covers: Covers, least: int
) -> dict[dt.date, dict[str, Became]]:
    """The sessions that aren't as planned."""
    return {
        date: {
            uid: became
            for uid, one in day.items()
            if (became := become(one, _holding(said, uid, one, covers), least)) != _whole(one)
        }
        for date, day in planned.items()
    }


def _whole(one: Planned) -> Became:
    return Became(one.start, one.end)


def _holding(said: Iterable[Said], uid: str, planned: Planned, covers: Covers) -> list[Said]:
    """What holds for a session: that the teacher is away doesn't matter where somebody stands in."""
    covered = bool(covers.of_session(planned.date, uid))
    return [one for one in said if one.holds_on(planned.date) and not (one.kind in OF_TEACHER and covered)]


def _covers(teacher: Person, dates: Iterable[dt.date], said: Iterable[Said]) -> Covers:
    """Who stands in, where anything was said of the teacher."""
    wanted = list(dates) if any(one.kind in OF_TEACHER for one in said) else []
    return covers_between([teacher.pk], min(wanted), max(wanted)) if wanted else Covers()


def _away(said: Iterable[Said], date: dt.date, covers: Covers) -> tuple[tuple[int, int], ...]:
    if covers.whole_day(date):
        return ()
    return tuple((one.start, one.end) for one in said if one.kind is HappeningKind.AWAY and one.holds_on(date))


def _planned(
    teacher: Person, parts: Mapping[dt.date, Sequence[Part]], said: Iterable[Said]
) -> dict[dt.date, dict[str, Planned]]:
    """Each date's sessions as the rules take them: when and where by the parts, for whom by that time's rows."""
    sessions = {
        (one.key, date, one.start): one for date, day in parts.items() for one in day if one.kind == SESSION
    }
    wanted = [UUID(key) for key, _, _ in sessions]
    rows = PlannedSession.objects.filter(uid__in=wanted).order_by("pk")
    fields = ("pk", "uid", "date", "start", "space_id", "school_class_id")
    known = {
        (str(uid), date, minutes_of(start)): (pk, space, of)
        for pk, uid, date, start, space, of in rows.values_list(*fields)
    }
    students = _students([pk for key, (pk, _, _) in known.items() if key in sessions], said)
    found: dict[dt.date, dict[str, Planned]] = defaultdict(dict)
    for key, part in sessions.items():
        pk, space, of = known.get(key, (0, None, None))
        found[key[1]][part.key] = Planned(
            date=key[1],
            start=part.start,
            end=part.end,
            building=part.building or 0,
            teacher=teacher.pk,
            space=space,
            school_class=of,
            students=students.get(pk, frozenset()),
            students_from=part.students_from,
        )
    return found


def _students(sessions: Iterable[int], said: Iterable[Said]) -> dict[int, frozenset[tuple[int, str]]]:
    """Who is in each session; with grades only where some grades are out."""
    found: dict[int, set[tuple[int, str]]] = defaultdict(set)
    rows = SessionAttendee.objects.filter(session__in=list(sessions)).order_by()
    if any(one.grades for one in said):
        rows = rows.annotate(grade=grade_on("student", "session__date"))
        graded = rows.values_list("session_id", "student_id", "grade")
    else:
        graded = rows.annotate(grade=Value("")).values_list("session_id", "student_id", "grade")
    for session, student, grade in graded:
        found[session].add((student, grade))
    return {session: frozenset(several) for session, several in found.items()}
