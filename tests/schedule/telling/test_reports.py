"""A progress report from draft to print: nothing leaves before a person has read each part and signed."""

import datetime as dt
import io

import pypdf
import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from caseload.progress.models import StudentGoal
from schedule.calendar.models import MarkingPeriod, SchoolYear
from schedule.telling.models import ProgressReport
from schedule.telling.selectors.reports import report_view, shown_sentences
from schedule.telling.services import reports as services
from schedule.telling.services.sending import report_send
from tests.api import Api
from tests.caseload.progress.builders import make_goal, make_point
from tests.conftest import Cast
from tests.schedule.log_builders import bring_to_now, log_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def today(cast: Cast) -> dt.date:
    """Pages and the API ask the clock."""
    day = timezone.localdate()
    bring_to_now(cast, day)
    return day


@pytest.fixture
def goal(cast: Cast, today: dt.date) -> StudentGoal:
    """With three data points."""
    row = make_goal(cast.student, start=today - dt.timedelta(days=50), end=today + dt.timedelta(days=50))
    for ago, value in ((30, 1), (20, 2), (10, 3)):
        make_point(row, today - dt.timedelta(days=ago), value, cast.teacher)
    return row


@pytest.fixture
def report(cast: Cast, goal: StudentGoal, today: dt.date) -> ProgressReport:
    """A draft of the last six weeks, with one session logged in them."""
    log_line(cast, today - dt.timedelta(days=9))
    return begin(cast, today)


def begin(cast: Cast, today: dt.date, **values: str) -> ProgressReport:
    return services.report_begin(
        actor=cast.teacher,
        student=cast.student,
        kind=values.pop("kind", "period"),
        name="Marking period 1",
        first_day=today - dt.timedelta(days=42),
        last_day=today - dt.timedelta(days=1),
        today=today,
        **values,
    )


def read_all(actor: Person, report: ProgressReport, **words: str) -> ProgressReport:
    """Every part read, some worded otherwise by topic."""
    report.refresh_from_db()
    rows = shown_sentences(report)
    return services.sentences_save(
        actor=actor,
        report=report,
        words={one.pk: words.get(one.topic, one.text) for one in rows},
        read={one.pk for one in rows},
        expected_revision=report.revision,
        now=timezone.now(),
    )


