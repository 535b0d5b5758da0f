"""A person with several roles works in one at a time, and each begins and ends on its days.

That a session activates roles of its user, and that what it may is what those may: NIST RBAC (ANSI INCITS 359-2004,
core RBAC, session_roles). People are invented.
"""

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import ApiToken, AuditEntry, Person, PersonRole, SignInRules
from accounts.people.services import person_save
from accounts.roles.services import (
    HAS_BEGUN,
    LAST_COORDINATOR,
    NOT_HELD,
    ROLE_FIXED,
    role_remove,
    role_save,
    role_undo,
)
from accounts.selectors import teachers_of, working_as
from accounts.sign_in.phone_key import phone_key, stopped_of_key
from accounts.sign_in.selectors import factors_of
from accounts.tokens.services import token_make
from caseload.access.models import Access
from caseload.access.watching import REASONS
from caseload.plans.models import Student
from schedule.notices.selectors.hearers import hearers_of
from schedule.weeks.selectors.scope import planning_as
from tests.accounts.test_tokens import ask
from tests.api import Api
from tests.conftest import PASSWORD, Cast, date_there

DAY = dt.timedelta(days=1)
COORDINATOR, TEACHER, SUBSTITUTE = Person.Role.COORDINATOR, Person.Role.TEACHER, Person.Role.SUBSTITUTE


def give(cast: Cast, person: Person, role: Person.Role, **days: Any) -> PersonRole:
    """A second role of somebody, as the coordinator gives it, from today if nothing else is said."""
    values = {"role": role, "first_day": date_there(), **days}
    return role_save(actor=cast.coordinator, row=PersonRole(person=person), values=values)


def signed_in(person: Person) -> Client:
    """A browser after the sign-in page."""
    client = Client()
    assert client.post(reverse("sign_in"), {"username": person.username, "password": PASSWORD}).status_code == 302
    return client


def codes(client: Client) -> set[str]:
    """Which students the API lists."""
    return {one["code"] for one in client.get("/api/1/students/").json()["results"]}


def test_a_session_works_in_one_role_at_a_time(cast: Cast) -> None:
    """As a teacher her caseload, as the coordinator the district, in either nothing of the other."""
    give(cast, cast.teacher, COORDINATOR)
    browser = signed_in(cast.teacher)
    assert codes(browser) == {"S01"}
    assert browser.get(reverse("people")).status_code == 403
    page = browser.get(reverse("student_list")).content.decode()
    assert "Working as itinerant teacher" in page
    assert "Work as coordinator" in page
    assert browser.post(reverse("role_work_as"), {"role": COORDINATOR}).status_code == 302
    assert codes(browser) == {"S01", "S02"}
    assert browser.get(reverse("people")).status_code == 200
    assert browser.get(reverse("log_months")).status_code == 200
    # What only a teacher does, she doesn't do as the coordinator.
    assert not Person.objects.get(pk=cast.teacher.pk).act_as(COORDINATOR).has_perm("month.sign")
    entry = AuditEntry.objects.get(action="role_choose")
    assert (entry.actor, entry.changes) == (cast.teacher, {"role": [TEACHER, COORDINATOR]})


def test_the_choice_is_remembered_and_is_each_sessions_own(cast: Cast) -> None:
    """The next sign-in begins in it; a session that works in the other goes on in that."""
    give(cast, cast.teacher, COORDINATOR)
    phone, laptop = signed_in(cast.teacher), signed_in(cast.teacher)
    assert codes(phone) == {"S01"}
    laptop.post(reverse("role_work_as"), {"role": COORDINATOR})
    assert codes(laptop) == {"S01", "S02"}
    assert codes(phone) == {"S01"}
    assert codes(signed_in(cast.teacher)) == {"S01", "S02"}


