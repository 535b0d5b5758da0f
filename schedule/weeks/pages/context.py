"""What the week's templates need: addresses, the strip for a wide and for a narrow screen, a chosen session."""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from accounts.models import Person
from schedule.weeks.data import SessionOption, SessionView, UnplacedView, WeekDetail
from schedule.weeks.models import WeekPlan
from schedule.weeks.selectors.pages import building_facts, office_phones
from schedule.weeks.strip.from_week import (
    BuildingFacts,
    Link,
    StripChoice,
    no_link,
    option_value,
    strip_days,
    strip_places,
    week_words,
)
from schedule.weeks.strip.layout import WALL, WEEK, day_strip, week_strip
from schedule.weeks.strip.shapes import StripDay

MOST_LINES = 9
"""Lines of a day's table that fit on one landscape page under the drawing, most of them broken in two."""


@dataclass(frozen=True, slots=True)
class OptionLine:
    """A legal place in the list; ``value`` is what the form sends."""

    option: SessionOption
    value: str
    checked: bool


@dataclass(frozen=True, slots=True)
class OptionDay:
    """The legal places of one date."""

    date: dt.date
    lines: tuple[OptionLine, ...]


def query(**values: object) -> str:
    """A query text without what is empty."""
    return "?" + urlencode({name: value for name, value in values.items() if value not in (None, "")})


def option_days(options: Iterable[SessionOption], picked: str) -> tuple[OptionDay, ...]:
    """The options by date and time; the one that the strip's link named is checked."""
    by_date: dict[dt.date, list[OptionLine]] = {}
    for option in sorted(options, key=lambda one: (one.date, one.start, one.space_name)):
        if not option.is_now:
            value = option_value(option)
            by_date.setdefault(option.date, []).append(OptionLine(option, value, value == picked))
    return tuple(OptionDay(date, tuple(lines)) for date, lines in by_date.items())


def shown_day(days: tuple[StripDay, ...], asked: dt.date | None, today: dt.date) -> StripDay | None:
    """The day for a narrow screen: the one asked for, else today, else the first with something in it."""
    by_key = {day.key: day for day in days}
    for date in (asked, today):
        if date is not None and (found := by_key.get(date.isoformat())) is not None:
            return found
    return next((day for day in days if not day.nothing), days[0] if days else None)


def figures_context(detail: WeekDetail) -> dict[str, Any]:
    """The figures beside a strip that are sums of it."""
    items = [item for day in detail.days for item in day.items]
    return {
        "preparation_minutes": sum(item.minutes for item in items if item.kind == "preparation" and not item.off)
    }


def strip_context(
    viewer: Person,
    detail: WeekDetail,
    *,
    today: dt.date,
    asked_day: dt.date | None = None,
    link: Link = no_link,
    choice: StripChoice | None = None,
    editor: bool = False,
) -> dict[str, Any]:
    """A week drawn both ways, with what is beside it."""
    facts = week_facts(viewer, detail)
    places = strip_places(detail.places, facts)
    days = strip_days(detail, facts, link=link, choice=choice)
    day = shown_day(days, asked_day, today)
    return {
        "detail": detail,
        "days": days,
        "day": day,
        "strip_week": week_strip(days, places, WEEK, spare=editor),
        "strip_day": day_strip(day, places) if day else None,
        "strip_words": week_words(detail),
        "phones": office_phones(viewer, [place.id for place in detail.places]),
        "editor": editor,
        "can_edit": detail.may_edit and detail.status in {WeekPlan.Status.DRAFT, WeekPlan.Status.PUBLISHED},
        **figures_context(detail),
    }


def wall_context(viewer: Person, detail: WeekDetail, *, whole: bool) -> dict[str, Any]:
    """A week drawn for an office wall: low rows, nothing to click, nobody named.

    Where a day has more lines than fit under the drawing, its table is set closer and leaves the drives to the
    drawing.
    """
    facts = week_facts(viewer, detail)
    days = strip_days(detail, facts, names=False, whole=whole)
    strip = week_strip(days, strip_places(detail.places, facts), WALL)
    lines = max((sum(entry.kind != "preparation" for entry in day.entries) for day in detail.days), default=0)
    return {
        "detail": detail,
        "strip_week": strip,
        "strip_words": week_words(detail),
        "crowded": lines > MOST_LINES,
        **figures_context(detail),
    }


def week_facts(viewer: Person, detail: WeekDetail) -> Mapping[int, BuildingFacts]:
    """Coordinates and packing minutes of the week's buildings."""
    return building_facts(viewer, [place.id for place in detail.places])


def chosen_session(detail: WeekDetail, uid: str) -> SessionView | None:
    """The session of an id in a week, or None."""
    return next((one for day in detail.days for one in day.sessions if one.uid == uid), None)


def chosen_unplaced(detail: WeekDetail, unplaced_id: int | None) -> UnplacedView | None:
    """The unplaced sessions of an id in a week, or None."""
    return next((one for one in detail.unplaced if one.id == unplaced_id), None)
