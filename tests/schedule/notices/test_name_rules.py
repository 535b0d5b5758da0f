"""Messages name students only where the district allows it, by each way by itself, and only to who sees them."""

import re

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from accounts.models import Person
from caseload.care.models import Contact
from caseload.plans.models import Student
from schedule.notices.models import NameRule, Notice
from schedule.notices.selectors.hearers import Hearer
from schedule.notices.services.outbox import notice_add
from schedule.notices.services.settings import name_rule_delete, name_rule_save
from schedule.notices.students import codes_in, who_words, with_students, without_students
from schedule.notices.wording import Message
from schedule.weeks.models import PlannedSession
from tests.schedule.builders import date
from tests.schedule.feeds.conftest import Ground
from tests.schedule.notices.push_service import PushService
from tests.schedule.notices.test_push import push_service, send, turn_on
from tests.schedule.notices.test_telling import close, known, minute

__all__ = ["known", "push_service"]
LINE = f"9:20 session{who_words(['S01', 'S02'])}, North Hollow School: not held."


def allow(ground: Ground, **values: object) -> NameRule:
    """The coordinator's rule, from the day before on."""
    given = {"first_date": date(-2), **values}
    return name_rule_save(actor=ground.cast.coordinator, row=NameRule(), values=given)


def text_to(person: Person) -> str:
    """What the last minute's mail to somebody says; empty if there was none."""
    return next((str(one.body) for one in mail.outbox if one.to == [f"{person.username}@school.example"]), "")


def test_a_line_is_kept_with_codes_and_read_in_three_ways() -> None:
    """Whoever isn't known is left out, and no mark is ever left over."""
    assert codes_in(LINE) == ["S01", "S02"]
    bare = "9:20 session, North Hollow School: not held."
    assert without_students(LINE) == bare == with_students(LINE, {})
    assert with_students(LINE, {"S02": "Ola Tarn"}) == "9:20 session (Ola Tarn), North Hollow School: not held."
    both = with_students(LINE, {"S01": "I.F.", "S02": "O.T."})
    assert both == "9:20 session (I.F., O.T.), North Hollow School: not held."
    assert who_words([]) == ""


@pytest.mark.parametrize("shown", ["nothing", "initials", "names"])
def test_by_mail_as_the_rule_says(known: Ground, shown: str) -> None:
    """To the teacher. Never to an office and never to a class's teacher, whatever the rule."""
    cast = known.cast
    student: Student = PlannedSession.objects.filter(date=date(0)).earliest("start").attendees.get().student
    PlannedSession.objects.update(school_class=cast.room4)
    Contact.objects.create(
        school_class=cast.room4, role=Contact.Role.TEACHER, name="Ms. Reed", email="reed@school.example"
    )
    minute(known)
    allow(known, mail=shown)
    close(known, date(0), building=cast.north)
    minute(known)
    initials = f"{student.first_name[0]}.{student.last_name[0]}."
    says = {"nothing": "", "initials": f" ({initials})", "names": f" ({student.full_name})"}[shown]
    assert text_to(cast.teacher).startswith(f"9:20 Room 4{says}, North Hollow School, Gym: not held")
    others = [str(one.body) for one in mail.outbox if one.to[0] in {"office@school.example", "reed@school.example"}]
    assert len(others) == 2
    for text in others:
        assert student.last_name not in text
        assert initials not in text
        assert student.code not in text


def test_each_way_by_itself_and_taken_back_at_once(known: Ground, push_service: PushService) -> None:
    """What waits is told by the rule of the moment when it leaves."""
    cast = known.cast
    student = PlannedSession.objects.filter(date=date(0)).earliest("start").attendees.get().student
    device = turn_on(push_service, cast.teacher)
    first = allow(known, push="initials")
    later = allow(known, push="names", first_date=date(30))
    close(known, date(0), building=cast.north)
    minute(known)
    assert student.last_name not in text_to(cast.teacher)
    assert student.code not in text_to(cast.teacher)
    kept = Notice.objects.get(channel="push", device=device)
    assert codes_in(kept.body) == [student.code]
    assert student.last_name not in kept.body
    words = (f"{student.first_name[0]}.{student.last_name[0]}.", student.full_name)
    for number, (rule, expected) in enumerate([(None, words[0]), (later, words[1]), (later, ""), (first, "")]):
        if number == 1:
            name_rule_save(actor=cast.coordinator, row=later, values={"first_date": date(-1)})
        elif rule is not None and number == 2:
            name_rule_save(actor=cast.coordinator, row=later, values={"push": "nothing"})
        elif rule is not None:
            name_rule_delete(actor=cast.coordinator, row=later)
            name_rule_delete(actor=cast.coordinator, row=first)
        Notice.objects.filter(pk=kept.pk).update(state="waiting")
        assert send(known, kept)[0] == "sent"
        body = push_service.opened()["body"]
        assert body.startswith("9:20 session" + (f" ({expected})" if expected else "") + ", North")


