"""Services that change from a date, that were always wrong, that are renewed: their minutes, and who is told.

The figures are worked out by hand from the plans' words: 3 x 30 minutes are 90 a week, 4 x 30 are 120; two terms in
one week share its five days. That an amendment doesn't rewrite the past is common practice; the plan says from
which day its services are given (34 CFR 300.320(a)(7)) and is reviewed at least annually (34 CFR 300.324(b)(1)(i)).
"""

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.rows import LineLedger
from caseload.plans.hooks import effects_foreseen
from caseload.plans.models import ContinuingService, Plan, ServiceLine
from caseload.plans.services import change_undo, plan_renew, service_change, service_correct, service_line_save
from schedule.log.selectors.ledger import student_ledger
from schedule.reports.selectors.people import student_report
from schedule.weeks.models import PlannedSession
from tests.api import Api
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground
from tests.schedule.log_builders import log_session, publish_session

THURSDAY = date(24)  # October 8, 2026
NEXT_WEEK = date(28)


@pytest.fixture
def ground(cast: Cast) -> Cast:
    """The cast with a school year and bells; S01 owes 2 x 30 a week from September 1, 2026."""
    make_ground(cast)
    publish_session(MONDAY, [cast.line])
    return cast


def change(cast: Cast, day: dt.date, seen: int | None = None, **values: object) -> ServiceLine:
    """The cast's service from a day on, as seen now."""
    cast.line.service.refresh_from_db()
    seen = cast.line.service.revision if seen is None else seen
    return service_change(actor=cast.teacher, row=cast.line, from_day=day, values=values, seen=seen)


def ledger_of(cast: Cast, as_of: dt.date) -> LineLedger:
    """The one service's ledger."""
    (found,) = student_ledger(cast.coordinator, cast.student, as_of).lines
    assert found.problem == ""
    return found


def owed(cast: Cast, as_of: dt.date) -> dict[dt.date, int]:
    """Owed by the Monday of each week up to a date."""
    ledger = ledger_of(cast, as_of).ledger
    assert ledger is not None
    return {one.span.first: one.owed for one in ledger.periods}


def test_more_lessons_from_december_leave_the_fall_as_it_was(ground: Cast) -> None:
    """3 x 30 until December 6, 4 x 30 from the 7th: 90 owed in each week before, 120 in each after."""
    service_correct(actor=ground.teacher, row=ground.line, values={"statement": "3 x 30 min/week"}, seen=1)
    before = owed(ground, dt.date(2026, 12, 6))
    assert set(before.values()) == {90}
    change(ground, dt.date(2026, 12, 7), statement="4 x 30 min/week")
    after = owed(ground, dt.date(2026, 12, 13))
    assert after == before | {dt.date(2026, 12, 7): 120}


def test_a_service_handed_over_on_a_thursday_owes_the_week_once(ground: Cast) -> None:
    """The same 2 x 30 with another teacher: 60 that week and 60 the next, whoever gives them."""
    new = change(ground, THURSDAY, provider=ground.mate)
    assert (new.provider, new.start, new.end) == (ground.mate, THURSDAY, ground.plan.end)
    assert owed(ground, date(34)) == {date(7 * week): 60 for week in range(5)}


def test_other_terms_share_the_week_by_its_days(ground: Cast) -> None:
    """2 x 30 on three days of five and 4 x 30 on two: 36 and 48 are 84."""
    change(ground, THURSDAY, statement="4 x 30 min/week")
    assert owed(ground, date(27))[date(21)] == 84


def test_sessions_planned_before_the_change_follow(ground: Cast) -> None:
    """Published under the terms before, held and logged under those of their day: one service, nothing lost."""
    session = publish_session(NEXT_WEEK, [ground.line])
    new = change(ground, NEXT_WEEK, setting="small_group", largest_group=3)
    log_session(ground.teacher, session)
    found = ledger_of(ground, date(34))
    assert found.line == new
    assert found.figures.delivered == 30
    assert [row.line_id for row in found.rows if row.record.delivered] == [new.pk]
    assert found.outside == ()


def test_a_correction_changes_the_past(ground: Cast) -> None:
    """“It was always wrong”: 3 x 30 since the first week that is counted."""
    line = service_correct(actor=ground.teacher, row=ground.line, values={"statement": "3 x 30 min/week"}, seen=1)
    assert set(owed(ground, date(13)).values()) == {90}
    line.service.refresh_from_db()
    assert line.service.revision == 2


