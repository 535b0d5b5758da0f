"""Making, changing and ending teams: shown before it is saved, taken back, and the coordinator's alone."""

from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.errors import ApplicationError
from accounts.models import AuditEntry, Person
from accounts.services import NOT_YOUR_ROLE
from caseload.teams.models import Team
from caseload.teams.services import (
    HAS_BEGUN,
    TWO_NEEDED,
    team_effects,
    team_remove,
    team_save,
    team_undo,
)
from tests.api import Api
from tests.caseload.teams.test_teams import DAY, LOG, browser_of, codes, make_team
from tests.conftest import Cast, date_there, make_person


def body(cast: Cast, **more: Any) -> dict[str, Any]:
    """What the API takes."""
    today = date_there()
    return {
        "name": "North PE",
        "members": [cast.teacher.pk, cast.mate.pk],
        "shares": "see",
        "first_day": today.isoformat(),
        "last_day": (today + 30 * DAY).isoformat(),
        **more,
    }


def test_effects_are_shown_before_and_save_nothing(cast: Cast) -> None:
    """Who sees how many students of whom; the page shows it, and the same press again saves."""
    browser = browser_of(cast.coordinator)
    form = {**body(cast), "members": [str(cast.teacher.pk), str(cast.mate.pk)]}
    page = browser.post(reverse("team_new"), form)
    assert page.status_code == 200
    assert f"{cast.mate} sees 1 student of {cast.teacher}." in page.context["effects"]
    assert f"{cast.teacher} sees 1 student of {cast.mate}." in page.context["effects"]
    assert not Team.objects.exists()
    seen = {**form, "effects_seen": page.context["effects_seen"]}
    assert browser.post(reverse("team_new"), seen).status_code == 302
    assert set(Team.objects.get().members.all()) == {cast.teacher, cast.mate}
    assert AuditEntry.objects.filter(action="team_save").count() == 1


def test_who_is_left_out_is_told(cast: Cast) -> None:
    """A change that takes somebody out of the team says that they see nothing by it anymore."""
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    row = make_team(cast, cast.teacher, cast.mate, third)
    told = team_effects(actor=cast.coordinator, row=row, values={"members": [cast.teacher, cast.mate]})
    assert f"{third} isn’t in the team anymore, and sees nothing by it." in told  # noqa: RUF001 -- as pages write it
    assert set(row.members.all()) == {cast.teacher, cast.mate, third}


@pytest.mark.parametrize("who", ["teacher", "mate", "office", "substitute"])
def test_only_a_coordinator_makes_one(cast: Cast, who: str) -> None:
    """For everybody else it is refused, also for whoever would be in it."""
    actor = getattr(cast, who)
    with pytest.raises(ApplicationError, match=NOT_YOUR_ROLE):
        make_team_as(actor, cast)
    row = make_team(cast)
    for act in (
        lambda: team_save(actor=actor, row=row, values={"shares": LOG}),
        lambda: team_remove(actor=actor, row=row),
        lambda: team_undo(actor=actor, row=row),
        lambda: team_effects(actor=actor, row=row, values={}),
    ):
        with pytest.raises(ApplicationError, match=NOT_YOUR_ROLE):
            act()


def make_team_as(actor: Person, cast: Cast) -> Team:
    """The same values by somebody else."""
    days = {"first_day": date_there(), "last_day": date_there()}
    return team_save(
        actor=actor,
        row=Team(),
        values={"name": "PE", "members": [cast.teacher, cast.mate], "shares": "log", **days},
    )


def test_a_coordinator_of_another_district_finds_nothing(cast: Cast) -> None:
    """Neither to read nor to change, and nobody of another district gets into a team."""
    row = make_team(cast)
    Api(cast.stranger).get(f"teams/{row.pk}/", 404)
    Api(cast.stranger).patch(f"teams/{row.pk}/", 404, shares="log")
    elsewhere = make_person(cast.other_district, "elsewhere", Person.Role.TEACHER)
    Api(cast.coordinator).post("teams/", 400, **body(cast, members=[cast.teacher.pk, elsewhere.pk]))
    with pytest.raises(ValidationError) as refused:
        team_save(actor=cast.coordinator, row=row, values={"members": [cast.teacher, elsewhere]})
    assert set(refused.value.error_dict) == {"members"}
    assert set(row.members.all()) == {cast.teacher, cast.mate}


