"""The API of planned weeks and of planning runs."""

from typing import Any

import pytest

from jobs.models import Job
from jobs.runner import work_once
from schedule.weeks.models import WeekPlan
from tests.api import Api
from tests.conftest import Cast
from tests.schedule.builders import MONDAY, date, make_ground, make_line, make_week

pytestmark = pytest.mark.django_db

UNKNOWN = "00000000-0000-4000-8000-000000000000"


@pytest.fixture
def week(cast: Cast) -> WeekPlan:
    """A draft with the line of the cast's student, twice 30 minutes one to one in the north building."""
    make_ground(cast)
    unit = f"line-{cast.line.pk}"
    return make_week(cast, [(unit, date(0), "8:30"), (unit, date(2), "9:20")])


def sessions_of(detail: dict[str, Any]) -> list[dict[str, Any]]:
    """Every session of a week, in time order."""
    return [session for day in detail["days"] for session in day["sessions"]]


def spot(session: dict[str, Any]) -> tuple[str, str]:
    """Date and start."""
    return session["date"], session["start"]


def test_a_week_says_what_stands_in_it(cast: Cast, week: WeekPlan) -> None:
    """Sessions with who attends, what fills the days, what was owed; and each version in a list."""
    api = Api(cast.teacher)
    detail = api.get(f"weeks/{week.pk}/")
    assert [spot(one) for one in sessions_of(detail)] == [("2026-09-14", "08:30:00"), ("2026-09-16", "09:20:00")]
    assert [one["code"] for one in sessions_of(detail)[0]["attendees"]] == ["S01"]
    assert (detail["minutes_placed"], detail["status"], detail["revision"]) == (60, "draft", week.revision)
    listed = api.get("weeks/", monday=str(MONDAY), status="draft", teacher=cast.teacher.pk)
    assert [row["id"] for row in listed["results"]] == [week.pk]
    assert api.get("weeks/", status="published")["count"] == 0


def test_a_session_is_moved_pinned_taken_out_placed_and_all_undone(cast: Cast, week: WeekPlan) -> None:
    """Each edit takes the revision that the person saw and answers with the week as it is then."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/"
    detail = api.get(path)
    uid = sessions_of(detail)[0]["uid"]
    options = api.get(f"{path}options/", uid=uid)
    free = next(one for one in options if not one["breaks"] and not one["is_now"] and one["date"] == "2026-09-15")
    moved = api.post(
        f"{path}move/",
        expect=200,
        uid=uid,
        date=free["date"],
        start=free["start"],
        space=free["space_id"],
        expected_revision=detail["revision"],
    )
    assert (free["date"], free["start"]) in [spot(one) for one in sessions_of(moved)]
    pinned = api.post(f"{path}pin/", expect=200, uid=uid, pinned=True, expected_revision=moved["revision"])
    assert [one["pinned"] for one in sessions_of(pinned) if one["uid"] == uid] == [True]
    removed = api.post(f"{path}remove/", expect=200, uid=uid, expected_revision=pinned["revision"])
    assert [one["minutes"] for one in removed["unplaced"]] == [30]
    unplaced = removed["unplaced"][0]["id"]
    choice = next(one for one in api.get(f"{path}options/", unplaced=unplaced) if not one["breaks"])
    placed = api.post(
        f"{path}place/",
        expect=200,
        unplaced=unplaced,
        date=choice["date"],
        start=choice["start"],
        expected_revision=removed["revision"],
    )
    assert placed["unplaced"] == []
    back = placed
    for _ in range(4):
        back = api.post(f"{path}undo/", expect=200, expected_revision=back["revision"])
    assert [spot(one) for one in sessions_of(back)] == [spot(one) for one in sessions_of(detail)]
    error = api.post(f"{path}undo/", expect=409, expected_revision=back["revision"])
    assert error["code"] == "nothing_to_undo"


def test_a_second_editor_is_told(cast: Cast, week: WeekPlan) -> None:
    """With the revision that was seen before somebody else's edit, nothing happens."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/"
    detail = api.get(path)
    uid, revision = sessions_of(detail)[0]["uid"], detail["revision"]
    Api(cast.coordinator).post(f"{path}pin/", expect=200, uid=uid, pinned=True, expected_revision=revision)
    error = api.post(f"{path}remove/", expect=409, uid=uid, expected_revision=revision)
    assert error["code"] == "changed_meanwhile"
    assert len(sessions_of(api.get(path))) == 2