def test_a_role_opens_and_ends_on_its_days(cast: Cast) -> None:
    """Nothing of it before the first day and after the last, also in a session that works in it."""
    row = give(cast, cast.teacher, COORDINATOR, first_day=date_there() + DAY)
    browser = signed_in(cast.teacher)
    api = Api(cast.teacher)
    assert api.post("own-role/", 409, role=COORDINATOR)["message"] == NOT_HELD
    role_save(actor=cast.coordinator, row=row, values={"first_day": date_there()})
    assert browser.post(reverse("role_work_as"), {"role": COORDINATOR}).status_code == 302
    assert codes(browser) == {"S01", "S02"}
    PersonRole.objects.filter(pk=row.pk).update(first_day=None, last_day=date_there() - DAY)
    assert codes(browser) == {"S01"}


def test_without_a_role_nobody_gets_in(cast: Cast) -> None:
    """Open sessions and tokens end with the last role; signing in looks like a wrong password."""
    token = token_make(actor=cast.teacher, name="sheet", scope="read", last_day=date_there() + DAY)[1]
    browser = signed_in(cast.teacher)
    assert ask(token, "students/").status_code == 200
    PersonRole.objects.filter(person=cast.teacher).update(last_day=date_there() - DAY)
    assert browser.get(reverse("student_list")).status_code == 302
    assert ask(token, "students/").status_code == 401
    answer = Client().post(reverse("sign_in"), {"username": cast.teacher.username, "password": PASSWORD})
    assert answer.status_code != 302
    assert not Student.objects.visible_to(working_as(Person.objects.get(pk=cast.teacher.pk), TEACHER)).exists()


def test_a_token_works_in_the_role_in_which_it_was_made(cast: Cast) -> None:
    """Whatever its person works as since; it stops when that role does."""
    row = give(cast, cast.teacher, COORDINATOR)
    teaching = token_make(actor=cast.teacher, name="own", scope="read", last_day=date_there() + DAY)[1]
    api = Api(cast.teacher)
    api.post("own-role/", 200, role=COORDINATOR)
    acting = Person.objects.get(pk=cast.teacher.pk)
    answering = token_make(actor=acting, name="district", scope="read", last_day=date_there() + DAY)[1]
    seen = [len(ask(one, "students/").json()["results"]) for one in (teaching, answering)]
    assert seen == [1, 2]
    assert ask(teaching, "own-role/").status_code == 403
    PersonRole.objects.filter(pk=row.pk).update(first_day=None, last_day=date_there() - DAY)
    assert [ask(one, "students/").status_code for one in (teaching, answering)] == [200, 401]
    assert set(ApiToken.objects.values_list("role", flat=True)) == {TEACHER, COORDINATOR}


def test_who_teaches_is_a_teacher_whatever_she_works_as(cast: Cast) -> None:
    """She stays in the lists of teachers, may get students, and keeps hers."""
    give(cast, cast.teacher, COORDINATOR)
    Api(cast.teacher).post("own-role/", 200, role=COORDINATOR)
    assert Person.objects.get(pk=cast.teacher.pk).role == COORDINATOR
    assert set(teachers_of(cast.district)) == {cast.teacher, cast.mate}
    api = Api(cast.coordinator)
    api.patch(f"students/{cast.mates_student.pk}/", caseload_teacher=cast.teacher.pk)
    refused = api.patch(f"students/{cast.mates_student.pk}/", 400, caseload_teacher=cast.office.pk)
    assert list(refused["fields"]) == ["teacher"]
    assert Api(cast.teacher).get(f"weeks/?teacher={cast.teacher.pk}") is not None


def test_background_work_is_done_in_the_role_in_which_it_was_asked(cast: Cast) -> None:
    """Her own weeks as their teacher, the district's in the coordinator's role; without it, in none."""
    row = give(cast, cast.teacher, COORDINATOR)
    me = Person.objects.get(pk=cast.teacher.pk)
    assert planning_as(me, me).role == TEACHER
    assert planning_as(Person.objects.get(pk=me.pk), cast.mate).role == COORDINATOR
    PersonRole.objects.filter(pk=row.pk).update(first_day=None, last_day=date_there() - DAY)
    gone = planning_as(Person.objects.get(pk=me.pk), cast.mate)
    assert not gone.has_perm("week.view")