def test_it_takes_two_teachers(cast: Cast) -> None:
    """One alone, and somebody in another role, are refused at the field in words."""
    with pytest.raises(ValidationError) as refused:
        make_team(cast, cast.teacher)
    assert refused.value.message_dict == {"members": [TWO_NEEDED]}
    with pytest.raises(ValidationError) as refused:
        make_team(cast, cast.teacher, cast.office)
    assert "members" in refused.value.message_dict
    with pytest.raises(ValidationError) as refused:
        make_team(cast, first_day=date_there(), last_day=date_there() - DAY)
    assert not Team.objects.exists()


def test_a_team_that_has_begun_ends_by_a_last_day(cast: Cast) -> None:
    """It isn't removed; with a last day that is past nobody sees anything by it. One that hasn't begun can go."""
    row = make_team(cast)
    with pytest.raises(ApplicationError) as refused:
        team_remove(actor=cast.coordinator, row=row)
    assert refused.value.message == HAS_BEGUN
    team_save(actor=cast.coordinator, row=row, values={"last_day": date_there() - DAY})
    assert codes(cast.mate) == {"S02"}
    later = make_team(cast, first_day=date_there() + DAY, last_day=date_there() + 9 * DAY)
    team_remove(actor=cast.coordinator, row=later)
    assert list(Team.objects.all()) == [row]


def test_a_change_is_taken_back(cast: Cast) -> None:
    """Members, days and what is shared are as before; a second time there is nothing to take back."""
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    row = make_team(cast)
    team_save(actor=cast.coordinator, row=row, values={"members": [cast.teacher, third], "shares": LOG})
    assert (codes(cast.mate), codes(third)) == ({"S02"}, {"S01"})
    page = browser_of(cast.coordinator).get(reverse("team_change", args=[row.pk]))
    seen = page.context["last"].entry.pk
    assert (
        browser_of(cast.coordinator).post(reverse("team_take_back", args=[row.pk]), {"seen": seen}).status_code
        == 302
    )
    row = Team.objects.get()
    assert (set(row.members.all()), row.shares) == ({cast.teacher, cast.mate}, "see")
    assert (codes(cast.mate), codes(third)) == ({"S01", "S02"}, set())
    with pytest.raises(ApplicationError) as refused:
        team_undo(actor=cast.coordinator, row=row)
    assert refused.value.code == "nothing_to_undo"


def test_teachers_read_their_own_teams(cast: Cast) -> None:
    """Page and API; a third teacher finds none, an office isn't let in."""
    third = make_person(cast.district, "third", Person.Role.TEACHER)
    row = make_team(cast)
    assert [one["id"] for one in Api(cast.mate).get("teams/")["results"]] == [row.pk]
    assert Api(third).get("teams/")["results"] == []
    Api(third).get(f"teams/{row.pk}/", 404)
    Api(cast.office).get("teams/", 403)
    page = browser_of(cast.mate).get(reverse("teams")).content.decode()
    assert "North PE" in page
    assert reverse("team_change", args=[row.pk]) not in page
    assert "North PE" not in browser_of(third).get(reverse("teams")).content.decode()


def test_the_api_does_what_the_pages_do(cast: Cast) -> None:
    """Foreseen, made, changed, taken back, removed."""
    api = Api(cast.coordinator)
    told = api.post("teams/effects/", 200, **body(cast))["effects"]
    assert f"{cast.mate} sees 1 student of {cast.teacher}." in told
    assert not Team.objects.exists()
    made = api.post("teams/", 201, **body(cast))
    assert api.patch(f"teams/{made['id']}/", shares="log")["shares"] == "log"
    assert "effects" in api.post(f"teams/{made['id']}/effects/", 200, shares="see")
    api.post(f"teams/{made['id']}/take-back/", 204)
    assert api.get(f"teams/{made['id']}/")["shares"] == "see"
    api.delete(f"teams/{made['id']}/")
    assert not Team.objects.exists()


def test_without_a_session_nothing(cast: Cast) -> None:
    """The page leads to the sign-in."""
    make_team(cast)
    assert Client().get(reverse("teams")).status_code == 302
