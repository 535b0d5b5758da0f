"""What changed since somebody last looked: listed until it is seen, on every device, and nothing is swallowed."""

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from accounts.errors import ApplicationError
from accounts.models import Person, Substitution
from accounts.people.services import cover_save, substitution_save
from caseload.plans.models import Student
from schedule.calendar.services.records import calendar_entry_delete
from schedule.notices.models import EarlierDay, Look
from schedule.notices.selectors.looks import LATELY, changes_since_look
from schedule.notices.services.looks import changes_seen, changes_unseen
from tests.schedule.builders import date
from tests.schedule.feeds.conftest import Ground
from tests.schedule.notices.test_telling import close, known, minute

__all__ = ["known"]
SOUTH = "1:15 session, South Hollow School: not held, South Hollow School is closed."
WEEK = [date(n) for n in range(7)]


def listed(ground: Ground, viewer: Person | None = None) -> dict[dt.date, tuple[str, ...]]:
    """What a person hasn't seen of the teacher's week."""
    person = viewer or ground.cast.teacher
    found = changes_since_look(person, ground.cast.teacher, WEEK, ground.clock.now)
    return {one.date: one.lines for one in found.changes}


def press(ground: Ground, viewer: Person | None = None) -> None:
    """Say "seen" of all that is listed now."""
    person = viewer or ground.cast.teacher
    found = changes_since_look(person, ground.cast.teacher, WEEK, ground.clock.now)
    assert found.until is not None
    dates = [one.date for one in found.changes]
    changes_seen(actor=person, teacher=ground.cast.teacher, dates=dates, until=found.until)


def test_it_is_listed_until_it_is_seen_and_for_each_by_themselves(known: Ground) -> None:
    """Whoever changed it knows; the others see it whether or not a message reached them."""
    cast = known.cast
    assert listed(known) == {}
    close(known, date(0))
    minute(known)
    assert listed(known) == {date(0): (SOUTH,)}
    assert listed(known, cast.coordinator) == {}
    # The office of the north isn't concerned by the south.
    assert listed(known, cast.office) == {}
    press(known)
    assert listed(known) == {}
    changes_unseen(actor=cast.teacher, teacher=cast.teacher, dates=[date(0)])
    assert listed(known) == {date(0): (SOUTH,)}


def test_what_is_taken_back_before_anybody_looked_is_no_change(known: Ground) -> None:
    """After a look it is one."""
    entry = close(known, date(0))
    minute(known)
    calendar_entry_delete(actor=known.cast.coordinator, row=entry)
    minute(known)
    assert listed(known) == {}
    entry = close(known, date(0))
    minute(known)
    press(known)
    calendar_entry_delete(actor=known.cast.coordinator, row=entry)
    minute(known)
    assert listed(known) == {date(0): ("1:15 session, South Hollow School: held after all.",)}


def test_what_comes_while_a_page_lies_open_is_not_swallowed(known: Ground) -> None:
    """The page of the other device says until when it knew; and an old one takes nothing back that was seen."""
    cast = known.cast
    close(known, date(0))
    minute(known)
    old = changes_since_look(cast.teacher, cast.teacher, WEEK, known.clock.now)
    close(known, date(2), building=cast.north)
    close(known, date(0), building=cast.north, title="No heat")
    minute(known)
    assert old.until is not None
    changes_seen(actor=cast.teacher, teacher=cast.teacher, dates=[date(0)], until=old.until)
    north = "9:20 session, North Hollow School, Gym: not held, North Hollow School is closed."
    assert listed(known) == {date(0): (north,), date(2): (north,)}
    press(known)
    changes_seen(actor=cast.teacher, teacher=cast.teacher, dates=[date(0)], until=old.until)
    assert listed(known) == {}


def test_a_change_beyond_the_next_day_is_listed_and_not_sent(known: Ground) -> None:
    """Wednesday's, on Sunday: the week's page knows it."""
    close(known, date(2), building=known.cast.north)
    assert minute(known) == []
    assert list(listed(known)) == [date(2)]
    for student in Student.objects.all():
        assert student.last_name not in str(listed(known))


