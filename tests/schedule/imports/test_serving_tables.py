"""Tables of those who serve: who may bring them, what a row refers to, and what a wrong one is told."""

import datetime as dt

import pytest
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry
from caseload.care.models import CautionTag
from caseload.plans.models import ContinuingService, ServiceLine
from schedule.assigning.models import TeacherPost
from schedule.calendar.models import WordRule
from schedule.imports.files.export import export_rows
from schedule.imports.models import ImportBatch
from schedule.imports.services.tables import import_undo
from schedule.imports.services.work import import_send
from schedule.imports.tables.serving import JOINT_SESSIONS, POSTS
from schedule.joint.models import JointService
from tests.api import API
from tests.caseload.test_student_pages import signed_in
from tests.conftest import Cast
from tests.schedule.imports.district import ALL, commit, commit_all, only_problem, preview, problems

POSTS_HEAD = ALL["posts"].partition("\n")[0]
JOINT_HEAD = ALL["joint-sessions"].partition("\n")[0]
UNTIL_PLANS = ("buildings", "bell-schedules", "rotations", "spaces", "classes", "students", "plans")


def joint_row(*, statement: str = "", setting: str = "", partner: str = "mate", until: str = "") -> str:
    return f"{JOINT_HEAD}\nK01,teacher,{statement},{setting},{partner},,,2026-09-08,{until},1\n"


def test_posts_come_in_go_out_and_are_taken_back(cast: Cast) -> None:
    commit(cast.teacher, "buildings", ALL["buildings"])
    batch = commit(cast.coordinator, "posts", ALL["posts"])
    rows = TeacherPost.objects.order_by("teacher__username", "first_day")
    assert list(rows.values_list("teacher__username", "first_day", "share", "base__code")) == [
        ("mate", dt.date(2026, 9, 1), 60, "ELM"),
        ("mate", dt.date(2027, 2, 1), 80, "FEN"),
        ("teacher", dt.date(2026, 9, 1), 100, None),
    ]
    later = TeacherPost.objects.get(share=80)
    assert [one.code for one in later.not_at.all()] == ["ELM"]
    again = f"{POSTS_HEAD}\n" + "".join(",".join(row) + "\n" for row in export_rows(cast.coordinator, POSTS))
    tally = preview(cast.coordinator, "posts", again).content["tallies"]["posts"]
    assert tally == {"new": 0, "changed": 0, "same": 3, "removed": 0}
    import_undo(actor=cast.coordinator, batch=batch)
    assert not TeacherPost.objects.exists()


def test_a_correction_of_a_post_names_what_changes(cast: Cast) -> None:
    commit(cast.teacher, "buildings", ALL["buildings"])
    commit(cast.coordinator, "posts", ALL["posts"])
    row = f"{POSTS_HEAD}\nmate,2027-02-01,90,,Adapted physical education,\n"
    batch = preview(cast.coordinator, "posts", row)
    (told,) = batch.content["outcomes"]["posts"]
    assert told[:2] == [2, "changed"]
    assert "Share of a full post: 80 → 90" in told[2]
    assert "Never goes to: Elm Rise School → empty" in told[2]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("nobody,2026-09-01,60,,,", "Teacher"),
        ("mate,2026-09-01,120,,,", "Share of a full post"),
        ("mate,2026-09-01,60,OAK,,", "Home base"),
        ("mate,2026-09-01,60,,,ELM; OAK", "Never goes to"),
        ("mate,2026-09-01,60,,,ELM; Elm Rise School", "Never goes to"),
    ],
)
def test_a_wrong_row_of_a_post_is_told_where(cast: Cast, row: str, column: str) -> None:
    commit(cast.teacher, "buildings", ALL["buildings"])
    problem = only_problem(preview(cast.coordinator, "posts", f"{POSTS_HEAD}\n{row}\n"))
    assert (problem.row, problem.column) == (2, column)


def test_posts_are_for_coordinators(cast: Cast) -> None:
    """A teacher's list doesn't have the table, and a file of it is refused whole, also among others."""
    for kind in ("posts", "several"):
        with pytest.raises(ApplicationError, match="Your role can't bring the table “Posts”") as refused:
            import_send(actor=cast.teacher, kind=kind, filename="posts.csv", content=ALL["posts"].encode())
        assert refused.value.status == 403
    with pytest.raises(ApplicationError, match="Your role"):
        preview(cast.teacher, "posts", ALL["posts"])
    assert not ImportBatch.objects.exists()
    assert list(export_rows(cast.teacher, POSTS)) == []
    for person, status in ((cast.teacher, 403), (cast.coordinator, 200)):
        client = signed_in(person)
        for address in (
            reverse("import_upload", args=["posts"]),
            reverse("import_template", args=["posts", "csv"]),
            reverse("import_export", args=["posts", "xlsx"]),
            f"{API}/import-tables/posts/rows/",
        ):
            assert client.get(address).status_code == status, address
        kinds = {one["kind"] for one in client.get(f"{API}/import-tables/").json()}
        assert ("posts" in kinds) is (status == 200)