def test_a_page_names_them_to_who_sees_them(addressed: Ground) -> None:
    """The text to copy leaves the program, so it goes by the rule."""
    cast = addressed.cast
    line = f"9:20 session{who_words([cast.student.code])}, North."
    row = notice_add(
        key="k", hearer=Hearer(person=cast.teacher), message=Message("Today", (line,)), district=cast.district,
        now=addressed.clock.now,
    )  # fmt: skip
    assert row is not None
    Notice.objects.filter(pk=row.pk).update(state="failed", problem="x")
    client, api = Client(), APIClient()
    client.force_login(cast.teacher)
    page = client.get(reverse("notices")).text
    assert f"9:20 session ({cast.student.full_name}), North." in page
    assert "body=9%3A20%20session%2C%20North." in page
    api.force_authenticate(cast.teacher)
    assert cast.student.full_name in api.get("/api/1/notices/").json()["results"][0]["body"]
    Notice.objects.filter(pk=row.pk).update(person=cast.mate, teacher=None)
    client.force_login(cast.mate)
    assert "9:20 session, North." in client.get(reverse("notices")).text


def test_a_coordinator_adds_changes_and_takes_back_a_rule(ground: Ground) -> None:
    """By page and by API; the empty state says that nobody is named, and two rules can't begin on one day."""
    client, api = Client(), APIClient()
    client.force_login(ground.cast.coordinator)
    assert "No message names a student." in client.get(reverse("notices")).text
    given = {"first_date": "2026-09-14", "mail": "initials", "push": "nothing"}
    page = client.post(reverse("name_rule_new"), given, follow=True).text
    assert "In mails by initials, on devices not at all" in page
    again = client.post(reverse("name_rule_new"), given)
    assert (again.status_code, "already a rule from this day on" in again.text) == (422, True)
    row = NameRule.objects.get()
    client.post(reverse("name_rule_change", args=[row.pk]), {**given, "push": "names"})
    api.force_authenticate(ground.cast.coordinator)
    assert [one["push"] for one in api.get("/api/1/name-rules/").json()["results"]] == ["names"]
    assert api.patch(f"/api/1/name-rules/{row.pk}/", {"mail": "all"}, format="json").status_code == 400
    client.post(reverse("name_rule_delete", args=[row.pk]))
    assert "No message names a student." in client.get(reverse("notices")).text


def test_the_last_change_of_the_rules_is_taken_back_by_one_press(ground: Ground) -> None:
    """Deleted, changed, added; by page, by API, and refused where it isn't the one that was seen."""
    client, api = Client(), APIClient()
    client.force_login(ground.cast.coordinator)
    api.force_authenticate(ground.cast.coordinator)

    def press() -> str:
        page = client.get(reverse("notices")).text
        seen = re.search(r'name="seen" value="(\d+)"', page)
        assert seen is not None
        return client.post(reverse("name_rules_take_back"), {"seen": seen[1]}, follow=True).text

    row = allow(ground, mail="initials", push="initials")
    name_rule_save(actor=ground.cast.coordinator, row=row, values={"mail": "names"})
    assert "Taken back." in press()
    assert [(one.mail, one.push) for one in NameRule.objects.all()] == [("initials", "initials")]
    assert 'name="seen"' not in client.get(reverse("notices")).text
    assert api.post("/api/1/name-rules/take-back/").json()["code"] == "nothing_to_undo"
    name_rule_delete(actor=ground.cast.coordinator, row=NameRule.objects.get())
    assert api.post("/api/1/name-rules/take-back/").status_code == 204
    assert [(one.mail, one.push) for one in NameRule.objects.all()] == [("initials", "initials")]
    allow(ground, first_date=date(30), mail="names", push="names")
    old = client.post(reverse("name_rules_take_back"), {"seen": "1"}, follow=True).text
    assert "no change to take back" in old
    press()
    assert NameRule.objects.count() == 1
