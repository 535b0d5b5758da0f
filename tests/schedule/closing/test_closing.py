"""Months of the log: what is signed, who closes and reopens, and what a closed month holds up."""

import datetime as dt
import hashlib
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from caseload.delivery.models import DeliveryEntry, LedgerSettings, MissedReason
from caseload.delivery.services.log import decision_record, delivery_correct, delivery_log
from caseload.delivery.services.rules import ledger_settings_save, reasons_save
from caseload.delivery.services.undo import sending_undo
from caseload.delivery.told import LogItem, Outcome
from caseload.months.models import LogMonth, LogMonthAct
from caseload.months.spans import changed_days
from caseload.plans.models import ServiceLine
from caseload.plans.services import plan_delete, service_line_delete, service_line_save
from schedule.calendar.models import CalendarEntry, MarkingPeriod, SchoolYear
from schedule.calendar.services.records import (
    calendar_entry_delete,
    calendar_entry_save,
    marking_period_save,
    rotation_save,
    school_year_save,
)
from schedule.closing.content import canonical, differences, digest_of
from schedule.closing.selectors import content_of, month_view, months_of
from schedule.closing.services import month_close, month_reopen, month_rules_save, month_sign
from tests.conftest import Cast
from tests.schedule.builders import date, make_cycle, make_entry, make_ground, make_line
from tests.schedule.log_builders import evening_of, log_line, publish_session

SEPTEMBER = dt.date(2026, 9, 1)
OCTOBER = dt.date(2026, 10, 1)
AFTER = evening_of(OCTOBER)
"""October 1: September is over."""
IN_SEPTEMBER, IN_OCTOBER = date(0), date(21)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """A planned district; one session of September 14 logged."""
    make_ground(cast)
    return cast


@pytest.fixture
def entry(ground: Cast) -> DeliveryEntry:
    """Missed for a reason that is left to the team."""
    return log_line(ground, IN_SEPTEMBER, outcome=Outcome(reason="medical"))


def sign(cast: Cast, month: dt.date = SEPTEMBER, **values: Any) -> LogMonthAct:
    """The teacher signs what stands."""
    told = {"name": str(cast.teacher), "digest": digest_of(content_of(cast.teacher, month)), "now": AFTER, **values}
    return month_sign(actor=cast.teacher, teacher=cast.teacher, month=month, **told)


def close(cast: Cast, month: dt.date = SEPTEMBER, **values: Any) -> LogMonthAct:
    """The coordinator closes."""
    row = LogMonth.objects.filter(teacher=cast.teacher, month=month).first()
    revision = row.revision if row is not None else 1
    told = {"expected_revision": revision, "now": AFTER, **values}
    return month_close(actor=cast.coordinator, teacher=cast.teacher, month=month, **told)


def reopen(cast: Cast, reason: str = "A session was forgotten") -> LogMonthAct:
    """The coordinator opens it again."""
    row = LogMonth.objects.get(teacher=cast.teacher, month=SEPTEMBER)
    return month_reopen(
        actor=cast.coordinator,
        teacher=cast.teacher,
        month=SEPTEMBER,
        expected_revision=row.revision,
        reason=reason,
        now=AFTER,
    )


@pytest.fixture
def closed(ground: Cast, entry: DeliveryEntry) -> Cast:
    """September is signed and closed."""
    sign(ground)
    close(ground)
    return ground


def code_of(act: Callable[[], object]) -> str:
    """The code that it is refused with."""
    with pytest.raises(ApplicationError) as refused:
        act()
    return refused.value.code


# ---- signing, closing, reopening -------------------------------------------------------------------------