def test_who_is_second_is_told_what_the_first_did(ground: Cast) -> None:
    """Both saw revision 1: the second is refused, with who did what, and nothing of theirs is saved."""
    change(ground, THURSDAY, seen=1, statement="3 x 30 min/week")
    with pytest.raises(ApplicationError) as caught:
        change(ground, NEXT_WEEK, seen=1, statement="1 x 30 min/week")
    assert caught.value.code == "changed_meanwhile"
    assert "Teacher Vey" in caught.value.message
    assert "3 x 30 min/week from October 8, 2026" in caught.value.message
    assert ServiceLine.objects.count() == 2
    change(ground, NEXT_WEEK, seen=2, statement="1 x 30 min/week")
    assert ServiceLine.objects.count() == 3


def test_a_change_is_taken_back_with_all_that_came_after_it(ground: Cast) -> None:
    """Lines, figures and revisions; what was logged under the new terms stands under the old ones again."""
    before = owed(ground, date(34))
    new = change(ground, THURSDAY, statement="4 x 30 min/week", allowed_spaces=[ground.gym])
    log_session(ground.teacher, publish_session(NEXT_WEEK, [new]))
    assert owed(ground, date(34)) != before
    change_undo(actor=ground.teacher, row=ground.line.service)
    (line,) = ServiceLine.objects.all()
    assert (line.pk, line.end, line.statement) == (ground.line.pk, ground.plan.end, "2 x 30 min/week")
    assert owed(ground, date(34)) == before
    assert DeliveryEntry.objects.get().service_line == line
    with pytest.raises(ApplicationError) as caught:
        change_undo(actor=ground.teacher, row=ground.line.service)
    assert caught.value.code == "nothing_to_undo"


def test_a_change_that_somebody_built_on_is_not_taken_back(ground: Cast) -> None:
    """The new terms were changed by hand since."""
    new = change(ground, THURSDAY, statement="4 x 30 min/week")
    service_line_save(actor=ground.teacher, row=new, values={"statement": "5 x 30 min/week"})
    with pytest.raises(ApplicationError) as caught:
        change_undo(actor=ground.teacher, row=ground.line.service)
    assert caught.value.code == "changed_since"


def test_a_correction_is_taken_back(ground: Cast) -> None:
    """Every field, spaces too."""
    ground.line.allowed_spaces.set([ground.gym])
    values = {"statement": "3 x 45 min/week", "allowed_spaces": [], "setting": "small_group", "largest_group": 4}
    service_correct(actor=ground.teacher, row=ground.line, values=values, seen=None)
    change_undo(actor=ground.coordinator, row=ground.line.service)
    line = ServiceLine.objects.get()
    assert (line.statement, line.minutes, line.setting, line.largest_group) == (
        "2 x 30 min/week",
        30,
        "one_to_one",
        1,
    )
    assert list(line.allowed_spaces.all()) == [ground.gym]


def test_a_plan_renewed_on_a_thursday_leaves_the_week_whole(ground: Cast) -> None:
    """Same terms, new plan: 60 owed in the week in which one follows the other, none behind and none ahead."""
    new = plan_renew(actor=ground.teacher, row=ground.plan, values={"start": THURSDAY})
    ground.plan.refresh_from_db()
    (line,) = new.lines.all()
    assert (ground.plan.end, new.start, new.end) == (date(23), THURSDAY, dt.date(2027, 10, 7))
    assert (line.service, line.statement, line.end) == (ground.line.service, "2 x 30 min/week", new.end)
    assert owed(ground, date(34)) == {date(7 * week): 60 for week in range(5)}
    change_undo(actor=ground.teacher, row=new)
    assert (Plan.objects.get().end, ServiceLine.objects.get().end) == (dt.date(2027, 6, 18), dt.date(2027, 6, 18))


def test_what_the_plan_left_open_is_a_number_of_its_own(ground: Cast) -> None:
    """The first week gave 30 of 60, the plan is renewed for the second: page, report and API say it apart."""
    log_session(ground.coordinator, PlannedSession.objects.get())
    plan_renew(actor=ground.teacher, row=ground.plan, values={"start": date(7)})
    said = ledger_of(ground, date(8)).figures
    assert (said.behind, said.opening, said.is_open) == (0, 30, True)
    page = signed_in(ground.teacher).get(
        reverse("student_ledger", args=[ground.student.pk]), {"as_of": str(date(8))}
    )
    text = page.content.decode()
    assert "Open from the plan until September 20, 2026" in text
    assert "30 minutes were open on September 20, 2026; 30 are open now." in text
    assert "Find a make-up" in text
    report = student_report(ground.teacher, ground.student, date(0), date(8), date(8))
    services = report.tables[0]
    row = dict(zip(services.columns, services.rows[0], strict=True))
    assert (row["Owed"], row["Still owed"], row["Open from before"]) == (60, 0, 30)
    (service,) = Api(ground.teacher).get(f"students/{ground.student.pk}/ledger/", as_of=str(date(8)))["services"]
    assert [(one["year"], one["open"]) for one in service["openings"]] == [
        ("the plan until September 20, 2026", 30)
    ]