def test_messages_go_to_who_holds_the_role(cast: Cast) -> None:
    """A coordinator who works as a teacher just now hears of the district's days, with all of them."""
    give(cast, cast.mate, COORDINATOR)
    heard = {one.person.pk: one.person.role for one in hearers_of(cast.teacher, date_there(), ()) if one.person}
    assert heard == {cast.teacher.pk: TEACHER, cast.mate.pk: COORDINATOR, cast.coordinator.pk: COORDINATOR}


def test_what_is_read_is_recorded_under_the_role(cast: Cast) -> None:
    """As the coordinator every look at a student is recorded with that reason, as a teacher the own aren't."""
    give(cast, cast.teacher, COORDINATOR)
    browser = signed_in(cast.teacher)
    browser.get(reverse("student_detail", args=[cast.student.pk]))
    assert not Access.objects.filter(kind=Access.Kind.VIEW).exists()
    browser.post(reverse("role_work_as"), {"role": COORDINATOR})
    browser.get(reverse("student_detail", args=[cast.mates_student.pk]))
    assert Access.objects.get(kind=Access.Kind.VIEW).why == REASONS[COORDINATOR]


def test_the_strictest_second_factor_counts(cast: Cast) -> None:
    """Where coordinators need one, who also is one needs it as a teacher, too."""
    SignInRules.objects.create(district=cast.district, factor_coordinators=True, factor_first_day=date_there())
    assert not factors_of(cast.teacher).needed
    give(cast, cast.teacher, COORDINATOR)
    assert factors_of(Person.objects.get(pk=cast.teacher.pk)).needed


def test_a_phone_keeps_roles_apart(cast: Cast) -> None:
    """Each role has a key of its own, and one that has ended is a stopped account's."""
    before = phone_key(cast.teacher)
    row = give(cast, cast.teacher, SUBSTITUTE)
    person = Person.objects.get(pk=cast.teacher.pk)
    assert phone_key(person) == before
    other = phone_key(person.act_as(SUBSTITUTE))
    assert other != before
    assert not stopped_of_key(other)
    PersonRole.objects.filter(pk=row.pk).update(first_day=None, last_day=date_there() - DAY)
    assert stopped_of_key(other)
    assert not stopped_of_key(before)


# ---- given and taken -------------------------------------------------------------------------------------


def test_effects_are_shown_first_and_can_be_taken_back(cast: Cast) -> None:
    """On the page and by the API, nothing is saved until it was seen; the days of before come back."""
    browser = signed_in(cast.coordinator)
    address = reverse("role_new", args=[cast.teacher.pk])
    sent = {"role": COORDINATOR, "first_day": date_there().isoformat(), "last_day": ""}
    shown = browser.post(address, sent)
    assert shown.context["effects"][0].startswith("Teacher Vey may work as coordinator, from ")
    assert PersonRole.objects.filter(person=cast.teacher).count() == 1
    told = Api(cast.coordinator).post(
        "roles/effects/", 200, **{**sent, "person": cast.teacher.pk, "last_day": None}
    )
    assert told["effects"] == shown.context["effects"]
    answer = browser.post(address, {**sent, "effects_seen": shown.context["effects_seen"]})
    assert answer.status_code == 302
    row = PersonRole.objects.get(person=cast.teacher, role=COORDINATOR)
    role_save(actor=cast.coordinator, row=row, values={"last_day": date_there() + DAY})
    page = browser.get(reverse("role_change", args=[row.pk]))
    assert "Take it back" in page.content.decode()
    browser.post(reverse("role_take_back", args=[row.pk]), {"seen": page.context["last"].entry.pk})
    row.refresh_from_db()
    assert row.last_day is None
    with pytest.raises(ApplicationError):
        role_undo(actor=cast.coordinator, row=row)


def test_the_end_of_teaching_says_what_nobody_gives(cast: Cast) -> None:
    """As a last day of work does: the services that are owed after it."""
    row = PersonRole.objects.get(person=cast.teacher, role=TEACHER)
    last = date_there() + DAY
    assert cast.line.end > last
    told = Api(cast.coordinator).post(f"roles/{row.pk}/effects/", 200, last_day=last.isoformat())["effects"]
    assert any("Nobody gives these services then" in one and cast.student.full_name in one for one in told)
    assert any("has no role and can't sign in" in one for one in told)
    row.refresh_from_db()
    assert row.last_day is None