def test_what_is_signed_is_kept_with_a_digest_that_anybody_can_check(ground: Cast, entry: DeliveryEntry) -> None:
    """SHA-256 (FIPS 180-4) of JSON with sorted keys and no spaces (RFC 8785), worked out here by itself."""
    act = sign(ground)
    kept = LogMonthAct.objects.get()
    by_hand = json.dumps(kept.content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert kept.digest == hashlib.sha256(by_hand.encode()).hexdigest() == act.digest
    assert (kept.by, kept.name, kept.at) == (ground.teacher, str(ground.teacher), AFTER)
    (signed,) = kept.content["entries"]
    assert (signed["entry"], signed["date"], signed["planned"]) == (entry.pk, "2026-09-14", 30)
    assert AuditEntry.objects.filter(action="month_signed", actor=ground.teacher).count() == 1


def test_no_name_and_no_note_is_in_what_is_signed(ground: Cast) -> None:
    """Of a note only its digest: another note is another content."""
    log_line(ground, IN_SEPTEMBER, outcome=Outcome(note="Fell asleep on the mat"))
    content = content_of(ground.teacher, SEPTEMBER)
    text = canonical(content).decode()
    assert "asleep" not in text
    assert ground.student.last_name not in text
    note = hashlib.sha256(b"Fell asleep on the mat").hexdigest()
    assert content["entries"][0]["versions"][0]["note"] == note


def test_the_teacher_alone_signs_under_the_own_name_once_the_month_is_over(ground: Cast) -> None:
    """Not the coordinator, not a mate, not another name, not before October 1."""
    digest = digest_of(content_of(ground.teacher, SEPTEMBER))
    told: dict[str, Any] = {"month": SEPTEMBER, "digest": digest, "now": AFTER, "teacher": ground.teacher}
    for person in (ground.coordinator, ground.mate, ground.substitute, ground.office):
        assert code_of(lambda who=person: month_sign(actor=who, name=str(who), **told)) == "not_for_your_role"  # type: ignore[misc]
    with pytest.raises(ValidationError, match="Type your name"):
        sign(ground, name="Somebody Else")
    assert code_of(lambda: sign(ground, now=evening_of(dt.date(2026, 9, 30)))) == "month_not_over"
    sign(ground, name=f"  {str(ground.teacher).upper()} ")


def test_a_change_between_looking_and_signing_is_noticed(ground: Cast, entry: DeliveryEntry) -> None:
    """The digest is of what was seen."""
    seen = digest_of(content_of(ground.teacher, SEPTEMBER))
    log_line(ground, date(2))
    assert code_of(lambda: sign(ground, digest=seen)) == "changed_meanwhile"
    assert not LogMonthAct.objects.exists()


def test_a_month_is_closed_as_signed_or_with_the_reason_why_not(ground: Cast, entry: DeliveryEntry) -> None:
    """Unsigned needs a reason; changed since signing needs a new signature."""
    assert code_of(lambda: close(ground)) == "not_signed"
    sign(ground)
    log_line(ground, date(2))
    assert code_of(lambda: close(ground)) == "changed_since_signed"
    sign(ground)
    assert close(ground).digest == digest_of(content_of(ground.teacher, SEPTEMBER))
    assert code_of(lambda: close(ground)) == "month_closed"
    assert code_of(lambda: sign(ground)) == "month_closed"
    assert (
        close(ground, OCTOBER, reason="She has left", now=evening_of(dt.date(2026, 11, 2))).reason == "She has left"
    )


def test_closing_and_reopening_are_the_coordinators(closed: Cast) -> None:
    """Others are refused; a stranger finds no such month."""
    told: dict[str, Any] = {"month": SEPTEMBER, "expected_revision": 3, "reason": "x", "now": AFTER}
    for person in (closed.teacher, closed.mate, closed.office, closed.substitute):
        for act in (month_close, month_reopen):
            assert code_of(lambda who=person, do=act: do(actor=who, teacher=closed.teacher, **told)) == (  # type: ignore[misc]
                "not_for_your_role"
            )
    assert code_of(lambda: month_reopen(actor=closed.stranger, teacher=closed.teacher, **told)) == "not_found"


def test_reopening_needs_a_reason_and_keeps_what_was_signed(closed: Cast) -> None:
    """Signed, closed, reopened stay in the history; then changes are let through again."""
    with pytest.raises(ValidationError):
        reopen(closed, " ")
    assert (
        code_of(
            lambda: month_reopen(
                actor=closed.coordinator,
                teacher=closed.teacher,
                month=SEPTEMBER,
                expected_revision=1,
                reason="late",
            )
        )
        == "changed_meanwhile"
    )
    reopen(closed)
    acts = list(LogMonthAct.objects.values_list("act", "reason"))
    assert acts == [("signed", ""), ("closed", ""), ("reopened", "A session was forgotten")]
    assert LogMonthAct.objects.first().content["entries"]  # type: ignore[union-attr]  # there are three
    log_line(closed, date(2))


# ---- what a closed month holds up ------------------------------------------------------------------------


def refused_in(cast: Cast, entry: DeliveryEntry) -> dict[str, Callable[[], object]]:
    """Every change that would alter the closed September, by its name."""
    line, coordinator = cast.line, cast.coordinator
    item = LogItem(uuid.uuid4(), line, date(3), 30)
    correct = {"entry": entry, "outcome": Outcome(20, "medical"), "expected_revision": entry.revision, "now": AFTER}
    decided = {"effect": "owed", "decided_by": "The team", "decided_on": IN_SEPTEMBER}
    day = {"first_date": date(4), "last_date": date(4), "kind": "closed"}
    year = SchoolYear.objects.get()
    snow = CalendarEntry.objects.get(kind="closed", building=cast.north)
    return {
        "a new entry": lambda: delivery_log(actor=cast.teacher, item=item, now=AFTER),
        "a correction": lambda: delivery_correct(actor=cast.teacher, **correct),  # type: ignore[arg-type]
        "a withdrawal": lambda: delivery_correct(actor=cast.teacher, **{**correct, "outcome": None}),  # type: ignore[arg-type]
        "an undo": lambda: sending_undo(actor=cast.teacher, sending=entry.client_id, now=AFTER),
        "a decision": lambda: decision_record(
            actor=coordinator,
            entry=entry,
            expected_revision=entry.revision,
            now=AFTER,
            **decided,  # type: ignore[arg-type]
        ),
        "another frequency": lambda: service_line_save(
            actor=coordinator, row=line, values={"statement": "3 x 30 min/week"}
        ),
        "another provider": lambda: service_line_save(actor=coordinator, row=line, values={"provider": cast.mate}),
        "a later start": lambda: service_line_save(actor=coordinator, row=line, values={"start": date(2)}),
        "an earlier end": lambda: service_line_save(actor=coordinator, row=line, values={"end": date(10)}),
        "a new service": lambda: service_line_save(
            actor=coordinator, row=ServiceLine(plan=cast.plan), values={"statement": "1 x 30 min/week"}
        ),
        "a closed day": lambda: calendar_entry_save(
            actor=coordinator, row=CalendarEntry(building=cast.north), values=day
        ),
        "a closed day of the district": lambda: calendar_entry_save(
            actor=coordinator, row=CalendarEntry(), values=day
        ),
        "a closed day that goes": lambda: calendar_entry_delete(actor=coordinator, row=snow),
        "a closed day that moves": lambda: calendar_entry_save(
            actor=coordinator, row=snow, values={"first_date": date(30), "last_date": date(30)}
        ),
        "another first day of school": lambda: school_year_save(
            actor=coordinator, row=year, values={"first_day": date(-3)}
        ),
        "a marking period": lambda: marking_period_save(
            actor=coordinator,
            row=MarkingPeriod(school_year=year),
            values={"name": "MP1", "first_day": year.first_day, "last_day": date(30)},
        ),
        "a rotation": lambda: rotation_save(
            actor=coordinator, row=cast.north.rotations.get(), values={"length": 4}
        ),
        "the rule for short weeks": lambda: ledger_settings_save(
            actor=coordinator, values={"short_week": "proportion"}
        ),
        "what a reason does": lambda: reasons_save(actor=coordinator, values={"medical": {"effect": "owed"}}),
    }


def figures(cast: Cast) -> tuple[object, ...]:
    """All that the closed month could have lost."""
    return (
        content_of(cast.teacher, SEPTEMBER),
        list(ServiceLine.objects.values()),
        list(CalendarEntry.objects.values()),
        list(SchoolYear.objects.values()),
        list(LedgerSettings.objects.values()),
        list(MissedReason.objects.values("code", "effect")),
    )


def test_every_change_of_a_closed_month_is_refused_with_the_way_to_reopen(
    ground: Cast, entry: DeliveryEntry
) -> None:
    """And let through once the month is reopened: it is the closing that refuses, nothing else."""
    make_entry(ground, date(7), "closed", ground.north)
    make_cycle(ground.north)
    sign(ground)
    close(ground)
    before = figures(ground)
    for name, change in refused_in(ground, entry).items():
        with pytest.raises(ApplicationError) as refused:
            change()
        assert refused.value.code == "month_closed", name
        assert "September 2026" in refused.value.message
        assert "Months of the log" in refused.value.message
        for row in (ground.line, ground.north.rotations.get(), entry):
            row.refresh_from_db()
        assert figures(ground) == before, name
    reopen(ground)
    changes = refused_in(ground, entry)
    for name in ("a new entry", "a correction", "a closed day", "the rule for short weeks", "another frequency"):
        assert changes[name](), name


def test_rows_that_owe_minutes_of_a_closed_month_are_not_deleted(ground: Cast) -> None:
    """A service nobody logged yet, and a plan with it."""
    close(ground, reason="Nobody signs")
    assert code_of(lambda: service_line_delete(actor=ground.coordinator, row=ground.line)) == "month_closed"
    assert code_of(lambda: plan_delete(actor=ground.coordinator, row=ground.plan)) == "month_closed"
    assert ServiceLine.objects.filter(pk=ground.line.pk).exists()


def test_what_touches_no_closed_day_goes_on(closed: Cast) -> None:
    """October, a mate's September, a note of the calendar that closes nothing, a line's end in the future."""
    log_line(closed, IN_OCTOBER)
    day = {"first_date": IN_OCTOBER, "last_date": IN_OCTOBER, "kind": "closed"}
    calendar_entry_save(actor=closed.coordinator, row=CalendarEntry(), values=day)
    delay = {"first_date": date(4), "last_date": date(4), "kind": "delayed_opening"}
    calendar_entry_save(actor=closed.coordinator, row=CalendarEntry(), values=delay)
    service_line_save(actor=closed.coordinator, row=closed.line, values={"end": dt.date(2026, 12, 18)})
    service_line_save(actor=closed.coordinator, row=closed.line, values={"setting": "one_to_one"})
    ledger_settings_save(actor=closed.coordinator, values={"make_up_days": 60})


def test_the_same_tap_sent_again_after_closing_is_answered_not_refused(ground: Cast) -> None:
    """A phone that was offline sends once more: it is stored, so there is nothing to hold up."""
    item = LogItem(uuid.uuid4(), ground.line, IN_SEPTEMBER, 30)
    first = delivery_log(actor=ground.teacher, item=item, now=AFTER)
    sign(ground)
    close(ground)
    assert delivery_log(actor=ground.teacher, item=item, now=AFTER).pk == first.pk


# ---- amendments ------------------------------------------------------------------------------------------


def test_where_the_district_amends_a_correction_stands_beside_the_original(
    closed: Cast, entry: DeliveryEntry
) -> None:
    """It says why; what was closed stays as it was, and the month shows both."""
    month_rules_save(actor=closed.coordinator, afterwards="amend")
    told: dict[str, Any] = {"entry": entry, "expected_revision": entry.revision, "now": AFTER}
    with pytest.raises(ValidationError, match="why it is amended"):
        delivery_correct(actor=closed.teacher, outcome=Outcome(20, "medical"), **told)
    delivery_correct(actor=closed.teacher, outcome=Outcome(20, "student_absent", "Read it wrong"), **told)
    view = month_view(closed.teacher, SEPTEMBER, OCTOBER)
    session = view.since[0]
    assert (session.before, session.now) == ("0 of 30 minutes, medical", "20 of 30 minutes, student absent")
    assert session.entry == entry.pk
    assert view.row.is_closed
    assert digest_of(view.kept.content) == view.kept.digest  # type: ignore[union-attr]  # it was closed
    assert "delivered" in view.since[-1].before, "the month's figures as well"


def test_an_amended_service_shows_what_it_does_to_the_closed_figures(closed: Cast) -> None:
    """2 x 30 became 3 x 30 for the past: the figures of before beside those of now."""
    month_rules_save(actor=closed.coordinator, afterwards="amend")
    before = content_of(closed.teacher, SEPTEMBER)["figures"][0]["owed"]
    service_line_save(actor=closed.coordinator, row=closed.line, values={"statement": "3 x 30 min/week"})
    (found,) = month_view(closed.teacher, SEPTEMBER, OCTOBER).since
    assert f"{before} owed" in found.before
    assert found.before != found.now


def test_only_a_coordinator_chooses_what_closed_months_do(ground: Cast) -> None:
    """The teacher doesn't."""
    assert code_of(lambda: month_rules_save(actor=ground.teacher, afterwards="amend")) == "not_for_your_role"


# ---- the list, and what is pure --------------------------------------------------------------------------


def test_the_list_of_months_says_how_far_each_is(closed: Cast) -> None:
    """September is closed, October runs."""
    publish_session(IN_OCTOBER, [closed.line])
    october, september = months_of(closed.teacher, IN_OCTOBER)
    assert (september.row.status, september.is_over) == ("closed", True)
    assert (october.row.status, october.is_over, october.signed) == ("open", False, None)
    assert september.signed is not None
    assert september.closed is not None


def test_planned_sessions_without_a_log_are_in_what_is_signed(ground: Cast) -> None:
    """Logging one later is a difference."""
    session = publish_session(IN_SEPTEMBER, [ground.line])
    before = content_of(ground.teacher, SEPTEMBER)
    assert [row["session"] for row in before["not_logged"]] == [f"{session.uid}/{ground.line.pk}"]
    item = LogItem(uuid.uuid4(), ground.line, IN_SEPTEMBER, 30, start=session.start, session_uid=session.uid)
    delivery_log(actor=ground.teacher, item=item, now=AFTER)
    after = content_of(ground.teacher, SEPTEMBER)
    assert after["not_logged"] == []
    assert {one.what for one in differences(before, after, {})} >= {"session", "not logged"}


def test_somebody_elses_month_is_not_mine(closed: Cast, mates_line: ServiceLine) -> None:
    """The mate logs on in the teacher's closed September."""
    item = LogItem(uuid.uuid4(), mates_line, IN_SEPTEMBER, 30)
    assert delivery_log(actor=closed.mate, item=item, now=AFTER).pk


@pytest.fixture
def mates_line(ground: Cast) -> ServiceLine:
    """A service that the mate gives."""
    return make_line(ground, "M9", teacher=ground.mate)


D = dt.date


@pytest.mark.parametrize(
    ("was", "now", "same", "found"),
    [
        (None, (D(2026, 9, 1), D(2026, 9, 9)), True, [(D(2026, 9, 1), D(2026, 9, 9))]),
        ((D(2026, 9, 1), None), None, True, [(D(2026, 9, 1), None)]),
        ((D(2026, 9, 1), D(2026, 9, 9)), (D(2026, 9, 1), D(2026, 9, 9)), True, []),
        ((D(2026, 9, 1), D(2026, 9, 9)), (D(2026, 9, 1), D(2026, 9, 9)), False, [(D(2026, 9, 1), D(2026, 9, 9))]),
        ((D(2026, 9, 1), D(2026, 9, 9)), (D(2026, 9, 3), D(2026, 9, 9)), True, [(D(2026, 9, 1), D(2026, 9, 2))]),
        ((D(2026, 9, 1), D(2026, 9, 9)), (D(2026, 9, 1), D(2026, 9, 5)), True, [(D(2026, 9, 6), D(2026, 9, 9))]),
        ((D(2026, 9, 1), None), (D(2026, 9, 1), D(2026, 9, 5)), True, [(D(2026, 9, 6), None)]),
        (
            (D(2026, 9, 3), D(2026, 9, 5)),
            (D(2026, 9, 1), None),
            True,
            [(D(2026, 9, 1), D(2026, 9, 2)), (D(2026, 9, 6), None)],
        ),
    ],
)
def test_days_that_a_change_concerns(was: Any, now: Any, same: bool, found: Any) -> None:
    """Only the days between old and new ends where nothing else differs; worked out by hand."""
    assert list(changed_days(was, now, same=same)) == found


def test_people_see_their_own_months(closed: Cast) -> None:
    """The mate none of the teacher's, the coordinator all, a stranger none."""
    counts = {
        person.username: LogMonth.objects.visible_to(person).count()
        for person in (closed.teacher, closed.mate, closed.coordinator, closed.stranger)
    }
    assert list(counts.values()) == [1, 0, 1, 0]
    assert isinstance(closed.teacher, Person)


def test_a_month_keeps_the_sessions_of_whoever_gave_them(ground: Cast, entry: DeliveryEntry) -> None:
    # A service written down for another teacher afterward makes nobody else's sessions of those that were given.
    ServiceLine.objects.filter(pk=entry.service_line_id).update(provider=ground.mate)
    assert [one["entry"] for one in content_of(ground.teacher, SEPTEMBER)["entries"]] == [entry.pk]
    assert content_of(ground.mate, SEPTEMBER)["entries"] == []
