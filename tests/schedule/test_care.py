"""Supports and cautions with the student's name: for whoever may see that student, and nobody else."""

import datetime as dt
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Substitution
from caseload.care.models import Caution, Support
from caseload.care.selectors import care_of
from caseload.plans.models import Student
from schedule.log.services import session_log
from tests.api import Api
from tests.caseload.care.written import write_care
from tests.conftest import Cast
from tests.schedule.builders import MONDAY
from tests.schedule.day_builders import Day, make_day
from tests.schedule.log_builders import log_session

pytestmark = pytest.mark.django_db

# The sentence as the requirement for it words it; the program may say it in no other way.
ASK = (
    "Ask before this activity: follow the student's plan; the physician, school nurse, physical therapist or the "
    "plan's team decides."
)
SEIZURES, LATEX, CARDS = "Seizures: water and heights.", "Latex in balls and mats.", "Picture cards; a timer"
WRITTEN = (SEIZURES, LATEX, CARDS)
TUESDAY = MONDAY + dt.timedelta(days=1)


@pytest.fixture
def day(cast: Cast, monkeypatch: pytest.MonkeyPatch) -> Day:
    """The Monday, which the substitute covers; two of four students have cautions, one has supports."""
    made = make_day(cast, monkeypatch)
    for code, values in {
        "S01": {"cautions": SEIZURES},
        "F1": {"cautions": f"{LATEX}\n", "supports": "One aide"},
        "F2": {"supports": CARDS},
    }.items():
        write_care(Student.objects.get(code=code), **values)
    Substitution.objects.create(
        substitute=cast.substitute, teacher=cast.teacher, first_date=MONDAY, last_date=MONDAY
    )
    made.clock("7:00")
    return made


def pages(day: Day) -> dict[str, str]:
    """The pages that name students of the day, by what they are."""
    whose = f"?teacher={day.cast.teacher.pk}"
    return {
        "today": reverse("day") + whose,
        "log": reverse("log") + whose,
        "session": f"{reverse('log_session')}?uid={day.sessions[1].uid}",
        "week": reverse("week") + whose,
        "students": reverse("student_list"),
    }


def page_of(person: Person, address: str) -> str:
    """The page as it is read."""
    browser = Client()
    browser.force_login(person)
    return unescape(browser.get(address, follow=True).content.decode())


def link_to(student: Student) -> str:
    """The name, leading to the student."""
    return f'href="{reverse("student_detail", args=[student.pk])}">{student.full_name}</a>'


@pytest.mark.parametrize(
    "end",
    [f" {ASK}", f"\n{ASK.upper()}", f" {ASK.rstrip('.')}", " " + ASK.replace("'", "\u2019").replace(" ", "\n ")],
)
def test_a_caution_written_with_the_sentence_shows_it_once(cast: Cast, end: str) -> None:
    """The caution stays whole; whom else somebody wrote to ask stays too."""
    page = reverse("student_detail", args=[cast.student.pk])
    write_care(cast.student, cautions=f"{SEIZURES}{end}")
    care = care_of(cast.teacher, [cast.student.pk])[cast.student.pk]
    assert (care.cautions, care.ask_first) == (SEIZURES, ASK)
    assert page_of(cast.teacher, page).count(ASK) == 1
    for own in ("Ask before this activity: the school nurse.", f"{ASK} Carry the inhaler."):
        write_care(cast.student, cautions=own)
        assert care_of(cast.teacher, [cast.student.pk])[cast.student.pk].cautions == own
    write_care(cast.student, cautions=ASK)
    assert care_of(cast.teacher, [cast.student.pk])[cast.student.pk].is_written


@pytest.mark.parametrize("who", ["teacher", "substitute", "coordinator"])
def test_every_page_of_the_day_says_it_with_the_name(day: Day, who: str) -> None:
    """What is written down, the names as links, and whom to ask once a page, not once a student."""
    person = getattr(day.cast, who)
    far = list(Student.objects.filter(code__in=["F1", "F2"]))
    for name, address in pages(day).items():
        page = page_of(person, address)
        expected = {LATEX, CARDS} if name == "session" else set(WRITTEN)
        assert {text for text in WRITTEN if text in page} == expected, name
        assert page.count(ASK) == 1, name
        if name != "students":  # the list has the last name first
            assert all(link_to(one) in page for one in far), name


@pytest.mark.parametrize("page", ["week_version", "week_edit"])
def test_a_chosen_session_says_it_too(day: Day, page: str) -> None:
    """On the week's page and in the editor; the sentence stands once beside it."""
    address = f"{reverse(page, args=[day.week.pk])}?session={day.sessions[1].uid}"
    shown = page_of(day.cast.teacher, address)
    panel = shown.partition('id="panel"')[2].partition("</section>")[0]
    assert LATEX in panel
    assert CARDS in panel
    assert link_to(Student.objects.get(code="F1")) in panel
    assert shown.count(ASK) == 1


def test_the_weeks_list_opens_emergency_steps_by_one_tap(day: Day) -> None:
    """As on Today: folded on the screen with the name, open on paper; nothing where no steps are written."""
    Caution.objects.filter(student__code="F1").update(emergency_steps="Note the time.\nCall the nurse.")
    page = page_of(day.cast.teacher, f"{reverse('week')}?teacher={day.cast.teacher.pk}")
    listed = page.partition('class="week-care"')[2].partition("</section>")[0]
    assert listed.count("<details") == 1
    assert listed.partition("<details")[2].partition("</details>")[0].count("Note the time.") == 1
    assert listed.count("Note the time.") == 2