def test_what_was_done_in_a_role_keeps_it(cast: Cast) -> None:
    """It isn't removed once it has begun; one that comes is. A role doesn't become another."""
    row = PersonRole.objects.get(person=cast.teacher)
    with pytest.raises(ApplicationError) as refused:
        role_remove(actor=cast.coordinator, row=row)
    assert refused.value.message == HAS_BEGUN
    with pytest.raises(ValidationError) as fixed:
        role_save(actor=cast.coordinator, row=row, values={"role": COORDINATOR})
    assert fixed.value.message_dict["role"] == [ROLE_FIXED]
    role_remove(actor=cast.coordinator, row=give(cast, cast.teacher, COORDINATOR, first_day=date_there() + DAY))
    assert PersonRole.objects.filter(person=cast.teacher).count() == 1


def test_a_role_is_held_once_at_a_time(cast: Cast) -> None:
    """The same role twice is refused; after the first has ended there may be another."""
    first = give(cast, cast.teacher, COORDINATOR, last_day=date_there() + DAY)
    with pytest.raises(ValidationError) as refused:
        give(cast, cast.teacher, COORDINATOR)
    assert "Change its days instead" in refused.value.message_dict["role"][0]
    assert first.last_day is not None
    give(cast, cast.teacher, COORDINATOR, first_day=first.last_day + DAY)


def test_somebody_always_answers_for_the_district(cast: Cast) -> None:
    """The only coordinator's role can't end before another has it."""
    row = PersonRole.objects.get(person=cast.coordinator)
    with pytest.raises(ValidationError) as refused:
        role_save(actor=cast.coordinator, row=row, values={"last_day": date_there() + DAY})
    assert refused.value.message_dict == {"last_day": [LAST_COORDINATOR]}
    give(cast, cast.teacher, COORDINATOR)
    role_save(actor=cast.coordinator, row=row, values={"last_day": date_there() + DAY})


def test_an_office_as_a_second_role_needs_its_buildings(cast: Cast) -> None:
    """And sees these alone while it is worked in."""
    api = Api(cast.coordinator)
    new: dict[str, Any] = {"person": cast.teacher.pk, "role": "office", "first_day": date_there().isoformat()}
    assert list(api.post("roles/", 400, **new)["fields"]) == ["buildings"]
    api.post("roles/", **new, buildings=[cast.north.pk])
    own = Api(cast.teacher)
    assert own.get("buildings/")["count"] == 2
    own.post("own-role/", 200, role="office")
    assert [one["id"] for one in own.get("buildings/")["results"]] == [cast.north.pk]
    own.get("students/", 403)


def test_only_a_coordinator_gives_roles_and_everybody_sees_the_own(cast: Cast) -> None:
    """Of another district there is none; a role that is given to oneself is refused."""
    row = PersonRole.objects.get(person=cast.teacher)
    own = Api(cast.teacher)
    assert [one["id"] for one in own.get("roles/")["results"]] == [row.pk]
    own.post("roles/", 403, person=cast.teacher.pk, role="coordinator")
    own.post("own-role/", 409, role="coordinator")
    Api(cast.stranger).patch(f"roles/{row.pk}/", 404, last_day=None)
    Api(cast.stranger).post("roles/", 400, person=cast.teacher.pk, role="coordinator")


def test_saving_a_person_never_saves_the_sessions_role(cast: Cast) -> None:
    """What a session chose stays with it; a person with several roles changes them under Roles."""
    give(cast, cast.teacher, COORDINATOR)
    acting = Person.objects.get(pk=cast.teacher.pk).act_as(COORDINATOR)
    acting.email = "vey@school.example"
    acting.save()
    assert acting.role == COORDINATOR
    assert Person.objects.get(pk=cast.teacher.pk).role == TEACHER
    with pytest.raises(ValidationError) as refused:
        person_save(
            actor=cast.coordinator, row=Person.objects.get(pk=cast.teacher.pk), values={"role": "substitute"}
        )
    assert list(refused.value.message_dict) == ["role"]
