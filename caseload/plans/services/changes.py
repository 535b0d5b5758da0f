"""Services that change: from a date on, because they were always wrong, with a new plan; and the way back.

Each change is kept whole with the service (or, of a renewal, with the new plan) in the audit, so that it can be
taken back in one press. Each raises `ValidationError` by field, or `ApplicationError`: 403 for the role, 404 for
what is out of sight, ``changed_meanwhile`` where somebody was faster.
"""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from accounts.dates import date_words, span_words
from accounts.models import Person
from accounts.services import permission_require, record_change
from caseload.plans import rules
from caseload.plans.models import Plan, ServiceLine
from caseload.plans.services.kept import ServiceChange, change_keep, revision_claim
from caseload.plans.services.records import PERMISSION, plan_save, service_line_save

EMPTY_SAYS = frozenset({"building", "pushed_into", "held_in"})
"""Terms of which nothing given says something: at the student's school, into no class, in no other building."""
NOTHING_CHANGED = "These are the terms that hold already. Change something, or cancel."
OTHER_TYPE = (
    "Direct service and consultation are counted apart. End this service the day before, and add the other as a "
    "service of its own."
)


def service_change(
    *, actor: Person, row: ServiceLine, from_day: dt.date, values: Mapping[str, Any], seen: int | None
) -> ServiceLine:
    """Change a service's terms from a day on: the version before ends the day before, and all that was owed stays.

    `row` is any version of the service, `values` the terms that differ, `seen` the revision that the person saw.
    The new terms hold as long as those that they replace would have. From a version's first day on that version
    itself is changed. Returns the version that holds from that day.
    """
    permission_require(actor, PERMISSION)
    given = {name: value for name, value in values.items() if name != "start" and (value or name != "reading")}
    with transaction.atomic(), change_keep(actor=actor, row=row.service, action="service_change") as kept:
        revision_claim(service=row.service, seen=seen)
        version = _version_on(row, from_day)
        _change_require(version, given)
        if version.start == from_day:
            kept.before(version)
            return kept.after(service_line_save(actor=actor, row=version, values=given))
        return _version_begin(actor, version, from_day, given, kept)


def _version_on(row: ServiceLine, day: dt.date) -> ServiceLine:
    versions = list(
        row.service.versions.select_related("plan__student__district", "service", "provider", "pushed_into")
    )
    found = next((one for one in versions if one.start <= day <= one.end), None)
    if found is None:
        runs = span_words(min(one.start for one in versions), max(one.end for one in versions))
        nothing = f"The service runs from {runs}; nothing of it holds on {date_words(day)}."
        raise ValidationError({"from_day": f"{nothing} Choose a day in it."})
    return found


def _change_require(version: ServiceLine, given: Mapping[str, Any]) -> None:
    """Something differs, and it stays the same kind of service."""
    if given.get("service_type", version.service_type) != version.service_type:
        raise ValidationError({"service_type": OTHER_TYPE})
    terms = {**terms_of(version), "reading": version.reading}
    asked = {name: value for name, value in given.items() if value is not None or name in EMPTY_SAYS}
    if all(_same(terms.get(name), value) for name, value in asked.items()):
        raise ValidationError({"statement": NOTHING_CHANGED})


def _same(before: Any, after: Any) -> bool:
    many = isinstance(before, list)
    return {one.pk for one in before} == {one.pk for one in after} if many else before == after


def terms_of(version: ServiceLine) -> dict[str, Any]:
    """What a version says, by the names of its fields, but for its dates, its plan and its service."""
    own = {"id", "plan", "service", "start"}
    found = {field.name: getattr(version, field.name) for field in version._meta.concrete_fields}
    found = {name: value for name, value in found.items() if name not in own}
    return {**found, "allowed_spaces": list(version.allowed_spaces.all())}