def test_a_renewal_goes_on_from_the_day_after_the_plan(ground: Cast) -> None:
    """Without dates: the next day, a year less a day; a service that ended before the plan did isn't renewed."""
    values = {"statement": "1 x 30 min/week", "setting": "small_group", "end": dt.date(2026, 12, 18)}
    service_line_save(actor=ground.teacher, row=ServiceLine(plan=ground.plan), values=values)
    new = plan_renew(actor=ground.teacher, row=ground.plan, values={})
    assert (new.start, new.end) == (dt.date(2027, 6, 19), dt.date(2028, 6, 18))
    assert [line.statement for line in new.lines.all()] == ["2 x 30 min/week"]
    assert ContinuingService.objects.count() == 2


@pytest.mark.parametrize(
    ("day", "values", "field"),
    [
        (dt.date(2026, 8, 31), {"statement": "1 x 30 min/week"}, "from_day"),
        (dt.date(2027, 6, 19), {"statement": "1 x 30 min/week"}, "from_day"),
        (THURSDAY, {"statement": "2 x 30 min/week"}, "statement"),
        (THURSDAY, {}, "statement"),
        (THURSDAY, {"service_type": "consultation"}, "service_type"),
        (THURSDAY, {"statement": "as needed"}, "statement"),
        (THURSDAY, {"statement": "3 x 30 min/week", "end": dt.date(2027, 9, 1)}, "start"),
    ],
)
def test_what_can_t_change_is_said_at_its_field(ground: Cast, day: dt.date, values: dict, field: str) -> None:  # type: ignore[type-arg]
    """And nothing is saved: one version, its revision as it was, no entry in the audit."""
    with pytest.raises(ValidationError) as caught:
        change(ground, day, **values)
    assert field in caught.value.message_dict
    assert (ServiceLine.objects.get().end, ContinuingService.objects.get().revision) == (ground.plan.end, 1)
    assert not AuditEntry.objects.filter(action="service_change").exists()


def test_versions_of_one_service_never_overlap(ground: Cast) -> None:
    """A correction of the dates that would owe some days twice is refused, in words."""
    new = change(ground, THURSDAY, statement="4 x 30 min/week")
    with pytest.raises(ValidationError) as caught:
        service_correct(actor=ground.teacher, row=new, values={"start": date(20)}, seen=None)
    assert "other terms from September 1, 2026" in caught.value.message_dict["start"][0]


def test_what_a_change_does_is_told_before(ground: Cast) -> None:
    """Period by period, alike ones together; and nothing of it stays."""
    told = effects_foreseen(
        ground.teacher, ground.student, lambda: change(ground, THURSDAY, seen=1, statement="4 x 30 min/week")
    )
    assert any("week of October 5, 2026" in one and "owed 60 → 84" in one for one in told)
    assert any("from October 12, 2026" in one and "each: owed 60 → 120" in one for one in told)
    assert not any("September" in one for one in told)
    assert (ServiceLine.objects.count(), ContinuingService.objects.get().revision) == (1, 1)
    assert (
        effects_foreseen(ground.teacher, ground.student, lambda: change(ground, THURSDAY, provider=ground.mate))
        == []
    )


def test_the_page_shows_the_figures_first_and_saves_then(ground: Cast) -> None:
    """Two presses; the student's page offers to take it back, in one."""
    client = signed_in(ground.teacher)
    address = reverse("service_change", args=[ground.line.pk])
    form = client.get(address).context["form"]
    sent = {name: "" if form[name].value() is None else form[name].value() for name in form.fields}
    sent |= {"from_day": THURSDAY.isoformat(), "statement": "4 x 30 min/week"}
    page = client.post(address, sent)
    assert "owed 60 → 84" in page.content.decode()
    assert ServiceLine.objects.count() == 1
    page = client.post(address, sent | {"effects_seen": page.context["effects_seen"]}, follow=True)
    assert ServiceLine.objects.count() == 2
    assert "4 x 30 min/week from October 8, 2026 to June 18, 2027" in page.content.decode()
    client.post(reverse("service_undo", args=[ground.line.pk]))
    assert ServiceLine.objects.get().statement == "2 x 30 min/week"


