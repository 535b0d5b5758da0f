"""A published calendar read by the district's own words; the words themselves are kept here as well."""

import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.db import transaction

from accounts.errors import ApplicationError
from accounts.models import District, Person
from accounts.services import audit_write
from schedule.calendar.models import WordRule
from schedule.calendar.published.groups import UNDECIDED, EventGroup
from schedule.calendar.published.parsing import SchoolCalendarError
from schedule.calendar.published.reading import CalendarPreview, read_school_calendar
from schedule.calendar.published.words import DEFAULT_WORD_RULES, FindingKind
from schedule.calendar.published.words import TitleRule as Words
from schedule.calendar.services.records import word_rule_save
from schedule.imports.services.tables import require_importer
from travel.places.models import Building

FIRST_POSITION = 1  # Answers are tried before the usual words.


def word_rules_ensure(*, actor: Person) -> None:
    """Give a district the usual words on first use; from then on the table is its own."""
    district = require_importer(actor)
    with transaction.atomic():
        District.objects.select_for_update().get(pk=district.pk)
        if WordRule.objects.filter(district=district).exists():
            return
        rules = WordRule.objects.bulk_create(
            WordRule(district=district, words=rule.words, kind=_kind_of(rule.kind), position=10 * place)
            for place, rule in enumerate(DEFAULT_WORD_RULES, start=1)
        )
        audit_write(actor=actor, district=district, action="word_rules_ensure", row=rules[0])


def _kind_of(kind: FindingKind | None) -> str:
    return kind.value if kind is not None else WordRule.Kind.ORDINARY.value


def calendar_read(
    *, district: District, content: bytes, dates: tuple[dt.date, dt.date], building: Building | None = None
) -> CalendarPreview:
    """What an iCalendar file says between two dates by the district's words.

    Raises ApplicationError (`unreadable_file`, 422) for a file that can't be used.
    """
    rules = [
        Words(rule.words, None if rule.kind == WordRule.Kind.ORDINARY else FindingKind(rule.kind))
        for rule in WordRule.objects.filter(district=district).order_by("position", "pk")
    ]
    zone = ZoneInfo(building.zone if building else district.time_zone)
    others = Building.objects.filter(district=district)
    if building is not None:
        others = others.exclude(pk=building.pk)
    places = list(others.values_list("name", flat=True))
    try:
        return read_school_calendar(
            content,
            zone=zone,
            first=dates[0],
            last=dates[1],
            rules=rules,
            own=building.name if building else "",
            places=places,
        )
    except SchoolCalendarError as error:
        raise ApplicationError(str(error), code="unreadable_file", status=422) from error


def answers_keep(*, actor: Person, district: District, groups: Iterable[EventGroup]) -> None:
    """Keep what a person decided about events in doubt as words of their own: the same title is not asked again."""
    for group in groups:
        if group.doubt and group.kind != UNDECIDED:
            row = WordRule.objects.filter(district=district, words__iexact=group.title).first() or WordRule()
            values = {"words": group.title, "kind": group.kind, "position": FIRST_POSITION}
            word_rule_save(actor=actor, row=row, values=values)
