"""The delivery log: one tap, exceptions, corrections, the same entry twice, days marked at once, who may."""

import datetime as dt
import uuid
from dataclasses import replace

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Substitution
from caseload.delivery.models import DeliveryEntry, DeliveryVersion, LedgerSettings, MissedReason, TeamDecision
from caseload.delivery.selectors.log import decided_entries, entry_get, undecided_entries
from caseload.delivery.services.log import decision_record, delivery_correct, delivery_log
from caseload.delivery.services.rules import ledger_settings_save, reasons_save
from caseload.delivery.told import LogItem, Outcome
from caseload.ledger.defaults import DEFAULT_REASONS
from caseload.plans.models import ServiceLine
from schedule.calendar.models import CalendarEntry, Happening
from schedule.log.selectors.sessions import day_sessions, unlogged_sessions
from schedule.log.services import day_mark, session_log
from tests.conftest import Cast, date_there
from tests.schedule.builders import MONDAY, date, make_line
from tests.schedule.log_builders import evening_of, log_line, log_session, publish_session

pytestmark = pytest.mark.django_db

ABSENT = Outcome(reason="student_absent")


@pytest.fixture
def lines(cast: Cast) -> list[ServiceLine]:
    """Three students of one class."""
    return [make_line(cast, code) for code in ("S11", "S12", "S13")]


def told(entry: DeliveryEntry) -> list[tuple[int, int | None, str]]:
    """An entry's versions: number, minutes, reason."""
    rows = entry.versions.order_by("number").select_related("reason")
    return [(row.number, row.delivered_minutes, row.reason.code if row.reason else "") for row in rows]


def test_one_tap_logs_a_whole_class_with_exceptions_by_student(cast: Cast, lines: list[ServiceLine]) -> None:
    """As planned for everyone; one was absent, one came for 20 of 30 minutes."""
    session = publish_session(MONDAY, lines)
    late = Outcome(20, "short_day", "Came from the bus.")
    entries = log_session(cast.teacher, session, {lines[1].pk: ABSENT, lines[2].pk: late})
    assert [told(one) for one in entries] == [
        [(1, 30, "")],
        [(1, 0, "student_absent")],
        [(1, 20, "short_day")],
    ]
    assert {(one.planned_minutes, one.session_uid, one.date) for one in entries} == {(30, session.uid, MONDAY)}
    assert day_sessions(cast.teacher, cast.teacher, MONDAY)[0].is_logged


def test_the_same_sending_twice_is_stored_once(cast: Cast, lines: list[ServiceLine]) -> None:
    """A phone that got no answer sends again: the same entries come back."""
    session, client_id = publish_session(MONDAY, lines), uuid.uuid4()
    first, second = (
        session_log(
            actor=cast.teacher,
            session=session,
            client_id=client_id,
            exceptions={lines[0].pk: ABSENT},
            now=evening_of(MONDAY),
        )
        for _ in range(2)
    )
    assert [one.pk for one in first] == [one.pk for one in second]
    assert (DeliveryEntry.objects.count(), DeliveryVersion.objects.count()) == (3, 3)


def test_an_id_that_says_something_else_is_refused(cast: Cast) -> None:
    """Stored once means: what is stored stays."""
    item = LogItem(uuid.uuid4(), cast.line, MONDAY, 30)
    delivery_log(actor=cast.teacher, item=item, now=evening_of(MONDAY))
    with pytest.raises(ApplicationError) as refused:
        delivery_log(actor=cast.teacher, item=replace(item, outcome=ABSENT), now=evening_of(MONDAY))
    assert refused.value.code == "client_id_used"


def test_a_session_that_somebody_logged_is_not_logged_again(cast: Cast, lines: list[ServiceLine]) -> None:
    """By another id, of another person: the first log stays. Those without a log are added."""
    session = publish_session(MONDAY, lines[:2])
    log_session(cast.teacher, session)
    with pytest.raises(ApplicationError) as refused:
        log_session(cast.coordinator, session)
    assert refused.value.code == "already_logged"
    with pytest.raises(ApplicationError, match="already"):
        log_session(cast.coordinator, session, {lines[0].pk: ABSENT})