def test_joint_sessions_come_in_go_out_and_are_taken_back(cast: Cast) -> None:
    """Also where the two services stand the other way round, as the other teacher would write it."""
    commit_all(cast.teacher, UNTIL_PLANS)
    batch = commit(cast.teacher, "joint-sessions", ALL["joint-sessions"])
    row = JointService.objects.get()
    lines = ServiceLine.objects.filter(plan__student__code="K01", service_type="direct").order_by("pk")
    assert [row.service, row.partner] == [one.service for one in lines]
    assert (row.times_a_week, row.last_day) == (1, None)
    again = f"{JOINT_HEAD}\n" + "".join(",".join(one) + "\n" for one in export_rows(cast.teacher, JOINT_SESSIONS))
    tally = preview(cast.teacher, "joint-sessions", again).content["tallies"]["joint-sessions"]
    assert tally == {"new": 0, "changed": 0, "same": 1, "removed": 0}
    turned = f"{JOINT_HEAD}\nK01,mate,,,teacher,,,2026-09-08,2027-01-29,1\n"
    (told,) = preview(cast.teacher, "joint-sessions", turned).content["outcomes"]["joint-sessions"]
    assert told == [2, "changed", ["Until: empty → 2027-01-29"]]
    import_undo(actor=cast.teacher, batch=batch)
    assert not JointService.objects.exists()


def test_a_joint_session_names_two_services_that_are_there(cast: Cast) -> None:
    commit_all(cast.teacher, UNTIL_PLANS)
    problem = only_problem(preview(cast.teacher, "joint-sessions", joint_row(partner="matte")))
    assert (problem.row, problem.column) == (2, "Together with")
    assert problem.remedy == "Did you mean “mate”?"
    problem = only_problem(preview(cast.teacher, "joint-sessions", joint_row(statement="3 x 30 min/week")))
    assert (problem.row, problem.column) == (2, "Teacher")
    assert "2 x 30 min/week, pushed into a general class" in problem.remedy
    assert "consultation" not in problem.remedy
    problem = only_problem(preview(cast.teacher, "joint-sessions", joint_row(until="2026-09-01")))
    assert problem.message == "The last day is before the first."


def test_two_services_of_one_teacher_are_asked_about(cast: Cast) -> None:
    """Statement and setting tell them apart."""
    commit_all(cast.teacher, UNTIL_PLANS)
    second = "Student code,Plan start,Plan end,Annual review,Provisional,Statement,Setting\n"
    second += "K01,2026-09-08,2027-06-18,2027-05-03,no,1 x 30 min/week,small group\n"
    commit(cast.teacher, "plans", second)
    problem = only_problem(preview(cast.teacher, "joint-sessions", joint_row()))
    assert problem.message == "“teacher” gives K01 more than one such service."
    assert problem.remedy.count(";") == 1
    assert problems(preview(cast.teacher, "joint-sessions", joint_row(setting="push in"))) == []
    assert problems(preview(cast.teacher, "joint-sessions", joint_row(statement="1 x 30 MIN/week"))) == []


def test_two_consultations_are_told_from_what_the_student_comes_to(cast: Cast) -> None:
    """A statement on one side says it for both."""
    commit_all(cast.teacher, UNTIL_PLANS)
    line = ServiceLine.objects.get(plan__student__code="K01", service_type="consultation")
    line.pk, line.provider = None, cast.mate
    line.service = ContinuingService.objects.create(student=line.plan.student)
    line.save(force_insert=True)
    commit(cast.teacher, "joint-sessions", joint_row(statement="20 min/month"))
    row = JointService.objects.get()
    both = ServiceLine.objects.filter(service__in=(row.service, row.partner))
    assert {(one.service_type, one.statement) for one in both} == {("consultation", "20 min/month")}


def test_the_words_of_a_district_come_in_and_are_taken_back(cast: Cast) -> None:
    """Words that are there are changed, whatever their capitals; a tag that is there stays as it is written."""
    WordRule.objects.create(district=cast.district, words="Recess Day", kind="closed", position=20)
    tag = CautionTag.objects.filter(district=cast.district).order_by("pk").first()
    assert tag is not None
    words = commit(cast.teacher, "calendar-words", ALL["calendar-words"])
    tags = commit(cast.teacher, "caution-tags", f"{ALL['caution-tags']}{tag.name.upper()}\n")
    assert list(WordRule.objects.values_list("words", "kind", "position")) == [
        ("Recess Day", "no_students", 50),
        ("grandparents' day", "ordinary", 100),
    ]
    named = set(CautionTag.objects.filter(district=cast.district).values_list("name", flat=True))
    assert {"Chlorine", tag.name} <= named
    assert tag.name.upper() not in named
    import_undo(actor=cast.teacher, batch=tags)
    import_undo(actor=cast.teacher, batch=words)
    assert list(WordRule.objects.values_list("words", "kind", "position")) == [("Recess Day", "closed", 20)]
    assert not CautionTag.objects.filter(name="Chlorine").exists()
    assert AuditEntry.objects.filter(action="caution_tag_save").exists()
