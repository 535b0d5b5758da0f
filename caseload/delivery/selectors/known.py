"""The log, services and rules as they were known at a moment: by versions, decisions and the audit."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable

from accounts.models import District
from accounts.selectors import rows_known
from caseload.delivery.models import DeliveryVersion, LedgerSettings, MissedReason, ReasonEffect, TeamDecision
from caseload.delivery.rows import LoggedEntry
from caseload.delivery.selectors.log import LOGGED, decisions_by_entry, logged_entry
from caseload.ledger.terms import Effect, LedgerRules, RuleBook
from caseload.plans.models import ServiceLine
from travel.mileage.models import SINCE_EVER


def lines_known(district: District, lines: Iterable[ServiceLine], moment: dt.datetime) -> list[ServiceLine]:
    """Services as they were at a moment; those entered since are left out. One query."""
    found = rows_known(ServiceLine, district, lines, moment)
    return sorted(found, key=lambda line: (line.start, line.pk))


def entries_known(students: Collection[int], moment: dt.datetime) -> dict[int, list[LoggedEntry]]:
    """The log of these students as it counted at a moment, by student. Two queries."""
    rows = DeliveryVersion.objects.filter(entry__student__in=students, logged_at__lte=moment)
    told = rows.order_by("entry__date", "entry_id", "number").values_list(*LOGGED)
    decisions = decisions_by_entry(
        TeamDecision.objects.filter(entry__student__in=students, recorded_at__lte=moment)
    )
    latest = {row[0]: row for row in told}
    found: dict[int, list[LoggedEntry]] = defaultdict(list)
    for row in latest.values():
        one = logged_entry(row, decisions)
        found[one.student_id].append(one)
    return found


def rule_book_known(district: District, moment: dt.datetime) -> RuleBook:
    """The district's rules by date, as they were at a moment."""
    settings = rows_known(
        LedgerSettings, district, LedgerSettings.objects.filter(district=district), moment, restore=True
    )
    reasons = rows_known(
        MissedReason, district, MissedReason.objects.filter(district=district), moment, restore=True
    )
    effects = rows_known(
        ReasonEffect, district, ReasonEffect.objects.filter(reason__district=district), moment, restore=True
    )
    settings.sort(key=_begins)
    if not settings or settings[0].first_day > SINCE_EVER:
        settings.insert(0, LedgerSettings(district=district))
    effects.sort(key=_begins)
    days = {row.first_day for row in settings} | {row.first_day for row in effects}
    return RuleBook(tuple((day, _rules(settings, reasons, effects, day)) for day in sorted(days)))


def _begins(row: LedgerSettings | ReasonEffect) -> dt.date:
    return row.first_day


def _rules(
    settings: list[LedgerSettings], reasons: list[MissedReason], effects: list[ReasonEffect], day: dt.date
) -> LedgerRules:
    """What held on a date; each list in the order of its first days."""
    held = [row for row in settings if row.first_day <= day][-1]
    does = {row.pk: Effect(row.effect) for row in reasons}
    does |= {row.reason_id: Effect(row.effect) for row in effects if row.first_day <= day}
    codes = {row.code: does[row.pk] for row in reasons}
    words = {row.code: row.words.lower() for row in reasons}
    return held.rules_with(codes, words)
