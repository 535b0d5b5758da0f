"""What a statement says of a service line, asked of the person where it can mean two things."""

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError

from accounts.models import District
from caseload.plans.frequency import FrequencyError, FrequencyQuestionError, reading_words
from caseload.plans.hooks import marking_periods_of
from caseload.plans.models import ServiceLine
from caseload.plans.statements import Reading, one_line, read_statement, reading_offers

FREQUENCY_PARTS = ("times", "minutes", "minutes_total", "unit", "cycle_days", "weeks_on", "weeks_of")
READ_PARTS = (*FREQUENCY_PARTS, "reading_chosen")
"""Fields of a service line that its statement says, and that can't be given by hand."""


def statement_values(
    text: str, *, district: District | None, day: dt.date | None, wanted: str = "", row: ServiceLine | None = None
) -> dict[str, Any]:
    """The fields of a service line that a statement says, the statement itself in one line.

    `wanted` is the reading that a person chose; `row` the line, if there is one, whose statement may be known.
    Quarters, trimesters and semesters are those of the district's school year of `day`. Raises `ValidationError`;
    one that can be answered has the code ``two_readings`` and the `readings` among its params.
    """
    kept = _kept(row, text) if row is not None else None
    try:
        reading = read_statement(text, marking_periods_of(district, day), wanted=wanted, kept=kept)
    except FrequencyError as error:
        raise _problem(error) from error
    parts = {name: getattr(reading.frequency, name) for name in FREQUENCY_PARTS}
    return {"statement": one_line(text), "reading_chosen": reading.chosen, **parts}


def statement_told(row: ServiceLine, values: dict[str, Any]) -> list[str]:
    """What a statement is read as, in a sentence to show before it is saved; nothing where that is known.

    `values` are those of `statement_values`.
    """
    after = ServiceLine(**{name: values[name] for name in FREQUENCY_PARTS}).frequency
    if row.pk and row.statement == values["statement"] and row.frequency == after:
        return []
    return [f"“{values['statement']}” is read as {reading_words(after)}."]


def _kept(row: ServiceLine, text: str) -> Reading | None:
    """How the same statement was read before: in the row itself, or in another version of its service."""
    same = one_line(text)
    if row.pk and one_line(row.statement) == same:
        return Reading(row.frequency, row.reading_chosen)
    others = ServiceLine.objects.filter(service__isnull=False, service=row.service_id, statement=same).exclude(
        pk=row.pk
    )
    other = others.order_by("-start").first()
    return Reading(other.frequency, other.reading_chosen) if other is not None else None


def _problem(error: FrequencyError) -> ValidationError:
    if not isinstance(error, FrequencyQuestionError):
        return ValidationError(str(error), code="refused")
    # Django fills params into the message: a percent sign of the statement's own is none of it.
    message = str(error).replace("%", "%%")
    return ValidationError(message, code="two_readings", params={"readings": reading_offers(error.readings)})