def test_the_page_tells_the_second_what_the_first_did(ground: Cast) -> None:
    """The form stays filled in; saved once more, by somebody who has seen it, it counts."""
    client = signed_in(ground.teacher)
    address = reverse("service_change", args=[ground.line.pk])
    form = client.get(address).context["form"]
    sent = {name: "" if form[name].value() is None else form[name].value() for name in form.fields}
    sent |= {"from_day": NEXT_WEEK.isoformat(), "statement": "1 x 30 min/week"}
    change(ground, THURSDAY, statement="4 x 30 min/week")
    page = client.post(address, sent)
    assert page.status_code == 422
    assert "4 x 30 min/week from October 8, 2026" in page.content.decode()
    assert page.context["form"]["seen"].value() == "2"


def test_the_api_changes_foresees_and_undoes(ground: Cast) -> None:
    """The same by programs: effects first, the change by the revision that was seen, then the way back."""
    api, path = Api(ground.teacher), f"service-lines/{ground.line.pk}"
    terms = {"from_day": "2026-10-08", "revision": 1, "statement": "4 x 30 min/week"}
    assert any("owed 60 → 84" in one for one in api.post(f"{path}/change/effects/", expect=200, **terms)["effects"])
    new = api.post(f"{path}/change/", expect=200, **terms)
    assert (new["start"], new["times"], new["revision"]) == ("2026-10-08", 4, 2)
    assert new["service"] == api.get(f"{path}/")["service"]
    error = api.post(f"{path}/change/", expect=409, **terms)
    assert error["code"] == "changed_meanwhile"
    assert "4 x 30 min/week" in error["message"]
    assert [one["id"] for one in api.post(f"{path}/undo/", expect=200)] == [ground.line.pk]
    api.patch(f"{path}/", statement="1 x 30 min/week", revision=3)
    late = api.patch(f"{path}/", expect=409, statement="3 x 30 min/week", revision=3)
    assert late["code"] == "changed_meanwhile"
    assert "1 x 30 min/week" in late["message"]
    unseen = api.patch(f"{path}/", expect=400, statement="3 x 30 min/week")
    assert "It is 4 now" in unseen["fields"]["revision"][0]
    missing = api.post(f"{path}/change/", expect=400, statement="3 x 30 min/week")
    assert set(missing["fields"]) == {"from_day", "revision"}


def test_the_api_renews_a_plan_and_takes_it_back(ground: Cast) -> None:
    """Without dates the day after the plan's last; effects of a year that isn't entered yet are none."""
    api, path = Api(ground.teacher), f"plans/{ground.plan.pk}"
    assert api.post(f"{path}/renew/effects/", expect=200)["effects"] == []
    new = api.post(f"{path}/renew/", expect=200)
    assert (new["start"], new["status"]) == ("2027-06-19", "in_force")
    api.post(f"plans/{new['id']}/undo-renewal/", expect=204)
    assert [one["id"] for one in api.get("plans/")["results"]] == [ground.plan.pk]


def test_the_ledger_tells_a_change_once_in_its_terms(ground: Cast) -> None:
    """Not “last day from June to December”, which is how one version ends: the new terms, and that it went back."""
    change(ground, NEXT_WEEK, statement="3 x 30 min/week")
    [told] = student_ledger(ground.coordinator, ground.student, THURSDAY).changes
    assert told.what.startswith("Service: 2 x 30 min/week from ")
    assert "; 3 x 30 min/week from October 12, 2026" in told.what
    ground.line.service.refresh_from_db()
    change_undo(actor=ground.teacher, row=ground.line.service)
    back, first = student_ledger(ground.coordinator, ground.student, THURSDAY).changes
    assert back.what.startswith("Service: took a change back: ")
    assert first.what == told.what


def test_an_end_that_was_entered_by_itself_is_told_beside_a_later_change(ground: Cast) -> None:
    """Only what a change did itself is left to it."""
    service_line_save(actor=ground.teacher, row=ground.line, values={"end": dt.date(2027, 5, 28)})
    change(ground, NEXT_WEEK, statement="3 x 30 min/week")
    told = [one.what for one in student_ledger(ground.coordinator, ground.student, THURSDAY).changes]
    assert len(told) == 2
    assert "last day from " in told[1]
    assert "to May 28, 2027" in told[1]


def test_the_ledgers_page_names_the_terms_of_each_stretch(ground: Cast) -> None:
    """It runs as long as all its versions do; who looks at the sums sees which terms they follow when."""
    change(ground, NEXT_WEEK, statement="3 x 30 min/week")
    last = ground.line.service.versions.get(start=NEXT_WEEK)
    address = reverse("student_ledger", args=[ground.student.pk])
    page = signed_in(ground.coordinator).get(f"{address}?as_of={THURSDAY.isoformat()}").content.decode()
    assert f"Sep 1, 2026 to {last.end:%b %-d, %Y}; counted from" in page
    assert f"Oct 12, 2026 to {last.end:%b %-d, %Y}: 3 x 30 min/week (read as 3 x 30 = 90 minutes a week)." in page
