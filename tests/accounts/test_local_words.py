"""Passwords of local names are refused.

The kinds of words: OWASP ASVS 5.0, 6.1.2 and 6.2.11; how many letters must be left beside them is our own choice.
"""

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from accounts.people.local_words import TOO_LOCAL, is_too_local, local_words
from tests.conftest import PASSWORD, Cast

NAMES = ["Marrow Vale County", "North Hollow School"]


@pytest.mark.parametrize(
    ("password", "refused"),
    [
        ("marrowvale2026", True),
        ("Marrow-Vale-County-1!", True),
        ("northhollow!!", True),
        ("MinutesMiles99", True),
        ("hollow-school-abc", True),
        ("1234567890123", False),
        ("hollow-lantern-drum", False),
        ("marrow-vale-salt-drum", False),
        ("salt-lantern-drum-77", False),
        ("vale of tears", False),
    ],
)
def test_what_is_left_without_the_names_counts(password: str, refused: bool) -> None:
    """Signs, digits and capitals between them help nothing; other words do."""
    assert is_too_local(password, local_words(NAMES)) is refused


def test_short_words_and_signs_are_no_names() -> None:
    """“of” would take letters out of many words."""
    assert not local_words(["P.S. 9 of the Elm"]) - local_words([])
    assert {"ridgeway", "hill"} <= local_words(["Ridgeway-Hill"])


@pytest.mark.django_db
def test_those_of_ones_own_district_are_asked(cast: Cast) -> None:
    """Its name and its buildings', not another district's; and the form says why."""
    for password in ("marrow-vale-77", "north.hollow.77"):
        with pytest.raises(ValidationError, match="names that everybody here knows"):
            validate_password(password, user=cast.teacher)
    validate_password("farther-fells-77", user=cast.teacher)
    client = Client()
    client.force_login(cast.teacher)
    values = {"old_password": PASSWORD, "new_password1": "marrow-vale-77", "new_password2": "marrow-vale-77"}
    assert TOO_LOCAL in client.post(reverse("password_change"), values).content.decode().replace("&#x27;", "'")
    assert cast.teacher.check_password(PASSWORD)