def test_the_students_own_page_says_it_once(day: Day) -> None:
    """The sentence goes with cautions; who has none is not warned about."""
    for code, count in {"S01": 1, "F1": 1, "F2": 0}.items():
        address = reverse("student_detail", args=[Student.objects.get(code=code).pk])
        assert page_of(day.cast.substitute, address).count(ASK) == count


def test_a_day_without_cautions_warns_of_nothing(day: Day) -> None:
    """Supports alone bring no sentence, and a student about whom nothing is written no mark."""
    Support.objects.all().delete()
    Caution.objects.all().delete()
    for address in pages(day).values():
        page = page_of(day.cast.teacher, address)
        assert ASK not in page
        assert ">Caution<" not in page
        assert "Supports" not in page


def test_other_minutes_are_logged_with_the_caution_in_sight(day: Day) -> None:
    """A make-up that nobody planned is about the student too."""
    page = page_of(day.cast.substitute, reverse("minutes_log", args=[day.cast.student.pk]))
    assert SEIZURES in page
    assert page.count(ASK) == 1
    assert link_to(day.cast.student) in page


def test_a_substitute_reads_it_while_the_cover_lasts_and_not_after(day: Day) -> None:
    """The same addresses a day later: neither texts nor names, on pages or in the API."""
    substitute = day.cast.substitute
    entry = session_log(actor=substitute, session=day.sessions[0], client_id=day.sessions[0].uid, now=day.now)[0]
    addresses = [*pages(day).values(), reverse("log_entry", args=[entry.pk]), reverse("day_of", args=[MONDAY])]
    assert all("Tarn" in page_of(substitute, one) or "Quernmore" in page_of(substitute, one) for one in addresses)
    day.clock("7:00", TUESDAY)
    for address in addresses:
        page = page_of(substitute, address)
        assert not any(text in page for text in (*WRITTEN, ASK, "Tarn", "Quernmore")), address
    assert care_of(substitute, [day.cast.student.pk]) == {}
    assert Api(substitute).get("sessions-to-log/", date=MONDAY, teacher=day.cast.teacher.pk) == []


def test_a_school_office_never_reads_it(day: Day) -> None:
    """It has the day and the week of its school, without students."""
    for address in (reverse("day_of", args=[MONDAY]), reverse("week"), f"/week/{day.week.pk}/"):
        page = page_of(day.cast.office, f"{address}?teacher={day.cast.teacher.pk}")
        assert not any(text in page for text in (*WRITTEN, ASK)), address
    api = Api(day.cast.office)
    answers = [
        api.get(f"days/{MONDAY}/", teacher=day.cast.teacher.pk),
        api.get(f"weeks/{day.week.pk}/"),
    ]
    assert not any(text in str(answer) for text in (*WRITTEN, ASK) for answer in answers)


def test_who_may_not_see_the_student_is_left_out(day: Day) -> None:
    """One selector decides: the caseload teacher and the district's coordinator, nobody else of the cast."""
    cast = day.cast
    both = [cast.student.pk, cast.mates_student.pk]
    people = ("teacher", "mate", "coordinator", "office", "stranger", "substitute")
    seen = {name: sorted(care_of(getattr(cast, name), both)) for name in people}
    assert seen == {
        "teacher": both[:1], "mate": both[1:], "coordinator": both, "office": [], "stranger": [],
        "substitute": both[:1],
    }  # fmt: skip
    assert care_of(cast.coordinator, both)[cast.mates_student.pk].is_written is False


def cares(answer: Any) -> dict[str, Any]:
    """What an answer says of each student, wherever the student stands in it."""
    if isinstance(answer, list):
        return {key: value for one in answer for key, value in cares(one).items()}
    if not isinstance(answer, dict):
        return {}
    found = cares(list(answer.values()))
    return found | ({answer["code"]: answer["care"]} if "care" in answer else {})


@pytest.mark.parametrize("path", ["days/{date}/", "sessions-to-log/?date={date}", "weeks/{week}/"])
def test_the_api_says_the_same(day: Day, path: str) -> None:
    """In the answers that the pages are made of: with whom to ask wherever there is a caution."""
    answer = Api(day.cast.substitute).get(path.format(date=MONDAY, week=day.week.pk))
    told = {
        code: {name: care[name] for name in ("supports", "cautions", "ask_first")}
        for code, care in cares(answer).items()
    }
    assert told == {
        "S01": {"supports": "", "cautions": SEIZURES, "ask_first": ASK},
        "F1": {"supports": "One aide", "cautions": LATEX, "ask_first": ASK},
        "F2": {"supports": CARDS, "cautions": "", "ask_first": ""},
        "W1": {"supports": "", "cautions": "", "ask_first": ""},
    }


def test_a_logged_student_keeps_the_marks(day: Day) -> None:
    """On the log's page the name leads to the student before and after logging."""
    day.clock("15:30")
    log_session(day.cast.teacher, day.sessions[1])
    page = page_of(day.cast.teacher, reverse("log"))
    assert LATEX in page
    assert all(link_to(one) in page for one in Student.objects.filter(code__in=["F1", "F2"]))
