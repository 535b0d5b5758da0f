"""A statement with two meanings is a question on pages and in the API; what was read stands beside it ever after.

34 CFR 300.320(a)(7) asks a plan for frequency and duration; "60 minutes per week, 2 sessions" leaves open whether
60 minutes are of both sessions or of each.
"""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from caseload.plans.frequency import Frequency, FrequencyQuestionError, FrequencyUnit
from caseload.plans.models import ServiceLine, Student
from caseload.plans.services import service_change, service_line_save
from caseload.plans.statements import Reading, read_statement
from schedule.calendar.models import MarkingPeriod, SchoolYear
from tests.api import Api
from tests.caseload.test_student_pages import signed_in, student_values
from tests.conftest import Cast

OPEN = "60 minutes per week, 2 sessions"
IN_ALL, OF_EACH = "2 x 30 min/week", "2 x 60 min/week"
LINE = {"service_type": "direct", "setting": "small_group", "largest_group": "4", "days_apart": "1"}


def saved(cast: Cast, **values: Any) -> ServiceLine:
    """A line of the cast's plan, read back."""
    line = service_line_save(actor=cast.teacher, row=ServiceLine(plan=cast.plan), values=values)
    return ServiceLine.objects.get(pk=line.pk)


def test_a_service_is_not_saved_until_its_reading_is_chosen(cast: Cast) -> None:
    with pytest.raises(ValidationError) as caught:
        saved(cast, statement=OPEN)
    assert list(caught.value.error_dict) == ["statement"]
    line = saved(cast, statement=OPEN, reading=IN_ALL)
    assert (line.times, line.minutes, line.statement, line.reading_chosen) == (2, 30, OPEN, True)
    assert line.read_as == "2 x 30 = 60 minutes a week"
    assert saved(cast, statement=OPEN, reading=OF_EACH).minutes == 60


def test_a_reading_that_is_none_is_refused(cast: Cast) -> None:
    with pytest.raises(ValidationError, match="isn't read as “3 x 20 min/week”"):
        saved(cast, statement=OPEN, reading="3 x 20 min/week")


def test_what_was_chosen_is_kept_and_can_be_chosen_anew(cast: Cast) -> None:
    """Another field is changed, with the statement as it was: nobody is asked again."""
    line = saved(cast, statement=OPEN, reading=OF_EACH)
    service_line_save(actor=cast.teacher, row=line, values={"statement": OPEN, "largest_group": 3})
    assert (line.minutes, line.reading_chosen, line.largest_group) == (60, True, 3)
    service_line_save(actor=cast.teacher, row=line, values={"reading": IN_ALL})
    assert (line.minutes, line.reading_chosen) == (30, True)


def test_a_change_from_a_date_keeps_the_choice_or_is_a_choice_itself(cast: Cast) -> None:
    """The group gets larger: the reading stays. Later somebody finds that the other was meant from a day on."""
    line = saved(cast, statement=OPEN, reading=OF_EACH)
    larger = service_change(
        actor=cast.teacher,
        row=line,
        from_day=dt.date(2026, 11, 9),
        values={"statement": OPEN, "reading": "", "largest_group": 3},
        seen=None,
    )
    assert (larger.minutes, larger.reading_chosen, larger.largest_group) == (60, True, 3)
    day, values = dt.date(2027, 1, 4), {"statement": OPEN, "reading": IN_ALL}
    other = service_change(actor=cast.teacher, row=larger, from_day=day, values=values, seen=None)
    assert [one.minutes for one in other.service.versions.order_by("start")] == [60, 60, 30]
    with pytest.raises(ValidationError, match="hold already"):
        service_change(actor=cast.teacher, row=other, from_day=day, values=values, seen=None)


def test_the_parts_of_a_reading_cannot_be_given(cast: Cast) -> None:
    line = saved(cast, statement="2 x 30 min/week", times=9, reading_chosen=True)
    assert (line.times, line.reading_chosen) == (2, False)


def test_pasted_statements_are_kept_in_one_line(cast: Cast) -> None:
    assert saved(cast, statement="2 sessions\u00a0per week,\n30 minutes each").statement == (
        "2 sessions per week, 30 minutes each"
    )


