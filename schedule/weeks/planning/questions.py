"""Questions about a week as the planner asks them, and its answers as JSON: ids, codes and figures, no names."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from caseload.plans.models import SchoolClass, ServiceLine
from schedule.calendar.starts import spoken
from schedule.calendar.words import period_words
from schedule.planner.asking.disturbance import Curve, CurvePoint
from schedule.planner.asking.favor_kinds import (
    MARGIN,
    WHO_SETS_DAYS,
    Moment,
    MovableClass,
    MovableMeeting,
    Movables,
)
from schedule.planner.asking.favors import Favors
from schedule.planner.week.explain import explain_unplaced
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.assemble import Base, WeekInput
from schedule.weeks.planning.editing import edit_input
from schedule.weeks.planning.load import load_week
from schedule.weeks.planning.outcome import Told, content_of, sessions_of_plan
from schedule.weeks.planning.rules import BUSY
from schedule.weeks.planning.sources import ask_office
from schedule.weeks.planning.telling import whom_to_tell
from schedule.weeks.versions.compare import differences, labels_of
from schedule.weeks.versions.content import SessionContent, WeekContent, content_to_json
from schedule.weeks.versions.history import content_in_force


def staying_sessions(content: WeekContent) -> tuple[SessionContent, ...]:
    """Sessions that stay whatever is planned: pinned ones, and make-ups that somebody booked."""
    return tuple(one for one in content.sessions if one.pinned or one.makes_up)


def favors_input(week: WeekPlan, content: WeekContent) -> WeekInput:
    """The problem whose best week favors are held against: what the week owes is settled, pins stay.

    Starts a little outside the contract day are in it: no week uses one unless the day becomes longer.
    """
    return edit_input(week, content, pins=staying_sessions(content), leeway=MARGIN)


def curve_input(week: WeekPlan, content: WeekContent) -> WeekInput:
    """The problem of planning the week again as things are now, changes counted against the week in force."""
    in_force = content_in_force(week.teacher, week.monday)
    return load_week(week.teacher, week.monday, Base(in_force=in_force, pins=staying_sessions(content)))


# ---- favors ---------------------------------------------------------------------------------------------


def moment_words(loaded: WeekInput) -> Moment:
    """A moment as the building names it: by its period, else by the clock."""

    def words(day: str, place: str, at: int) -> str:
        facts = loaded.facts(loaded.buildings[place].pk, dt.date.fromisoformat(day))
        period = facts.bells.period_at(at) if facts.bells else None
        clock = spoken((at, at)).partition(" to ")[0]
        return f"in {period_words([period.name])}" if period is not None and period.start == at else f"at {clock}"

    return words


def movables(loaded: WeekInput) -> Movables:
    """What can move beside starts: classes, meetings (not what is in an own calendar), the day itself."""
    problem = loaded.problem
    days = tuple(day.id for day in problem.days)
    meetings = tuple(
        MovableMeeting(day.id, block, days, "whoever calls the meeting")
        for day in problem.days
        for block in day.blocks
        if block.label != BUSY
    )
    return Movables(movable_classes(loaded), meetings, WHO_SETS_DAYS)


def movable_classes(loaded: WeekInput) -> tuple[MovableClass, ...]:
    """Classes that services are pushed into, and the days on which their building rings the same bells."""
    mine: dict[int, list[str]] = {}
    for service in loaded.problem.services:
        info = loaded.info(service.id)
        if info.setting == ServiceLine.Setting.PUSH_IN and info.school_class is not None and service.starts:
            mine.setdefault(info.school_class, []).append(service.id)
    rows = SchoolClass.objects.filter(pk__in=mine).select_related("building").order_by("building", "code")
    return tuple(_movable(loaded, row, tuple(mine[row.pk])) for row in rows)


def _movable(loaded: WeekInput, row: SchoolClass, services: tuple[str, ...]) -> MovableClass:
    starts = [start for key in services for start in loaded.problem.unit(key).starts]
    held = [loaded.facts(row.building_id, dt.date.fromisoformat(start.day)).bells for start in starts]
    days = []
    for day in loaded.problem.days:
        facts = loaded.facts(row.building_id, dt.date.fromisoformat(day.id))
        if facts.open and all(bells == facts.bells for bells in held):
            days.append(day.id)
    teacher = row.class_teacher or "the class's teacher"
    return MovableClass(row.name, services, tuple(days), f"{teacher}, and {ask_office(row.building)}")


def favors_json(found: Favors) -> dict[str, Any]:
    """Favors as they are kept."""
    best = set(found.best_of_places())
    return {
        "possible": found.possible,
        "tried": found.tried,
        "dismissed": found.dismissed,
        "stopped": found.stopped,
        "base_proved": found.base_proved,
        "base_near": found.base_near,
        "replanning": found.replanning,
        "favours": [
            {
                "text": one.text,
                "ask": one.favor.ask,
                "building_code": one.favor.place,
                "minutes_placed": one.minutes_placed,
                "wishes_met": one.wishes_met,
                "drive_saved": one.drive_saved,
                "everything_fits": one.everything_fits,
                "proved": one.proved,
                "best_of_building": one in best,
            }
            for one in found.priced
        ],
    }


# ---- the price of staying --------------------------------------------------------------------------------


def curve_json(loaded: WeekInput, in_force: WeekContent, curve: Curve) -> dict[str, Any]:
    """A curve with the content of each point, what moved there in sentences, and whom to tell."""
    return {
        "complete": curve.complete,
        "message": curve.message,
        "price_of_staying": curve.price_of_staying,
        "points": [_point_json(loaded, in_force, point) for point in curve.points],
    }


def _point_json(loaded: WeekInput, in_force: WeekContent, point: CurvePoint) -> Mapping[str, Any]:
    reasons = {one.service: (one.sentence,) for one in explain_unplaced(loaded.problem, point.plan)}
    sessions = sessions_of_plan(loaded, point.plan, in_force)
    content = content_of(loaded, sessions, point.plan, Told(reasons=reasons))
    changed = differences(in_force, content, labels_of(in_force, content))
    return {
        "moved": point.moved,
        "driving": point.driving,
        "proved": point.proved,
        "sentences": list(changed.sentences),
        "tell": [asdict(one) for one in whom_to_tell(in_force, content)],
        "content": content_to_json(content),
    }
