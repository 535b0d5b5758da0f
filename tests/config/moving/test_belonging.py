"""Every table is of a district by some way, or left out by name with a reason: none can be forgotten."""

import pytest
from django.apps import apps

from accounts.models import District
from caseload.care.models import Contact
from config.moving.belonging import LEFT_OUT, district_tables
from schedule.feeds.models import Feed
from tests.conftest import Cast

EVERY = {one._meta.label for one in apps.get_models(include_auto_created=True)}


def test_every_table_is_in_an_archive_or_left_out_by_name() -> None:
    """Of all that Django knows, tables between two others among them."""
    held = {one.label for one in district_tables()}
    assert held | set(LEFT_OUT) == EVERY
    assert held & set(LEFT_OUT) == set()
    assert all(LEFT_OUT.values())


def test_what_is_left_out_is_none_of_what_a_district_wrote() -> None:
    """Of our own tables only open browsers, unused columns of Django's, and addresses that have ended."""
    ours = {one for one in LEFT_OUT if one.split(".")[0] in {"accounts", "caseload", "schedule", "travel", "jobs"}}
    assert ours == {
        "accounts.OpenSession", "accounts.Person_groups", "accounts.Person_user_permissions",
        "schedule.FormerAddress",
    }  # fmt: skip


def test_rows_of_another_district_stay(cast: Cast) -> None:
    """Also where the way leads over one of two keys: a contact is a student's or a class's."""
    mine = Contact.objects.create(school_class=cast.room4, name="Ada Penn", role="aide")
    own = Contact.objects.create(student=cast.student, name="Ida Penn", role="aide")
    (contacts,) = (one for one in district_tables() if one.model is Contact)
    assert list(contacts.rows(cast.district)) == [mine, own]
    assert not contacts.rows(District.objects.create(name="Elsewhere")).exists()


@pytest.mark.parametrize("label", ["schedule.Feed", "accounts.SecondFactor", "accounts.Person"])
def test_what_people_sign_in_and_fetch_with_goes_along(label: str) -> None:
    """Else nobody could sign in, and every phone's calendar would stand still."""
    assert label in {one.label for one in district_tables()}
    assert Feed._meta.label == "schedule.Feed"