def test_quarters_are_those_of_the_districts_year(cast: Cast) -> None:
    """Three marking periods: “a quarter” is one of them, or a fourth of the year. Without any it stands."""
    assert saved(cast, statement="2 x 30 min/quarter").unit == "quarter"
    year = SchoolYear.objects.create(
        district=cast.district, name="2026-27", first_day=dt.date(2026, 9, 1), last_day=dt.date(2027, 6, 18)
    )
    for number in range(3):
        first = year.first_day + dt.timedelta(weeks=12 * number)
        MarkingPeriod.objects.create(
            district=cast.district,
            school_year=year,
            name=str(number + 1),
            first_day=first,
            last_day=first + dt.timedelta(days=80),
        )
    with pytest.raises(ValidationError, match="“2 x 30 min/marking period” or “8 x 30 min/year”"):
        saved(cast, statement="2 x 30 min/quarter", start=dt.date(2026, 9, 8))
    assert saved(cast, statement="2 x 30 min/trimester").unit == "trimester"


DAILY_BEFORE = Reading(Frequency(5, 30))


def test_what_is_read_otherwise_today_is_asked_and_not_changed() -> None:
    """“Daily” was kept as five times a week: both are offered, the one that holds first."""
    with pytest.raises(FrequencyQuestionError) as caught:
        read_statement("30 minutes daily", None, kept=DAILY_BEFORE)
    assert caught.value.readings == (Frequency(5, 30), Frequency(1, 30, unit=FrequencyUnit.DAY))
    chosen = read_statement("30 minutes daily", None, wanted="5 x 30 min/week", kept=DAILY_BEFORE)
    assert (chosen.frequency, chosen.chosen) == (Frequency(5, 30), True)
    assert read_statement("30 minutes daily", None, kept=chosen) == chosen


def test_what_can_no_longer_be_read_stays_as_it_was_read() -> None:
    kept = Reading(Frequency(2, 30))
    assert read_statement("now and then", None, kept=kept) == kept


def test_a_reading_that_nobody_can_plan_is_not_offered() -> None:
    """Ten minutes over four sessions are less than five each: as a total only."""
    with pytest.raises(FrequencyQuestionError) as caught:
        read_statement("10 minutes per week, 4 sessions", None)
    assert caught.value.readings == (Frequency(minutes_total=10), Frequency(4, 10))


# ---- pages -----------------------------------------------------------------------------------------------


def test_the_form_says_what_is_read_before_it_saves(cast: Cast) -> None:
    client, address = signed_in(cast.teacher), reverse("service_line_new", args=[cast.plan.pk])
    page = client.post(address, {**LINE, "statement": "30 x 5/week"})
    assert "is read as 5 x 30 = 150 minutes a week" in page.content.decode()
    assert ServiceLine.objects.count() == 1
    seen = page.context["effects_seen"]
    page = client.post(address, {**LINE, "statement": "30 x 5/week", "effects_seen": seen}, follow=True)
    assert "Read as 5 x 30 = 150 minutes a week" in page.content.decode()
    again = client.get(reverse("service_line_change", args=[ServiceLine.objects.latest("pk").pk]))
    assert "Read as 5 x 30 = 150 minutes a week" in again.content.decode()


def test_the_form_asks_with_a_button_for_each_reading(cast: Cast) -> None:
    """Plain buttons of the form: nothing of it needs a script."""
    client, address = signed_in(cast.teacher), reverse("service_line_new", args=[cast.plan.pk])
    page = client.post(address, {**LINE, "statement": OPEN})
    assert page.status_code == 422
    html = page.content.decode()
    for reading, words in ((IN_ALL, "2 x 30 = 60 minutes a week"), (OF_EACH, "2 x 60 = 120 minutes a week")):
        assert (
            f'<button class="button-quiet" type="submit" name="reading" value="{reading}">{words}</button>' in html
        )
    assert html.index("What does") < html.index('name="statement"'), "the question stands above the form"
    client.post(address, {**LINE, "statement": OPEN, "reading": [OF_EACH, ""]})
    assert ServiceLine.objects.latest("pk").minutes == 60


