"""Rules of minutes by date: past days keep theirs, a change is shown before it is saved, and can be taken back."""

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from caseload.delivery.models import LedgerSettings, MissedReason, ReasonEffect
from caseload.delivery.selectors.log import rule_book_of, settings_of, undecided_entries
from caseload.delivery.services.log import decision_record
from caseload.delivery.services.rules import ledger_settings_delete, ledger_settings_save, reasons_save
from caseload.delivery.told import Outcome
from caseload.ledger.terms import Effect, ShortWeek
from schedule.log.selectors.ledger import student_ledger
from schedule.log.services import rules_effects
from schedule.reports.selectors.shared import rules_of
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import YEAR_START, date, make_entry, make_ground
from tests.schedule.log_builders import bring_to_now, evening_of, log_line, publish_session

pytestmark = pytest.mark.django_db
NOVEMBER = dt.date(2026, 11, 2)
"""A Monday."""


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """2 x 30 a week from September 1; one closed day in a week of September and in one of November."""
    make_ground(cast)
    make_entry(cast, date(2), "closed")
    make_entry(cast, dt.date(2026, 11, 4), "closed")
    ledger_settings_save(actor=cast.coordinator, values={"counts_from": YEAR_START, "short_week": "whole"})
    return cast


def owed_by_week(cast: Cast) -> dict[dt.date, int]:
    """Owed in each week up to November 8, by its Monday."""
    (line,) = student_ledger(cast.teacher, cast.student, dt.date(2026, 11, 8)).lines
    assert line.ledger is not None, line.problem
    return {one.span.first: one.owed for one in line.ledger.periods}


def test_a_week_owes_by_the_rules_of_its_days(ground: Cast) -> None:
    """N.J.S.A. 18A:35-8, "proportionately less when holidays fall within the week", from November on.

    Four of five days are in session in both weeks: 60 stay 60 in September, and are 60 x 4 / 5 = 48 in November.
    """
    ledger_settings_save(actor=ground.coordinator, values={"first_day": NOVEMBER, "short_week": "proportion"})
    owed = owed_by_week(ground)
    assert (owed[date(0)], owed[NOVEMBER]) == (60, 48)
    assert [(row.first_day, row.short_week) for row in LedgerSettings.objects.order_by("first_day")][1:] == [
        (NOVEMBER, "proportion")
    ]


def test_taking_rules_back_gives_the_figures_of_before(ground: Cast) -> None:
    """From their first day on those before hold again."""
    before = owed_by_week(ground)
    row = ledger_settings_save(actor=ground.coordinator, values={"first_day": NOVEMBER, "short_week": "proportion"})
    assert owed_by_week(ground) != before
    ledger_settings_delete(actor=ground.coordinator, row=row)
    assert owed_by_week(ground) == before


def test_new_rules_begin_like_those_that_hold(ground: Cast) -> None:
    """Only what is said changes; saved on the same day again it is corrected, not doubled."""
    values = {"least_minutes": 25, "carry_ahead": True, "backdating_days": 44}
    ledger_settings_save(actor=ground.coordinator, values=values)
    for days in (40, 50):
        ledger_settings_save(actor=ground.coordinator, values={"first_day": NOVEMBER, "make_up_days": days})
    before, row = LedgerSettings.objects.order_by("first_day")
    own = {"id", "first_day", "make_up_days"}
    names = [field.attname for field in LedgerSettings._meta.concrete_fields if field.attname not in own]
    assert {name: getattr(row, name) for name in names} == {name: getattr(before, name) for name in names}
    assert (row.short_week, row.counts_from, row.make_up_days) == ("whole", YEAR_START, 50)
    assert settings_of(ground.district, NOVEMBER).make_up_days == 50
    assert settings_of(ground.district, NOVEMBER - dt.timedelta(days=1)).make_up_days == 30