def test_publish_edit_publish_restore(cast: Cast, week: WeekPlan) -> None:
    """Versions: the second replaces the first, bringing the first back makes a third."""
    api = Api(cast.teacher)
    first = api.post(f"weeks/{week.pk}/publish/", expect=200, expected_revision=week.revision)
    assert (first["status"], first["version"]) == ("published", 1)
    uid = sessions_of(first)[0]["uid"]
    draft = api.post(f"weeks/{week.pk}/remove/", expect=200, uid=uid, expected_revision=first["revision"])
    assert (draft["status"], draft["based_on_id"]) == ("draft", week.pk)
    compared = api.get(f"weeks/{week.pk}/compare/", other=draft["week_id"])
    assert (len(compared["removed"]), compared["same"]) == (1, 1)
    second = api.post(f"weeks/{draft['week_id']}/publish/", expect=200, expected_revision=draft["revision"])
    assert second["version"] == 2
    third = api.post(f"weeks/{second['week_id']}/restore/", expect=200)
    assert (third["version"], len(sessions_of(third))) == (3, 2)
    statuses = {row["version"]: row["status"] for row in api.get("weeks/", monday=str(MONDAY))["results"]}
    assert statuses == {1: "replaced", 2: "replaced", 3: "published"}
    assert api.post(f"weeks/{third['week_id']}/discard/", expect=409)["code"] == "not_editable"


def test_a_draft_is_set_aside(cast: Cast, week: WeekPlan) -> None:
    """It stays readable."""
    assert Api(cast.teacher).post(f"weeks/{week.pk}/discard/", expect=200)["status"] == "discarded"


def test_an_office_sees_published_weeks_without_students(cast: Cast, week: WeekPlan) -> None:
    """No draft, no name and no code; and it changes nothing."""
    office = Api(cast.office)
    office.get(f"weeks/{week.pk}/", expect=404)
    Api(cast.teacher).post(f"weeks/{week.pk}/publish/", expect=200, expected_revision=week.revision)
    detail = office.get(f"weeks/{week.pk}/")
    text = str(detail)
    assert len(sessions_of(detail)) == 2
    assert not detail["students_shown"]
    assert "S01" not in text
    assert "Tarn" not in text
    office.post(f"weeks/{week.pk}/discard/", expect=403)
    office.get(f"weeks/{week.pk}/options/", expect=403, uid=UNKNOWN)
    office.get(f"weeks/{week.pk}/compare/", expect=403, other=week.pk)


EDITS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("move", {"uid": UNKNOWN, "date": "2026-09-15", "start": "09:20", "expected_revision": 1}),
    ("pin", {"uid": UNKNOWN, "pinned": True, "expected_revision": 1}),
    ("remove", {"uid": UNKNOWN, "expected_revision": 1}),
    ("place", {"unplaced": 1, "date": "2026-09-15", "start": "09:20", "expected_revision": 1}),
    ("undo", {"expected_revision": 1}),
    ("publish", {"expected_revision": 1}),
    ("restore", {}),
    ("discard", {}),
)


@pytest.mark.parametrize(("name", "body"), EDITS, ids=[name for name, _ in EDITS])
def test_weeks_of_others_are_not_there(cast: Cast, week: WeekPlan, name: str, body: dict[str, Any]) -> None:
    """To a mate and to a stranger every edit is 404."""
    for person in (cast.mate, cast.stranger):
        Api(person).post(f"weeks/{week.pk}/{name}/", 404, **body)
    week.refresh_from_db()
    assert (week.status, week.revision) == ("draft", 1)