def test_a_correction_adds_a_version_and_shows_who_when_before_and_after(cast: Cast) -> None:
    """Nothing is edited in place."""
    entry = log_line(cast, MONDAY)
    before = DeliveryVersion.objects.get()
    delivery_correct(
        actor=cast.coordinator, entry=entry, outcome=ABSENT, expected_revision=1, now=evening_of(date(1))
    )
    kept = entry_get(cast.teacher, entry.pk)
    first, second = kept.versions.all()
    assert (first.pk, first.delivered_minutes, first.logged_by) == (before.pk, 30, cast.teacher)
    assert first.logged_at == before.logged_at
    assert (second.delivered_minutes, second.logged_by, second.replaces) == (0, cast.coordinator, first)
    assert (kept.version, kept.revision) == (2, 2)


def test_the_second_of_two_correctors_is_told_and_overwrites_nothing(cast: Cast) -> None:
    """Both saw revision 1."""
    entry = log_line(cast, MONDAY)
    mine, yours = DeliveryEntry.objects.get(), DeliveryEntry.objects.get()
    delivery_correct(actor=cast.teacher, entry=mine, outcome=ABSENT, expected_revision=1, now=evening_of(MONDAY))
    with pytest.raises(ApplicationError) as refused:
        delivery_correct(
            actor=cast.coordinator,
            entry=yours,
            outcome=Outcome(10, "testing"),
            expected_revision=1,
            now=evening_of(MONDAY),
        )
    assert refused.value.code == "changed_meanwhile"
    assert told(entry) == [(1, 30, ""), (2, 0, "student_absent")]


def test_a_correction_sent_twice_is_stored_once(cast: Cast) -> None:
    """By its own client id."""
    entry, client_id = log_line(cast, MONDAY), uuid.uuid4()
    for _ in range(2):
        delivery_correct(
            actor=cast.teacher,
            entry=entry,
            outcome=ABSENT,
            expected_revision=1,
            client_id=client_id,
            now=evening_of(MONDAY),
        )
    assert told(entry) == [(1, 30, ""), (2, 0, "student_absent")]