def test_before_a_districts_first_rules_those_that_ship_hold(cast: Cast) -> None:
    """The book begins since ever, whatever the district said later."""
    shipped = ShortWeek(LedgerSettings().short_week)
    other = ShortWeek.PROPORTION if shipped is not ShortWeek.PROPORTION else ShortWeek.WHOLE
    ledger_settings_save(actor=cast.coordinator, values={"first_day": NOVEMBER, "short_week": other.value})
    book = rule_book_of(cast.district)
    assert book.on(date(0)).short_week is shipped
    assert book.on(NOVEMBER).short_week is other


def test_a_reason_does_what_it_did_on_the_day_of_the_session(ground: Cast) -> None:
    """An absence of September stays not owed; one of November is owed from then on."""
    absent = Outcome(reason="student_absent")
    for day in (date(0), NOVEMBER):
        log_line(ground, day, outcome=absent)
    change: dict[str, Any] = {"student_absent": {"effect": "owed", "first_day": NOVEMBER}}
    reasons_save(actor=ground.coordinator, values=change)
    (line,) = student_ledger(ground.teacher, ground.student, dt.date(2026, 11, 8)).lines
    assert line.ledger is not None
    not_owed = {one.span.first: one.not_owed for one in line.ledger.periods}
    assert (not_owed[date(0)], not_owed[NOVEMBER]) == (30, 0)
    assert MissedReason.objects.get(code="student_absent").effect == "not_owed"
    change["student_absent"]["effect"] = "not_owed"
    reasons_save(actor=ground.coordinator, values=change)
    assert not ReasonEffect.objects.exists(), "what it did before, from the same day: taken back"


def test_a_decision_of_the_team_is_never_overridden_by_a_later_table(ground: Cast) -> None:
    """The team decided that the minutes aren't owed; the table says later, for all days, that they are."""
    entry = log_line(ground, date(0), outcome=Outcome(reason="medical"))
    decision_record(
        actor=ground.teacher, entry=entry, effect="not_owed", decided_by="The plan's team", decided_on=date(1),
        expected_revision=entry.revision, now=evening_of(date(1)),
    )  # fmt: skip

    def not_owed() -> int:
        return student_ledger(ground.teacher, ground.student, date(6)).direct.not_owed

    assert not_owed() == 30
    for values in ({"effect": "owed"}, {"effect": "not_owed"}, {"effect": "team_decides"}):
        reasons_save(actor=ground.coordinator, values={"medical": values})
        assert not_owed() == 30, values


def test_what_waits_for_the_team_goes_by_the_table_of_the_day(ground: Cast) -> None:
    """Left to the team until November: October's entry waits, November's doesn't, and can't be decided."""
    before, after = (log_line(ground, day, outcome=Outcome(reason="medical")) for day in (date(21), NOVEMBER))
    reasons_save(actor=ground.coordinator, values={"medical": {"effect": "owed", "first_day": NOVEMBER}})
    assert [one.entry for one in undecided_entries(ground.teacher)] == [before]
    with pytest.raises(ApplicationError) as refused:
        decision_record(
            actor=ground.teacher, entry=after, effect="owed", decided_by="Team", decided_on=NOVEMBER,
            expected_revision=after.revision, now=evening_of(NOVEMBER),
        )  # fmt: skip
    assert refused.value.code == "nothing_to_decide"
    assert rule_book_of(ground.district).on(NOVEMBER).effects["medical"] is Effect.OWED


def test_reports_say_what_held_before_and_what_from_when(ground: Cast) -> None:
    """The rule of before stands first, the later one with its day; a report up to October knows only the first."""
    ledger_settings_save(actor=ground.coordinator, values={"first_day": NOVEMBER, "short_week": "proportion"})
    told = " ".join(rules_of(ground.district, dt.date(2026, 11, 30)))
    assert "A week with closed days owes: the whole week's minutes, if any day is in session." in told
    assert "From November 2, 2026: A week with closed days owes: in proportion to the days in session." in told
    assert "November" not in " ".join(rules_of(ground.district, dt.date(2026, 10, 31)))