def test_what_an_edit_lacks_is_named(cast: Cast, week: WeekPlan) -> None:
    """Missing values, a session that isn't there, options of nothing."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/"
    error = api.post(f"{path}move/", expect=400)
    assert set(error["fields"]) == {"uid", "date", "start", "expected_revision"}
    api.post(f"{path}remove/", expect=404, uid=UNKNOWN, expected_revision=week.revision)
    place = {"unplaced": 10**9, "date": "2026-09-15", "start": "09:20", "expected_revision": week.revision}
    assert api.post(f"{path}place/", 404, **place)["code"] == "not_found"
    assert api.get(f"{path}options/", expect=400)["fields"] == {"": ["Give either uid or unplaced."]}
    assert list(api.get(f"{path}compare/", expect=400)["fields"]) == ["other"]


def test_a_run_is_started_watched_and_leaves_a_draft(cast: Cast) -> None:
    """The answer comes at once; the work happens in the background; asking twice is one run."""
    make_ground(cast)
    make_line(cast, "S10")
    api = Api(cast.teacher)
    dates = {"first_date": str(MONDAY), "last_date": str(date(4)), "time_limit": 1}
    run = api.post("plan-runs/", 201, **dates)
    assert (run["state"], run["is_over"], run["percent"]) == ("waiting", False, 0)
    assert api.post("plan-runs/", 201, **dates)["run_id"] == run["run_id"]
    assert work_once()
    done = api.get(f"plan-runs/{run['run_id']}/")
    assert (done["state"], done["percent"], done["error"]) == ("done", 100, "")
    (line,) = done["weeks"]
    detail = api.get(f"weeks/{line['week_id']}/")
    assert detail["minutes_placed"] == detail["minutes_owed"] == 90
    assert [row["state"] for row in api.get("plan-runs/")["results"]] == ["done"]


def test_a_run_is_stopped(cast: Cast) -> None:
    """Before a worker took it: it never begins."""
    make_ground(cast)
    api = Api(cast.coordinator)
    run = api.post("plan-runs/", 201, teacher=cast.teacher.pk, first_date=str(MONDAY), last_date=str(date(4)))
    assert api.post(f"plan-runs/{run['run_id']}/stop/", 200)["state"] == "stopped"
    assert not work_once()


def test_runs_of_others_are_not_there(cast: Cast) -> None:
    """A mate neither sees nor stops a run, nor starts one for somebody else."""
    make_ground(cast)
    dates = {"first_date": str(MONDAY), "last_date": str(date(4))}
    run = Api(cast.teacher).post("plan-runs/", 201, **dates)
    for person in (cast.mate, cast.stranger):
        api = Api(person)
        api.get(f"plan-runs/{run['run_id']}/", 404)
        api.post(f"plan-runs/{run['run_id']}/stop/", 404)
    Api(cast.mate).post("plan-runs/", 404, teacher=cast.teacher.pk, **dates)
    error = Api(cast.stranger).post("plan-runs/", 400, teacher=cast.teacher.pk, **dates)
    assert list(error["fields"]) == ["teacher"]
    assert Job.objects.count() == 1


def test_dates_that_cannot_be_planned_are_refused_in_words(cast: Cast) -> None:
    """The last before the first; no rules yet."""
    api = Api(cast.teacher)
    error = api.post("plan-runs/", 409, first_date=str(date(4)), last_date=str(MONDAY))
    assert error["code"] == "dates_swapped"
    error = api.post("plan-runs/", 409, first_date=str(MONDAY), last_date=str(date(4)))
    assert error["message"]
    assert not Job.objects.exists()


def test_favors_are_asked_for_and_found(cast: Cast, week: WeekPlan) -> None:
    """Asking answers at once with how far it is; the worker finds them; nobody else's week can be asked about."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/favours/"
    api.get(path, expect=404)
    asked = api.post(path, expect=201)
    assert (asked["question"]["state"], asked["favours"]) == ("waiting", [])
    assert work_once()
    found = api.get(path)
    assert (found["question"]["state"], found["question"]["stale"]) == ("done", False)
    assert found["tried"] <= found["possible"]
    Api(cast.mate).post(path, expect=404)
    Api(cast.mate).get(path, expect=404)


def test_a_question_is_stopped(cast: Cast, week: WeekPlan) -> None:
    """One that waits ends here and now."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/favours/"
    api.post(path, expect=201)
    assert api.post(f"{path}stop/", expect=200)["question"]["state"] == "stopped"


def test_staying_is_weighed_and_a_point_saved_and_named(cast: Cast, week: WeekPlan) -> None:
    """Nothing has changed, so the week in force is the one point of the curve; a draft of it takes a name."""
    api, path = Api(cast.teacher), f"weeks/{week.pk}/"
    assert api.post(f"{path}curve/", expect=409)["code"] == "not_in_force"
    api.post(f"{path}publish/", expect=200, expected_revision=week.revision)
    api.post(f"{path}curve/", expect=201)
    assert work_once()
    curve = api.get(f"{path}curve/")
    assert [point["moved"] for point in curve["points"]] == [0]
    assert curve["price_of_staying"] == 0
    draft = api.post(f"{path}save-point/", expect=200, point=0)
    assert (draft["status"], draft["name"]) == (
        "draft",
        f"0 sessions moved, {draft['drive_minutes']} minutes of driving",
    )
    renamed = api.post(f"weeks/{draft['week_id']}/rename/", expect=200, name="As it was")
    assert renamed["name"] == "As it was"
    other = api.get(f"{path}compare/", other=draft["week_id"])
    assert (other["same"], other["tell"]) == (2, [])