def test_a_mistaken_tap_is_withdrawn_and_the_session_logged_again(cast: Cast) -> None:
    """The session waits for its log again; its next log is the entry's next version."""
    session = publish_session(MONDAY, [cast.line])
    (entry,) = log_session(cast.teacher, session)
    until, now = date(4), evening_of(date(1))
    assert unlogged_sessions(cast.teacher, cast.teacher, until, now) == ()
    delivery_correct(actor=cast.teacher, entry=entry, outcome=None, expected_revision=1, now=now)
    assert [one.uid for one in unlogged_sessions(cast.teacher, cast.teacher, until, now)] == [session.uid]
    log_session(cast.teacher, session, {cast.line.pk: ABSENT})
    assert told(entry) == [(1, 30, ""), (2, None, ""), (3, 0, "student_absent")]
    assert DeliveryEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("outcome", "field"),
    [
        (Outcome(20), "reason"),
        (Outcome(30, "testing"), "reason"),
        (Outcome(0, "no_such_reason"), "reason"),
        (Outcome(481, ""), "delivered_minutes"),
        (Outcome(-1, "testing"), "delivered_minutes"),
        (Outcome(0, "testing", "x" * 1001), "note"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(cast: Cast, outcome: Outcome, field: str) -> None:
    """And nothing is stored."""
    with pytest.raises(ValidationError) as refused:
        log_line(cast, MONDAY, 30, outcome)
    assert set(refused.value.error_dict) == {field}
    assert not DeliveryEntry.objects.exists()


def test_the_future_and_the_long_past_are_refused(cast: Cast) -> None:
    """The district sets how far back; a coordinator isn't held to it."""
    ledger_settings_save(actor=cast.coordinator, values={"backdating_days": 5})
    item = LogItem(uuid.uuid4(), cast.line, MONDAY, 30)
    for now in (evening_of(MONDAY - dt.timedelta(days=1)), evening_of(date(6))):
        with pytest.raises(ValidationError) as refused:
            delivery_log(actor=cast.teacher, item=item, now=now)
        assert set(refused.value.error_dict) == {"date"}
    delivery_log(actor=cast.coordinator, item=item, now=evening_of(date(6)))
    entry = DeliveryEntry.objects.get()
    with pytest.raises(ValidationError, match="Ask the coordinator"):
        delivery_correct(
            actor=cast.teacher, entry=entry, outcome=ABSENT, expected_revision=1, now=evening_of(date(6))
        )
    other = replace(item, client_id=uuid.uuid4(), planned_minutes=20)
    assert delivery_log(actor=cast.teacher, item=other, now=evening_of(date(5))).pk


def test_what_a_closing_makes_fall_out_is_logged_in_one_step(cast: Cast, lines: list[ServiceLine]) -> None:
    """Of all teachers, for the coordinator; what was logged before, and what is held elsewhere, stays as it was."""
    CalendarEntry.objects.create(
        district=cast.district, building=cast.north, first_date=MONDAY, last_date=MONDAY, kind="closed"
    )
    elsewhere = make_line(cast, "S21", building=cast.south)
    mates = make_line(cast, "S22", teacher=cast.mate)
    done = publish_session(MONDAY, [lines[0]], "8:30", "9:00")
    publish_session(MONDAY, lines[1:], "9:20", "9:50")
    publish_session(MONDAY, [mates], "9:20", "9:50")
    publish_session(MONDAY, [elsewhere], "13:00", "13:30")
    log_session(cast.teacher, done)
    marked = day_mark(
        actor=cast.coordinator,
        date=MONDAY,
        client_id=uuid.uuid4(),
        now=evening_of(MONDAY),
    )
    assert (marked.sessions, len(marked.entries)) == (2, 3)
    assert {told(one)[0][1:] for one in marked.entries} == {(0, "school_closed")}
    assert {one.service_line_id for one in marked.entries} == {lines[1].pk, lines[2].pk, mates.pk}


def test_a_teacher_who_is_away_logs_the_own_day_only(cast: Cast, lines: list[ServiceLine]) -> None:
    """In every building; sent twice it is stored once; a second time there is nothing left."""
    Happening.objects.create(
        district=cast.district, kind="away", teacher=cast.teacher, first_date=MONDAY, last_date=MONDAY,
        said_by=cast.coordinator,
    )  # fmt: skip
    mates = make_line(cast, "S22", teacher=cast.mate)
    publish_session(MONDAY, lines[:1])
    publish_session(MONDAY, [make_line(cast, "S21", building=cast.south)], "13:00", "13:30")
    publish_session(MONDAY, [mates])

    def mark(client_id: uuid.UUID) -> set[int]:
        marked = day_mark(
            actor=cast.teacher,
            teacher=cast.teacher,
            date=MONDAY,
            client_id=client_id,
            now=evening_of(MONDAY),
        )
        return {one.pk for one in marked.entries}

    client_id = uuid.uuid4()
    assert mark(client_id) == mark(client_id)
    assert DeliveryEntry.objects.count() == 2
    with pytest.raises(ApplicationError) as refused:
        mark(uuid.uuid4())
    assert refused.value.code == "nothing_to_mark"


def test_the_team_decides_with_name_date_and_note(cast: Cast) -> None:
    """Open until decided; a later decision counts in place of the one before, and both stay."""
    entry = log_line(cast, MONDAY, 30, Outcome(reason="behaviour"))
    assert [row.entry_id for row in undecided_entries(cast.teacher)] == [entry.pk]
    for revision, effect in ((1, "not_owed"), (2, "owed")):
        decision_record(
            actor=cast.teacher,
            entry=entry,
            effect=effect,
            decided_by="Plan team, meeting of the 18th",
            decided_on=date(4),
            note="After the talk with the family.",
            expected_revision=revision,
            now=evening_of(date(4)),
        )
    assert undecided_entries(cast.teacher) == []
    assert [row.effect for row in decided_entries(cast.teacher)] == ["owed", "not_owed"]
    with pytest.raises(ApplicationError) as refused:
        decision_record(
            actor=cast.coordinator,
            entry=entry,
            effect="owed",
            decided_by="Plan team",
            decided_on=date(4),
            expected_revision=2,
            now=evening_of(date(4)),
        )
    assert refused.value.code == "changed_meanwhile"
    assert TeamDecision.objects.count() == 2


def test_there_is_nothing_to_decide_where_the_table_decides(cast: Cast) -> None:
    """A reason that the district's table settles."""
    entry = log_line(cast, MONDAY, 30, ABSENT)
    with pytest.raises(ApplicationError) as refused:
        decision_record(
            actor=cast.teacher,
            entry=entry,
            effect="owed",
            decided_by="Team",
            decided_on=MONDAY,
            expected_revision=1,
            now=evening_of(MONDAY),
        )
    assert refused.value.code == "nothing_to_decide"


def test_the_shipped_table_covers_the_reasons_and_the_district_changes_it(cast: Cast) -> None:
    """The reasons that the trade knows (common practice, no source), then the district's own words and effects."""
    log_line(cast, MONDAY, 30, ABSENT)
    assert set(MissedReason.objects.values_list("code", flat=True)) == {one.code for one in DEFAULT_REASONS}
    assert len(DEFAULT_REASONS) == 15
    reasons_save(
        actor=cast.coordinator,
        values={"student_absent": {"effect": "owed"}, "fire_drill": {"words": "Fire drill", "effect": "not_owed"}},
    )
    effects = dict(MissedReason.objects.values_list("code", "effect"))
    assert (effects["student_absent"], effects["fire_drill"]) == ("owed", "not_owed")
    with pytest.raises(ApplicationError) as refused:
        reasons_save(actor=cast.teacher, values={"testing": {"effect": "not_owed"}})
    assert refused.value.status == 403


def test_a_district_has_its_rules_once(cast: Cast) -> None:
    """Saved twice, one row; each change in the audit."""
    for days in (10, 20):
        ledger_settings_save(actor=cast.coordinator, values={"make_up_days": days})
    assert LedgerSettings.objects.get().make_up_days == 20
    assert AuditEntry.objects.filter(action="ledger_settings_save").count() == 2


@pytest.mark.parametrize(
    ("who", "status"), [("mate", 404), ("stranger", 404), ("office", 403), ("substitute", 404)]
)
def test_others_log_nothing(cast: Cast, who: str, status: int) -> None:
    """A mate, a stranger and a substitute who covers nobody find nothing there; an office's role doesn't log."""
    session = publish_session(MONDAY, [cast.line])
    actor = getattr(cast, who)
    entry = log_line(cast, date(1))
    with pytest.raises(ApplicationError) as refused:
        log_session(actor, session)
    assert refused.value.status == status
    with pytest.raises(ApplicationError) as refused:
        delivery_correct(actor=actor, entry=entry, outcome=ABSENT, expected_revision=1, now=evening_of(date(1)))
    assert refused.value.status == status
    assert not DeliveryEntry.objects.visible_to(actor).exists()
    assert not DeliveryVersion.objects.visible_to(actor).exists()


def test_a_substitute_logs_for_the_covered_teacher_while_covering(cast: Cast) -> None:
    """On days of the substitution and no others. What a substitute may see is asked by the clock."""
    now = timezone.now()
    today = date_there()
    yesterday = today - dt.timedelta(days=1)
    zone = "UTC"
    cast.north.time_zone = zone
    cast.north.save()
    ServiceLine.objects.update(start=today - dt.timedelta(days=30), end=today + dt.timedelta(days=30))
    covered, before = publish_session(today, [cast.line]), publish_session(yesterday, [cast.line])
    Substitution.objects.create(substitute=cast.substitute, teacher=cast.teacher, first_date=today, last_date=today)
    (entry,) = session_log(actor=cast.substitute, session=covered, client_id=uuid.uuid4(), now=now)
    assert entry.versions.get().logged_by == cast.substitute
    with pytest.raises(ApplicationError) as refused:
        session_log(actor=cast.substitute, session=before, client_id=uuid.uuid4(), now=now)
    assert refused.value.status == 404
    assert [one.uid for one in day_sessions(cast.substitute, cast.teacher, today)] == [covered.uid]
    assert day_sessions(cast.substitute, cast.teacher, yesterday) == ()


def test_no_note_and_no_name_stands_in_the_audit_or_the_log(cast: Cast, caplog: pytest.LogCaptureFixture) -> None:
    """The audit holds ids, minutes and codes; the server's log holds none of it."""
    caplog.set_level("DEBUG")
    log_line(cast, MONDAY, 30, Outcome(0, "medical", "Saw the nurse with Ola."))
    audit = str(list(AuditEntry.objects.values_list("changes", flat=True)))
    for secret in ("nurse", "Ola", cast.student.last_name):
        assert secret not in audit
        assert secret not in "".join(
            record.getMessage() for record in caplog.records if record.name != "django.db.backends"
        )


@pytest.mark.parametrize(
    ("day", "zone"),
    [
        (dt.date(2026, 11, 1), "America/New_York"),  # the clock goes back (Pub. L. 109-58, section 110)
        (dt.date(2027, 3, 14), "America/New_York"),  # and forward
        (dt.date(2028, 2, 29), "America/Chicago"),  # a leap day
        (dt.date(2026, 12, 31), "America/New_York"),  # the last day of a year
    ],
)
def test_today_is_the_buildings_day(cast: Cast, day: dt.date, zone: str) -> None:
    """From local midnight on the day can be logged, a minute before it can't: whatever the server's clock says."""
    cast.north.time_zone = zone
    cast.north.save()
    midnight = dt.datetime.combine(day, dt.time(), evening_of(day, zone).tzinfo)
    item = LogItem(uuid.uuid4(), cast.line, day, 30)
    with pytest.raises(ValidationError, match="in the future"):
        delivery_log(actor=cast.teacher, item=item, now=midnight.astimezone(dt.UTC) - dt.timedelta(minutes=1))
    delivery_log(actor=cast.teacher, item=item, now=midnight.astimezone(dt.UTC))
    assert DeliveryEntry.objects.get().date == day


def test_a_teacher_in_another_zone_than_the_building(cast: Cast) -> None:
    """The district is in New York the building in Chicago: half past midnight is still yesterday there."""
    cast.north.time_zone = "America/Chicago"
    cast.north.save()
    now = evening_of(MONDAY).replace(hour=0, minute=30)
    with pytest.raises(ValidationError, match="in the future"):
        delivery_log(actor=cast.teacher, item=LogItem(uuid.uuid4(), cast.line, MONDAY, 30), now=now)
    session = publish_session(date(1), [cast.line], "8:30", "9:00")
    # Nine o'clock in New York is eight in Chicago: the session is still to be held.
    early = dt.datetime.combine(date(1), dt.time(9, 0), evening_of(MONDAY).tzinfo)
    assert unlogged_sessions(cast.teacher, cast.teacher, date(1), early) == ()
    late = early + dt.timedelta(hours=1)
    assert [one.uid for one in unlogged_sessions(cast.teacher, cast.teacher, date(1), late)] == [session.uid]
