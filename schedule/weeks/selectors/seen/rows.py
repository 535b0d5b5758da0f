"""Rows of a version as plain values."""

import datetime as dt
from decimal import Decimal

from caseload.plans.models import ServiceLine
from schedule.calendar.selectors.school_days import BuildingCalendar, minutes_of, time_of
from schedule.weeks.data import BuildingDayView, ItemView, SessionView
from schedule.weeks.models import DayItem, PlannedSession
from schedule.weeks.selectors.attending import People
from schedule.weeks.selectors.day_shapes import StraightLeg

CONSULTATION = str(ServiceLine.Type.CONSULTATION.label)
"""In the place of a setting: a consultation stands alone, without the student."""


def session_view(row: PlannedSession, seen: People, office: bool) -> SessionView:
    """A session with those in it."""
    attendees = seen.attendees
    class_name = row.school_class.name if row.school_class else ""
    people = " + ".join(one.who for one in attendees)
    setting = _setting_words(row, seen)
    plain = class_name or setting
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
        setting_label=setting,
        class_name=class_name,
        period=row.period,
        cycle_day=row.cycle_day,
        pinned=row.pinned,
        makes_up=row.makes_up,
        students_from=row.students_from.name if row.students_from else "",
        students_from_id=row.students_from_id,
        label=plain if office or whole_class else people or plain,
        attendees=attendees,
        without=seen.without,
    )


def _setting_words(row: PlannedSession, seen: People) -> str:
    consults = any(one.consultation for one in seen.everyone)
    return CONSULTATION if consults else row.get_setting_display()


def item_view(row: DayItem) -> ItemView:
    """A drive, lunch, preparation or meeting; both its buildings are asked for."""
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


def straight_view(date: dt.date, leg: StraightLeg) -> ItemView:
    """A drive past what is left out."""
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


def building_day(calendar: BuildingCalendar, date: dt.date) -> BuildingDayView:
    """A building on one date."""
    facts = calendar.facts(date)
    building = calendar.building
    periods = facts.bells.periods if facts.bells else ()
    return BuildingDayView(
        building.code,
        building.name,
        facts.open,
        calendar.bell_name(date),
        ", ".join(facts.labels),
        facts.reason or facts.problem,
        min((period.start for period in periods), default=None),
        max((period.end for period in periods), default=None),
    )