def test_a_substitute_sees_the_dates_that_they_cover(known: Ground) -> None:
    """And a teacher who stands in for nobody sees nothing of another's."""
    cast = known.cast
    days = {"first_date": date(2), "last_date": date(2)}
    row = Substitution(teacher=cast.teacher, substitute=cast.substitute)
    substitution_save(actor=cast.coordinator, row=row, values=days)
    close(known, date(0))
    close(known, date(2), building=cast.north)
    minute(known)
    assert list(listed(known, cast.substitute)) == [date(2)]
    with pytest.raises(ApplicationError) as told:
        changes_seen(actor=cast.mate, teacher=cast.teacher, dates=[date(2)], until=known.clock.now)
    assert told.value.status == 404


def test_who_stands_in_for_some_sessions_hears_of_these_alone(known: Ground) -> None:
    """By message and in the list: Monday's in the south is somebody else's."""
    cast, session = known.cast, known.session(date(0), "9:20")
    days = {"substitute": cast.substitute, "first_date": date(0), "last_date": date(0)}
    row = Substitution(teacher=cast.teacher)
    cover_save(actor=cast.coordinator, row=row, values=days, sessions=[session.uid])
    minute(known)
    press(known, cast.substitute)
    close(known, date(0))
    assert "substitute@school.example" not in dict(minute(known))
    assert listed(known, cast.substitute) == {}
    close(known, date(0), building=cast.north, title="No heat")
    told = dict(minute(known))["substitute@school.example"]
    assert told == "9:20 session, North Hollow School, Gym: not held, North Hollow School is closed."
    assert listed(known, cast.substitute) == {date(0): (told,)}


def test_what_is_past_is_forgotten(known: Ground) -> None:
    """After a month, as what was told."""
    close(known, date(0))
    minute(known)
    press(known)
    known.clock.forward(days=40)
    minute(known)
    assert not EarlierDay.objects.filter(date=date(0)).exists()
    assert not Look.objects.exists()


def signed_in(person: Person) -> Client:
    """A browser of this person."""
    client = Client()
    client.force_login(person)
    return client


def test_on_today_and_on_the_week_seen_and_shown_again(known: Ground) -> None:
    """The press takes what the page listed; for ten minutes it can be taken back."""
    close(known, date(0))
    minute(known)
    client, teacher = signed_in(known.cast.teacher), known.cast.teacher
    today = reverse("day_of", args=[date(0)])
    week = f"{reverse('changes_since')}?teacher={teacher.pk}&week={date(0)}"
    for page in (today, week):
        assert SOUTH in client.get(page).text
    assert f"{reverse('changes_since')}?teacher={teacher.pk}" in client.get(f"/week/?week={date(0)}").text
    until = EarlierDay.objects.get(date=date(0)).until.isoformat()
    given = {"teacher": teacher.pk, "dates": [str(date(0))]}
    answer = client.post(reverse("changes_seen"), {**given, "until": until}, follow=True)
    assert answer.redirect_chain[-1][0] == today
    assert SOUTH not in answer.text
    assert "Show it again" in client.get(week).text
    answer = client.post(reverse("changes_unseen"), {**given, "week": "1"}, follow=True)
    assert answer.redirect_chain[-1][0].startswith("/week/")
    assert SOUTH in client.get(today).text
    client.post(reverse("changes_seen"), {**given, "until": until})
    known.clock.now += LATELY
    assert "Show it again" not in client.get(today).text
    assert "Nothing changed since you last looked." in client.get(week).text
    odd = [{"until": one} for one in ("yesterday", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00")]
    for bad in ({}, {**given, "dates": ["nonsense"]}, *({**given, **one} for one in odd)):
        assert "too old" in client.post(reverse("changes_seen"), bad, follow=True).text


def test_by_the_api(known: Ground) -> None:
    """The same, for whoever may see the teacher."""
    close(known, date(0))
    minute(known)
    teacher, api = known.cast.teacher, APIClient()
    api.force_authenticate(teacher)
    asked = f"/api/1/changes-since/?teacher={teacher.pk}&first={date(0)}&last={date(6)}"
    (one,) = api.get(asked).json()
    assert (one["date"], one["lines"]) == (str(date(0)), [SOUTH])
    given = {"teacher": teacher.pk, "dates": [one["date"]]}
    assert api.post("/api/1/changes-seen/", {**given, "until": one["until"]}, format="json").status_code == 204
    assert api.get(asked).json() == []
    assert api.post("/api/1/changes-unseen/", given, format="json").status_code == 204
    assert len(api.get(asked).json()) == 1
    api.force_authenticate(known.cast.mate)
    assert api.get(asked).status_code == 404
    assert api.post("/api/1/changes-unseen/", given, format="json").status_code == 404
