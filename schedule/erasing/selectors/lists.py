"""The list of what would be erased: by the district's rules, or of one student at the parents' request."""

import datetime as dt
from collections.abc import Mapping

from accounts.models import District
from caseload.retention.models import RetentionRule
from caseload.retention.schedule import OF_THE_DISTRICT, KeepingRule, in_force, last_gone
from schedule.calendar.models import SchoolYear
from schedule.erasing.listing import ErasureList, ListedKind, ListedStudent, date_text, keys_mark
from schedule.erasing.selectors.due import Due, due_by_request, due_by_rules
from schedule.erasing.selectors.kinds import rows_of_kind
from schedule.erasing.selectors.rows import counted, labeled, rows_about


def rules_on(district: District, day: dt.date) -> dict[str, KeepingRule]:
    """The rule of each kind that holds in a district on a day; kinds without one are kept."""
    return in_force((row.rule for row in RetentionRule.objects.filter(district=district)), day)


def listed_by_rules(district: District, as_of: dt.date, today: dt.date) -> ErasureList:
    """What would go as of a day by the rules of that day, and what stays, as things are today."""
    rules = rules_on(district, as_of)
    due = [one for one in map(_listed, due_by_rules(district, rules, as_of, today)) if one.rows]
    return ErasureList(
        date_text(as_of),
        tuple(one for one in due if not one.why),
        tuple(one for one in due if one.why),
        _kinds(district, rules, as_of),
    )


def listed_by_request(district: District, student: int, as_of: dt.date, today: dt.date) -> ErasureList:
    """All of one student, as the parents asked."""
    one = _listed(due_by_request(district, student, today))
    return ErasureList(date_text(as_of), () if one.why else (one,), (one,) if one.why else ())


def _listed(due: Due) -> ListedStudent:
    found = rows_about(due.student, due.kind)
    return ListedStudent(
        student=due.student,
        kind=due.kind,
        rule=due.rule,
        event=date_text(due.event),
        told=date_text(due.told),
        tables=counted(found),
        mark=keys_mark(labeled(found)),
        why=due.why,
    )


def until_of(district: District, rule: KeepingRule, as_of: dt.date) -> dt.date | None:
    """The last date that goes by a rule of the district."""
    ends = SchoolYear.objects.filter(district=district).values_list("last_day", flat=True)
    return last_gone(rule, as_of, list(ends))


def _kinds(district: District, rules: Mapping[str, KeepingRule], as_of: dt.date) -> tuple[ListedKind, ...]:
    found = []
    for kind in OF_THE_DISTRICT:
        rule = rules.get(kind)
        until = until_of(district, rule, as_of) if rule is not None else None
        if rule is None or until is None:
            continue
        rows = rows_of_kind(district, kind, until)
        mark = keys_mark(labeled(rows.goes))
        found.append(ListedKind(kind, rule.key, date_text(until), counted(rows.goes), rows.stays, mark))
    return tuple(found)
