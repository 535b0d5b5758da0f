"""Cycle days of a published calendar, held against the rotations of the schools that it is for."""

from collections.abc import Iterator, Sequence

from accounts.errors import ApplicationError
from accounts.models import District
from schedule.calendar.models import DayRotation
from schedule.calendar.published.labels import bare, difference_words, differences
from schedule.calendar.published.reading import CalendarPreview
from schedule.calendar.selectors.rotations import labels_of
from schedule.calendar.selectors.school_days import BuildingCalendar, load_calendars, school_year_of
from travel.places.models import Building

NO_ROTATION = (
    "The calendar names cycle days, and no school that it is for has a rotation with such labels. Set the rotation "
    "on the school's page."
)


def label_notes(district: District, building: Building | None, read: CalendarPreview) -> list[str]:
    """A sentence for each school with a rotation: on which days it and the calendar differ. None without labels."""
    if not read.labels:
        return []
    rows = DayRotation.objects.filter(building__district=district).exclude(kind=DayRotation.Kind.WEEKDAY)
    if building is not None:
        rows = rows.filter(building=building)
    named = {one.label for one in read.labels}
    schools = dict.fromkeys(
        row.building
        for row in rows.select_related("building__district").order_by("building__name")
        if named & set(map(bare, labels_of(row)))
    )
    if not schools:
        return [NO_ROTATION]
    try:
        calendars = _calendars(district, list(schools), read)
    except ApplicationError as error:
        return [error.message]
    return [note for one in calendars for note in _notes(one, read)]


def _calendars(district: District, schools: Sequence[Building], read: CalendarPreview) -> list[BuildingCalendar]:
    first, last = min(one.first for one in read.labels), max(one.last for one in read.labels)
    found = load_calendars(district, schools, school_year_of(district, first, last))
    return [found[school.pk] for school in schools]


def _notes(calendar: BuildingCalendar, read: CalendarPreview) -> Iterator[str]:
    """A sentence for each rotation of a school of which the calendar names a day.

    What is a label of another rotation there says nothing of this one.
    """
    known = [set(map(bare, one.every_label)) for one in calendar.rotations]
    for place, rotation in enumerate(calendar.rotations):
        others = set().union(*known[:place], *known[place + 1 :])
        mine = [one for one in read.labels if one.label not in others]
        if any(one.label in known[place] for one in mine):
            ours = {date: day.turning[place].label if day.open else "" for date, day in calendar.days.items()}
            school = f"{calendar.building} ({rotation.name})" if rotation.name else str(calendar.building)
            yield difference_words(school, *differences(mine, ours))
