"""What pages with a statement show: what it is read as before it is saved, and both readings where it has two."""

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from accounts.models import Person
from caseload.plans.forms import StatementForm
from caseload.plans.hooks import marking_periods_of
from caseload.plans.models import ServiceLine
from caseload.plans.services import statement_told, statement_values
from caseload.plans.statements import Reading, reading_doubt


def statement_effects(
    person: Person, values: Mapping[str, Any], day: dt.date | None, row: ServiceLine | None = None
) -> list[str]:
    """What a new statement is read as; nothing where the person has just chosen the reading."""
    if values.get("reading"):
        return []
    line = row if row is not None else ServiceLine()
    read = statement_values(values["statement"], district=person.district, day=day, row=row)
    return statement_told(line, read)


def readings_asked(form: object) -> dict[str, Any]:
    """For a page's context: the readings to choose from, if the statement has two."""
    return {"readings": form.readings} if isinstance(form, StatementForm) and form.readings else {}


def doubts_of(lines: Iterable[ServiceLine]) -> dict[int, str]:
    """What there is to ask about the statements of saved lines, by line: they were read before it was asked."""
    found: dict[int, str] = {}
    counts: dict[tuple[int, dt.date], int | None] = {}
    for line in lines:
        key = (line.district.pk, line.start)
        if key not in counts:
            counts[key] = marking_periods_of(line.district, line.start)
        doubt = reading_doubt(line.statement, counts[key], Reading(line.frequency, line.reading_chosen))
        if doubt:
            found[line.pk] = doubt
    return found
