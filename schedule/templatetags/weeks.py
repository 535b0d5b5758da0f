"""Filters and tags of the week's pages: sums on a drawing's coordinates, clock times, marks of settings."""

import datetime as dt
import re
from collections.abc import Mapping

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from caseload.plans import grades
from schedule.calendar import words as phrases
from schedule.weeks.data import SessionOption, UnplacedView
from schedule.weeks.strip import from_week, words

register = template.Library()

# Drawn around 0, 0 in a square of 12: a class is a room, a push-in an arrow into one, a group three, one to one.
_MARKS = {
    "own_class": '<rect x="-5.5" y="-5" width="11" height="10" rx="1.5"/><path d="M-5.5 -1.6H5.5"/>',
    "push_in": '<path d="M-1 -5H5V5H-1M-6 0H2M-1 -2.8L2 0L-1 2.8"/>',
    "small_group": '<circle cy="-3.2" r="2"/><circle cx="-3.6" cy="2.8" r="2"/><circle cx="3.6" cy="2.8" r="2"/>',
    "one_to_one": '<circle cx="-3.1" cy="0" r="2.2"/><circle cx="3.1" cy="0" r="2.2"/>',
}


@register.filter
def plus(value: float, other: float) -> float:
    """A sum, for coordinates."""
    return round(value + other, 2)


@register.filter
def minus(value: float, other: float) -> float:
    """A difference, for coordinates."""
    return round(value - other, 2)


@register.simple_tag
def mark(setting: str, x: float, y: float) -> SafeString:
    """The mark of a setting, centered on a point."""
    shapes = SafeString(_MARKS.get(setting, _MARKS["one_to_one"]))
    return format_html('<g class="mark" transform="translate({} {})">{}</g>', x, y, shapes)


@register.filter
def period_title(name: str) -> str:
    """A period on its own, such as `Period 3`."""
    return phrases.period_title(name)


@register.filter
def grade_words(grade: str) -> str:
    """A grade inside a sentence, such as `grade 3`."""
    return grades.grade_words(grade)


@register.filter
def clock(minute: int) -> str:
    """Minutes after midnight as a clock shows them."""
    return words.clock(minute)


@register.filter
def clock_field(minute: int) -> str:
    """Minutes after midnight as a form sends them."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


@register.filter
def option_words(option: SessionOption) -> str:
    """A place for a session in one sentence."""
    return from_week.option_words(option)


@register.filter
def unplaced_words(unplaced: UnplacedView) -> str:
    """Owed sessions without a place in a few words."""
    return from_week.unplaced_words(unplaced)


@register.filter
def note_line(top: float, number: int) -> float:
    """Where the n-th note beside a day stands."""
    return round(top + 30 + 16 * number, 2)


@register.filter
def option_time(option: SessionOption) -> str:
    """From when to when an option is."""
    start, end = (moment.hour * 60 + moment.minute for moment in (option.start, option.end))
    return f"{words.clock(start)}\N{EN DASH}{words.clock(end)}"


@register.filter
def added(minutes: int) -> str:
    """Added drive minutes with their sign."""
    return from_week.added(minutes)


@register.filter
def under(values: Mapping[object, object] | str, key: object) -> object:
    """What stands under a key, or nothing; a context without the values is an empty text."""
    return values.get(key) if isinstance(values, Mapping) else None


@register.filter
def of_building(phones: Mapping[int, str], building_id: int) -> str:
    """The phone of a building's office, or nothing."""
    return phones.get(building_id, "") if phones else ""


@register.filter
def dialled(phone: str) -> str:
    """A phone number as a link dials it (RFC 3966): digits, a leading plus, and ``;ext=`` for an extension."""
    number, _, extension = re.sub(r"(?i)\s*(?:extension|ext\.?|x)\s*", ";", phone, count=1).partition(";")
    digits = re.sub(r"[^0-9]", "", number)
    plus = "+" if number.strip().startswith("+") else ""
    more = re.sub(r"[^0-9]", "", extension)
    return f"tel:{plus}{digits}{f';ext={more}' if more else ''}"


@register.filter
def positive(number: int) -> int:
    """A number without its sign."""
    return abs(number)


@register.filter
def friday(monday: dt.date) -> dt.date:
    """The Friday of a Monday's week."""
    return monday + dt.timedelta(days=4)