def sign(actor: Person, report: ProgressReport, today: dt.date, name: str = "") -> ProgressReport:
    report.refresh_from_db()
    return services.report_sign(
        actor=actor,
        report=report,
        name=name or str(actor),
        expected_revision=report.revision,
        today=today,
        now=timezone.now(),
    )


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_a_draft_tells_the_figures_and_nobody_has_read_it(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    view = report_view(cast.teacher, report, today)
    goals = [one for one in view.team if one.topic == "goal"]
    assert "Present level: 2 of 5 trials (of 3 data points" in goals[0].text
    assert view.facts.attendance.given == 1
    assert view.unread == len([one for one in (*view.team, *view.family) if one.text])


def test_what_nobody_has_read_is_not_signed_and_what_is_not_signed_does_not_leave(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    with pytest.raises(ApplicationError) as refused:
        sign(cast.teacher, report, today)
    assert refused.value.code == "unread"
    read_all(cast.teacher, report)
    with pytest.raises(ApplicationError) as refused:
        report_send(actor=cast.teacher, report=report, audience="team", why="", make=lambda: b"", form="pdf")
    assert refused.value.code == "not_signed"
    assert not AuditEntry.objects.filter(action="report_export").exists()
    with pytest.raises(ValidationError):
        sign(cast.teacher, report, today, name="Somebody Else")
    signed = sign(cast.teacher, report, today)
    report_send(actor=cast.teacher, report=signed, audience="team", why="Report card", make=lambda: b"", form="pdf")
    written = AuditEntry.objects.get(action="report_export")
    assert written.changes["why"] == [None, "Report card"]


def test_what_was_signed_stays_when_data_change_afterwards(
    cast: Cast, report: ProgressReport, goal: StudentGoal, today: dt.date
) -> None:
    read_all(cast.teacher, report, minutes="Worded by hand.")
    signed = sign(cast.teacher, report, today)
    make_point(goal, today - dt.timedelta(days=2), 5, cast.teacher)
    log_line(cast, today - dt.timedelta(days=5))
    view = report_view(cast.teacher, signed, today)
    assert [one.text for one in view.team if one.topic == "minutes"] == ["Worded by hand."]
    assert (view.facts.goals[0].points, view.facts.attendance.given) == (3, 1)
    # Opened again it is a draft with the figures of now.
    services.report_reopen(actor=cast.teacher, report=signed, expected_revision=signed.revision)
    signed.refresh_from_db()
    assert report_view(cast.teacher, signed, today).facts.attendance.given == 2


def test_drafting_again_keeps_what_a_person_worded_and_asks_to_read_what_is_new(
    cast: Cast, report: ProgressReport, goal: StudentGoal, today: dt.date
) -> None:
    row = read_all(cast.teacher, report, attendance="Came nearly always.")
    make_point(goal, today - dt.timedelta(days=2), 4, cast.teacher)
    services.report_draft_again(actor=cast.teacher, report=row, expected_revision=row.revision, today=today)
    row.refresh_from_db()
    team = {one.topic: one for one in shown_sentences(row) if one.audience == "team"}
    assert team["attendance"].text == "Came nearly always."
    assert team["attendance"].read_at is not None
    assert "of 4 data points" in team["goal"].text
    assert team["goal"].read_at is None


def test_another_language_has_its_own_words_and_keeps_those_of_the_first(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    row = read_all(cast.teacher, report, more="Call me any time.")
    row = services.report_language_choose(
        actor=cast.teacher, report=row, language="es", expected_revision=row.revision, today=today
    )
    family = {one.topic: one for one in shown_sentences(row) if one.audience == "family"}
    assert "trabaja en esta meta" in family["goal"].text
    assert all(one.read_at is None for one in family.values() if one.text)
    row = services.report_language_choose(
        actor=cast.teacher, report=row, language="en", expected_revision=row.revision, today=today
    )
    family = {one.topic: one for one in shown_sentences(row) if one.audience == "family"}
    assert family["more"].text == "Call me any time."


def test_two_people_at_once_are_noticed(cast: Cast, report: ProgressReport) -> None:
    seen = report.revision
    read_all(cast.teacher, report)
    with pytest.raises(ApplicationError) as refused:
        services.sentences_save(
            actor=cast.coordinator, report=report, words={}, read=(), expected_revision=seen, now=timezone.now()
        )
    assert refused.value.code == "changed_meanwhile"


def test_a_removed_report_comes_back_unless_another_was_begun(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    with pytest.raises(ValidationError):
        begin(cast, today)
    services.report_remove(actor=cast.teacher, report=report, expected_revision=report.revision, now=timezone.now())
    report.refresh_from_db()
    services.report_restore(actor=cast.teacher, report=report)
    report.refresh_from_db()
    assert report.removed_at is None
    services.report_remove(actor=cast.teacher, report=report, expected_revision=report.revision, now=timezone.now())
    begin(cast, today)
    report.refresh_from_db()
    with pytest.raises(ValidationError):
        services.report_restore(actor=cast.teacher, report=report)


def test_dates_that_have_not_begun_have_nothing_to_tell(cast: Cast, today: dt.date) -> None:
    with pytest.raises(ValidationError) as refused:
        services.report_begin(
            actor=cast.teacher,
            student=cast.student,
            kind="annual",
            name="Next year",
            first_day=today + dt.timedelta(days=3),
            last_day=today + dt.timedelta(days=9),
            today=today,
        )
    assert "first_day" in refused.value.message_dict


def test_the_whole_way_on_the_pages(cast: Cast, goal: StudentGoal, today: dt.date) -> None:
    """Begin for a marking period, word, read, sign, print for the family, open again."""
    year = SchoolYear.objects.get(name="Now")
    MarkingPeriod.objects.create(
        district=cast.district,
        school_year=year,
        name="Quarter 1",
        first_day=today - dt.timedelta(days=42),
        last_day=today - dt.timedelta(days=1),
    )
    teacher = signed_in(cast.teacher)
    home = teacher.get(reverse("progress_reports")).content.decode()
    assert "Quarter 1" in home
    assert "Not begun" in home
    begun = teacher.post(reverse("progress_reports"), {"student": cast.student.pk})
    row = ProgressReport.objects.get()
    assert begun.headers["Location"] == reverse("progress_report", args=[row.pk])
    page = teacher.get(begun.headers["Location"]).content.decode()
    assert "nobody has read yet" in page
    act = reverse("progress_report_act", args=[row.pk])
    refused = teacher.post(act, {"act": "sign", "revision": row.revision, "name": str(cast.teacher)})
    assert refused.status_code == 422
    assert "nobody has read" in refused.content.decode()
    row.refresh_from_db()
    told = {f"text-{one.pk}": one.text for one in shown_sentences(row)}
    ticked = {f"read-{one.pk}": "on" for one in shown_sentences(row) if one.text}
    saved = teacher.post(act, {"act": "save", "revision": row.revision, **told, **ticked})
    assert saved.status_code == 302
    row.refresh_from_db()
    teacher.post(act, {"act": "sign", "revision": row.revision, "name": str(cast.teacher)})
    printed = teacher.post(reverse("progress_report_print", args=[row.pk, "family"]), {"why": "Family"})
    assert printed.headers["Cache-Control"] == "no-store"
    assert "is working on this goal" in printed.content.decode()
    assert "Signed" in teacher.get(reverse("progress_reports")).content.decode()
    row.refresh_from_db()
    teacher.post(act, {"act": "reopen", "revision": row.revision})
    closed = teacher.post(reverse("progress_report_print", args=[row.pk, "family"]), {"why": ""})
    assert closed.status_code == 422


def test_the_api_does_the_same(cast: Cast, goal: StudentGoal, today: dt.date) -> None:
    api = Api(cast.teacher)
    body = {
        "student": cast.student.pk,
        "kind": "annual",
        "name": "Annual meeting",
        "first_day": str(today - dt.timedelta(days=42)),
        "last_day": str(today),
        "family_language": "es",
    }
    told = api.post("progress-reports/", 201, **body)
    pk, revision = told["report"]["id"], told["report"]["revision"]
    parts = [{"id": one["id"], "text": one["text"], "read": True} for one in told["sentences"]]
    worded = api.patch(f"progress-reports/{pk}/", expected_revision=revision, sentences=parts)
    assert all(one["read_at"] for one in worded["sentences"] if one["text"])
    assert api.post(f"progress-reports/{pk}/file/", expect=409, audience="family")["code"] == "not_signed"
    revision = worded["report"]["revision"]
    signed = api.post(
        f"progress-reports/{pk}/act/", expect=200, act="sign", expected_revision=revision, name=str(cast.teacher)
    )
    assert signed["report"]["signed_name"] == str(cast.teacher)
    assert "meta" in " ".join(one["text"] for one in signed["report"]["content"]["sentences"])
    assert [one["id"] for one in api.get("progress-reports/")] == [pk]


def test_the_familys_pdf_has_its_own_words_and_the_grade_of_reading_them(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    """As a reader of the file finds them; the team's words stay with the team."""
    read_all(cast.teacher, report)
    signed = sign(cast.teacher, report, today)
    address = reverse("progress_report_print", args=[signed.pk, "family"])
    answer = signed_in(cast.teacher).post(address, {"why": "Home", "pdf": ""})
    pages = pypdf.PdfReader(io.BytesIO(answer.getvalue())).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    view = report_view(cast.teacher, signed, today)
    assert view.grade.grade is not None
    assert f"Reading grade of this page: {view.grade.grade} (Flesch-Kincaid grade)." in text
    assert "is working on this goal" in text
    assert "Present level" not in text


def test_a_signed_report_keeps_its_charts_and_its_grade(
    cast: Cast, report: ProgressReport, goal: StudentGoal, today: dt.date
) -> None:
    """Data that come in late, or are taken back, change the next report and not this one."""
    read_all(cast.teacher, report)
    signed = sign(cast.teacher, report, today)
    before = report_view(cast.teacher, signed, today)
    make_point(goal, today - dt.timedelta(days=5), 5, cast.teacher)
    goal.data.filter(value=1).delete()
    after = report_view(cast.teacher, signed, today)
    assert [one.story for one in after.team if one.topic == "goal"] == [
        one.story for one in before.team if one.topic == "goal"
    ]
    story = next(one.story for one in after.team if one.topic == "goal")
    assert story is not None
    assert [(one.day, one.words) for one in story.points][-1] == (today - dt.timedelta(days=30), "1 of 5 trials")
    assert (after.facts, after.grade) == (before.facts, before.grade)
    services.report_reopen(actor=cast.teacher, report=signed, expected_revision=signed.revision)
    signed.refresh_from_db()
    again = next(one.story for one in report_view(cast.teacher, signed, today).team if one.topic == "goal")
    assert again is not None
    assert again.points[0].words == "5 of 5 trials"


def test_a_report_signed_before_charts_were_kept_is_drawn_from_the_data(
    cast: Cast, report: ProgressReport, today: dt.date
) -> None:
    """Its words and figures are those that were signed."""
    read_all(cast.teacher, report)
    signed = sign(cast.teacher, report, today)
    before = report_view(cast.teacher, signed, today)
    signed.content = {name: signed.content[name] for name in ("facts", "sentences")}
    assert report_view(cast.teacher, signed, today) == before


@pytest.fixture
def period(cast: Cast, today: dt.date) -> MarkingPeriod:
    """One that began six weeks ago."""
    year = SchoolYear.objects.get(name="Now")
    return MarkingPeriod.objects.create(
        district=cast.district, school_year=year, name="Marking period 1",
        first_day=today - dt.timedelta(days=42), last_day=today - dt.timedelta(days=1),
    )  # fmt: skip


def test_one_press_begins_everybodys_and_one_takes_back_what_nobody_worked_on(
    cast: Cast, report: ProgressReport, period: MarkingPeriod, today: dt.date
) -> None:
    """Who has one keeps it; what was read since stays; pressed twice it begins nothing more."""
    client = Client()
    client.force_login(cast.coordinator)
    address = reverse("progress_reports")
    assert "Begin all 1" in client.get(address).text
    answer = client.post(address, {"act": "all"}, follow=True)
    assert "1 report begun" in answer.text
    assert ProgressReport.objects.kept().count() == 2
    assert "Begin all" not in client.post(address, {"act": "all"}, follow=True).text
    assert "Take back the 1" in client.get(address).text
    assert "1 removed" in client.post(address, {"act": "back"}, follow=True).text
    assert list(ProgressReport.objects.kept()) == [report]

    api = Api(cast.coordinator)
    assert api.post(f"progress-reports/periods/{period.pk}/", expect=200) == {"begun": 1, "refused": [], "left": 0}
    read_all(cast.coordinator, ProgressReport.objects.kept().exclude(pk=report.pk).get())
    assert api._answer(api.client.delete(f"/api/1/progress-reports/periods/{period.pk}/"), 200) == {"removed": 0}


def test_a_period_that_hasnt_begun_says_so_for_everybody(cast: Cast, period: MarkingPeriod, today: dt.date) -> None:
    """Each with why; nothing is begun."""
    ahead = today + dt.timedelta(days=3)
    MarkingPeriod.objects.filter(pk=period.pk).update(first_day=ahead, last_day=ahead + dt.timedelta(days=30))
    found = Api(cast.teacher).post(f"progress-reports/periods/{period.pk}/", expect=200)
    assert found["begun"] == 0
    assert ["haven't begun" in one["why"] for one in found["refused"]] == [True]