def test_the_button_that_is_pressed_goes_before_what_was_chosen_for_another_text(cast: Cast) -> None:
    """The page sends the button's word and then the hidden one of before."""
    client, address = signed_in(cast.teacher), reverse("service_line_new", args=[cast.plan.pk])
    client.post(address, {**LINE, "statement": OPEN, "reading": [IN_ALL, OF_EACH]})
    assert ServiceLine.objects.latest("pk").minutes == 30


def test_enter_in_a_field_chooses_no_reading(cast: Cast) -> None:
    """A browser then presses the first button of the form: it is a plain one (HTML, implicit submission)."""
    client, address = signed_in(cast.teacher), reverse("service_line_new", args=[cast.plan.pk])
    html = client.post(address, {**LINE, "statement": OPEN}).content.decode()
    form = html[html.index('<form method="post" novalidate>') :]
    first = form[form.index("<button") :]
    assert "name=" not in first[: first.index(">")]


def test_a_student_without_a_plan_is_asked_too(cast: Cast) -> None:
    client, address = signed_in(cast.teacher), reverse("student_without_plan")
    values = student_values(cast, first_day="2026-11-09", statement=OPEN, setting="one_to_one")
    assert [one["reading"] for one in client.post(address, values).context["readings"]] == [IN_ALL, OF_EACH]
    assert not Student.objects.filter(code="S09").exists()
    client.post(address, {**values, "reading": IN_ALL})
    assert ServiceLine.objects.get(plan__student__code="S09").minutes == 30


def test_services_that_were_read_before_it_was_asked_are_shown(cast: Cast) -> None:
    """The figures stay as they were; the student's page says that there is something to choose."""
    ServiceLine.objects.filter(pk=cast.line.pk).update(statement=OPEN, times=2, minutes=60)
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "can mean two things" in page
    assert "Read as 2 x 60 = 120 minutes a week" in page
    ServiceLine.objects.filter(pk=cast.line.pk).update(reading_chosen=True)
    page = signed_in(cast.teacher).get(reverse("student_detail", args=[cast.student.pk])).content.decode()
    assert "can mean two things" not in page


# ---- API -------------------------------------------------------------------------------------------------


def test_the_api_refuses_with_both_readings_and_takes_one(cast: Cast) -> None:
    api = Api(cast.teacher)
    error = api.post("service-lines/", expect=400, plan=cast.plan.pk, statement=OPEN)
    assert list(error["fields"]) == ["statement"]
    assert error["readings"]["statement"] == [
        {"reading": IN_ALL, "words": "2 x 30 = 60 minutes a week"},
        {"reading": OF_EACH, "words": "2 x 60 = 120 minutes a week"},
    ]
    line = api.post("service-lines/", plan=cast.plan.pk, statement=OPEN, reading=OF_EACH)
    assert (line["read_as"], line["reading_chosen"]) == ("2 x 60 = 120 minutes a week", True)
    changed = api.patch(f"service-lines/{line['id']}/", statement="90 min/month", revision=line["revision"])
    assert (changed["read_as"], changed["reading_chosen"]) == ("90 minutes a month", False)


def test_a_percent_sign_of_the_statement_is_no_placeholder(cast: Cast) -> None:
    error = Api(cast.teacher).post("service-lines/", expect=400, plan=cast.plan.pk, statement="50% of 2 x 30/week")
    assert "50% of" in error["fields"]["statement"][0]


def test_the_api_asks_for_a_student_without_a_plan(cast: Cast) -> None:
    api = Api(cast.teacher)
    values: dict[str, Any] = {
        "code": "S09",
        "first_name": "Ida",
        "last_name": "Brook",
        "grade": "4",
        "building": cast.north.pk,
        "first_day": "2026-11-09",
    }
    assert "readings" in api.post("students/", expect=400, **values, statement=OPEN)
    api.post("students/", **values, statement=OPEN, reading=IN_ALL)
    assert ServiceLine.objects.get(plan__student__code="S09").minutes == 30
