"""Before a term is published: the weeks in force that it replaces, whom to tell, and what stands against it."""

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from schedule.terms.selectors.ahead import term_ahead
from schedule.terms.services.publishing import term_publish, term_take_back
from schedule.weeks.models import WeekPlan
from schedule.weeks.services.weeks import week_publish, week_session_move
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, at, date, make_ground, make_week
from tests.schedule.terms.test_term_pages import page
from tests.schedule.terms.test_term_plans import WEEK, drafts, moments, planned
from tests.schedule.weeks.planning.two_teachers import make_two_teachers


def test_nothing_is_in_force_yet_and_nobody_has_to_be_told(cast: Cast) -> None:
    make_ground(cast)
    term = planned(cast, weeks=2)
    ahead = term_ahead(cast.teacher, term)
    assert (ahead.empty, ahead.replaced, ahead.tell, ahead.two_places, ahead.broken) == (2, (), (), (), ())
    assert ahead.first_day is None
    assert "2 weeks have no plan in force yet." in page(cast.teacher, "term", term.pk)
    term_publish(actor=cast.teacher, term=term)
    assert term_ahead(cast.teacher, term).drafts == 0
    assert "What publishing changes" not in page(cast.teacher, "term", term.pk)


def test_a_week_in_force_is_counted_session_by_session_and_its_school_told(cast: Cast) -> None:
    """S01 is in force on two moments at which the term's draft has nobody: both of its sessions move."""
    make_ground(cast)
    term = planned(cast, weeks=2)
    [first, _] = drafts(term)
    free = next(clock for clock in ("8:30", "10:10", "12:25") if not _stands_at(first, clock))
    week = make_week(cast, [(f"line-{cast.line.pk}", date(day), free) for day in (0, 2)])
    week_publish(actor=cast.teacher, week=week, expected_revision=week.revision)
    ahead = term_ahead(cast.teacher, term)
    [replaced] = ahead.replaced
    assert (replaced.monday, replaced.week_id, replaced.moved, replaced.same) == (MONDAY, first.pk, 2, 0)
    assert (replaced.added, replaced.removed, ahead.empty) == (0, 0, 1)
    assert [(one.building_code, one.sessions) for one in ahead.tell] == [(cast.north.code, 2)]
    text = page(cast.teacher, "term", term.pk)
    assert "1 week has no plan in force yet. 1 more has one and is replaced." in text
    assert "2 sessions move, 0 stay as they are" in text

    # What is published and planned once more the same way changes nothing.
    term_publish(actor=cast.teacher, term=term)
    again = planned(cast, weeks=2, first=MONDAY)
    ahead = term_ahead(cast.teacher, again)
    assert (ahead.alike, ahead.differing, ahead.first_day) == (2, (), MONDAY)
    text = page(cast.teacher, "term", again.pk)
    assert "2 weeks in force are replaced." in text
    assert "Nothing changes in them." in text

    term_publish(actor=cast.teacher, term=again)
    listed = page(cast.teacher, "terms")
    assert listed.count("From September 14 to September 25 the one published later counts.") == 1


def _stands_at(week: WeekPlan, clock: str) -> bool:
    return any(f"{start:%-H:%M}" == clock for _, _, start in moments(week))


def test_a_student_whom_another_teacher_has_then_is_said_before_and_that_week_stays_a_draft(cast: Cast) -> None:
    line = make_two_teachers(cast)
    term = planned(cast, weeks=2)
    second = drafts(term)[1]
    held = sorted((one.date, f"{one.start:%-H:%M}") for one in second.sessions.all())
    other = make_week(cast, [(f"line-{line.pk}", *one) for one in held], monday=MONDAY + WEEK, teacher=cast.mate)
    week_publish(actor=cast.mate, week=other, expected_revision=other.revision)
    ahead = term_ahead(cast.teacher, term)
    assert len(ahead.two_places) == len(held) == 2
    assert all(one.startswith("Ola Tarn S01 is with Mate Vey at North Hollow School") for one in ahead.two_places)
    text = page(cast.teacher, "term", term.pk)
    assert "weeks in force have a student, a class or a space at the same time." in text
    assert "Publish the term without these sessions" in text
    done = term_publish(actor=cast.teacher, term=term)
    assert (done.weeks, len(done.refused)) == (1, 1)
    answer = Api(cast.teacher).post(f"terms/{term.pk}/publish/", expect=200, leave_out=True)
    assert (answer["weeks"], answer["refused"]) == (1, [])
    second.refresh_from_db()
    left = second.unplaced.get(service_line=cast.line)
    assert (second.status, left.sessions, left.ask) == ("published", 2, "Mate Vey")


def test_a_term_is_taken_back_only_to_times_that_are_free(cast: Cast) -> None:
    """What was in force before the term is another teacher's by now: nothing of the term is taken back."""
    line = make_two_teachers(cast)
    before = make_week(cast, [(f"line-{cast.line.pk}", date(day), "8:30") for day in (0, 2)])
    week_publish(actor=cast.teacher, week=before, expected_revision=before.revision)
    term = planned(cast, weeks=1)
    [draft] = drafts(term)
    for held in list(draft.sessions.all()):
        week_session_move(
            actor=cast.teacher,
            week=draft,
            uid=held.uid,
            date=held.date,
            start=at("9:20"),
            expected_revision=draft.revision,
        )
        draft.refresh_from_db()
    term_publish(actor=cast.teacher, term=term)
    theirs = make_week(cast, [(f"line-{line.pk}", date(day), "8:30") for day in (0, 2)], teacher=cast.mate)
    week_publish(actor=cast.mate, week=theirs, expected_revision=theirs.revision)
    in_force = WeekPlan.objects.get(teacher=cast.teacher, status="published").pk
    with pytest.raises(ApplicationError) as caught:
        term_take_back(actor=cast.teacher, term=term, today=date(-7))
    assert caught.value.code == "student_in_two_places"
    assert WeekPlan.objects.get(teacher=cast.teacher, status="published").pk == in_force


def test_the_api_says_the_same(cast: Cast) -> None:
    make_ground(cast)
    term = planned(cast, weeks=2)
    api = Api(cast.teacher)
    found = api.get(f"terms/{term.pk}/publishing/")
    assert (found["drafts"], found["empty"], found["replaced"], found["two_places"]) == (2, 2, [], [])
    term_publish(actor=cast.teacher, term=term)
    assert api.get(f"terms/{term.pk}/publishing/")["drafts"] == 0
    client = Client()
    client.force_login(cast.coordinator)
    assert client.get(reverse("term", args=[term.pk])).status_code == 200