def _version_begin(
    actor: Person, version: ServiceLine, from_day: dt.date, given: Mapping[str, Any], kept: ServiceChange
) -> ServiceLine:
    """End a version and begin the next; call it inside a transaction."""
    copied = terms_of(version)
    spaces = copied.pop("allowed_spaces")
    new = ServiceLine(plan=version.plan, service=version.service, start=from_day, **copied)
    # What was typed before isn't read again: somebody may have said how it is meant.
    told = {name: value for name, value in given.items() if (name, value) != ("statement", version.statement)}
    kept.before(version)
    kept.after(_end(actor, version, from_day - rules.ONE_DAY))
    return kept.after(service_line_save(actor=actor, row=new, values={"allowed_spaces": spaces, **told}))


def _end(actor: Person, version: ServiceLine, last: dt.date) -> ServiceLine:
    return record_change(
        actor=actor, row=version, values={"end": last}, action="service_line_save", permission=PERMISSION
    )


def service_correct(*, actor: Person, row: ServiceLine, values: Mapping[str, Any], seen: int | None) -> ServiceLine:
    """Say that a version was always wrong: its terms are others from its first day on, the past included.

    Without `seen` nobody is asked whether somebody else was faster.
    """
    permission_require(actor, PERMISSION)
    with transaction.atomic(), change_keep(actor=actor, row=row.service, action="service_correct") as kept:
        revision_claim(service=row.service, seen=seen)
        kept.before(ServiceLine.objects.get(pk=row.pk))
        return kept.after(service_line_save(actor=actor, row=row, values=values))


def plan_renew(*, actor: Person, row: Plan, values: Mapping[str, Any]) -> Plan:
    """The plan's services go on with the same terms in a new plan; `row` is the plan that is renewed.

    `values` may hold `start` (else the day after the plan's last), `end` (else a year less a day later: a plan is
    reviewed at least annually, 34 CFR 300.324(b)(1)(i)), `annual_review` and `note`. The plan that is renewed ends
    the day before the new one starts. Services that ended before the plan did aren't renewed.
    """
    permission_require(actor, PERMISSION)
    start = values.get("start") or row.end + rules.ONE_DAY
    last = values.get("end") or rules.year_after(start) - rules.ONE_DAY
    if start <= row.start:
        raise ValidationError(
            {"start": f"The plan that is renewed begins on {date_words(row.start)}. Choose a later day."}
        )
    new = Plan(student=row.student)
    told = {"start": start, "end": last, "status": Plan.Status.IN_FORCE}
    told |= {"annual_review": values.get("annual_review"), "note": values.get("note", "")}
    with transaction.atomic(), change_keep(actor=actor, row=new, action="plan_renew") as kept:
        going_on = [line for line in _lines(row) if line.end == row.end]
        _plan_end(actor, row, start - rules.ONE_DAY, kept)
        kept.after(plan_save(actor=actor, row=new, values=told))
        for line in going_on:
            revision_claim(service=line.service, seen=None)
            _line_renew(actor, line, new, kept)
    return new


def _lines(plan: Plan) -> list[ServiceLine]:
    return list(plan.lines.select_related("plan__student__district", "service", "provider", "pushed_into"))


def _plan_end(actor: Person, plan: Plan, last: dt.date, kept: ServiceChange) -> None:
    """End a plan and its lines no later than a day; what would begin after that day is refused."""
    if plan.end <= last:
        return
    for line in _lines(plan):
        if line.start > last:
            raise ValidationError(
                {
                    "start": f"The service “{line.statement}” begins on {date_words(line.start)}. Let the new plan "
                    "start after that day, or delete that service first."
                }
            )
        if line.end > last:
            kept.before(line)
            kept.after(_end(actor, line, last))
    kept.before(plan)
    kept.after(plan_save(actor=actor, row=plan, values={"end": last}))


def _line_renew(actor: Person, line: ServiceLine, plan: Plan, kept: ServiceChange) -> None:
    copied = terms_of(line)
    spaces = copied.pop("allowed_spaces")
    new = ServiceLine(plan=plan, service=line.service, **{**copied, "start": plan.start, "end": plan.end})
    kept.after(service_line_save(actor=actor, row=new, values={"allowed_spaces": spaces}))