# ---- shown before saving -----------------------------------------------------------------------------------


@pytest.fixture
def now_cast(cast: Cast) -> Cast:
    """A school year around today; last week had one closed day, and counting begins two weeks ago."""
    today = timezone.localdate()
    bring_to_now(cast, today)
    monday = today - dt.timedelta(days=today.weekday())
    make_entry(cast, monday - dt.timedelta(days=5), "closed")
    publish_session(monday - dt.timedelta(days=7), [cast.line])
    values = {"counts_from": monday - dt.timedelta(days=14), "short_week": "whole"}
    ledger_settings_save(actor=cast.coordinator, values=values)
    return cast


def test_a_change_is_shown_before_it_is_saved_and_taken_back_on_the_page(now_cast: Cast) -> None:
    """The first press shows figures and saves nothing; the second saves; taking back is one page away."""
    client = Client()
    client.force_login(now_cast.coordinator)
    address = reverse("ledger_rules")
    since = timezone.localdate() - dt.timedelta(days=20)
    sent: dict[str, Any] = {"save_rules": 1, "first_day": since, "short_week": "proportion", "backdating_days": 30,
            "least_minutes": 10, "make_up_days": 30, "usual_times_worth": 60,
            "counts_from": settings_of(now_cast.district).counts_from}  # fmt: skip
    shown = client.post(address, sent)
    assert shown.status_code == 200
    assert "Nothing is saved yet" in shown.content.decode()
    assert "Owed to date" in shown.content.decode()
    assert LedgerSettings.objects.count() == 1
    sent["effects_seen"] = shown.context["effects_seen"]
    assert client.post(address, sent).status_code == 302
    row = LedgerSettings.objects.get(first_day=since)
    asked = client.get(reverse("ledger_settings_delete", args=[row.pk])).content.decode()
    assert "Owed to date" in asked
    assert client.post(reverse("ledger_settings_delete", args=[row.pk])).status_code == 302
    assert LedgerSettings.objects.count() == 1


def test_what_is_foreseen_is_what_saving_does(now_cast: Cast) -> None:
    """The sums that are told, and nothing is left of the rehearsal."""
    today = timezone.localdate()
    values = {"first_day": today - dt.timedelta(days=20), "short_week": "proportion"}

    def owed() -> int:
        return student_ledger(now_cast.coordinator, now_cast.student, today).direct.owed

    before = owed()
    told = rules_effects(
        actor=now_cast.coordinator,
        act=lambda: ledger_settings_save(actor=now_cast.coordinator, values=values),
    )
    assert owed() == before
    ledger_settings_save(actor=now_cast.coordinator, values=values)
    assert f"Owed to date: {before} minutes now, {owed()} then." in told
    assert owed() != before


def test_the_api_has_dated_rules_with_their_effects(now_cast: Cast) -> None:
    """List, foresee, add, take back; a reason's effect from a day on."""
    coordinator, since = Api(now_cast.coordinator), str(timezone.localdate() - dt.timedelta(days=20))
    body: dict[str, Any] = {"first_day": since, "short_week": "proportion"}
    told = coordinator.post("ledger-rules/new/effects/", 200, **body)["effects"]
    made = coordinator.post("ledger-rules/", **body)
    assert told
    assert coordinator.post("ledger-rules/", 400, **body)["fields"]
    assert len(coordinator.get("ledger-rules/")["results"]) == 2
    Api(now_cast.teacher).delete(f"ledger-rules/{made['id']}/", 403)
    coordinator.delete(f"ledger-rules/{made['id']}/")
    changed = coordinator.patch("missed-reasons/testing/", effect="not_owed", first_day=since)
    assert (changed["effect"], changed["effects"]) == ("owed", [{"first_day": since, "effect": "not_owed"}])
