"""The API's description is checked in: a change of the API shows in review."""

from pathlib import Path

import pytest
import yaml
from django.conf import settings
from django.core.management import call_command

from accounts.errors import PROBLEM
from tests.api import API, Api
from tests.conftest import Cast

CHECKED_IN = settings.BASE_DIR / "docs" / "openapi.yaml"
REFRESH = "python manage.py spectacular --file docs/openapi.yaml --validate --fail-on-warn"


def test_the_schema_is_the_one_checked_in(tmp_path: Path) -> None:
    """Valid, without warnings, and the same as docs/openapi.yaml."""
    made = tmp_path / "openapi.yaml"
    call_command("spectacular", "--file", str(made), "--validate", "--fail-on-warn")
    assert made.read_text() == CHECKED_IN.read_text(), f"Run: {REFRESH}"


def test_every_operation_describes_its_errors() -> None:
    """One shape, named once."""
    schema = yaml.safe_load(CHECKED_IN.read_text())
    operations = [operation for path in schema["paths"].values() for operation in path.values()]
    references = {
        operation["responses"]["default"]["content"][PROBLEM]["schema"]["$ref"] for operation in operations
    }
    assert references == {"#/components/schemas/Error"}


def test_times_of_day_are_local() -> None:
    """They have no offset, which JSON Schema's ``time`` (RFC 3339, full-time) would promise."""
    text = CHECKED_IN.read_text()
    assert "format: time-local\n" in text
    assert "format: time\n" not in text


@pytest.mark.django_db
def test_the_schema_is_served_to_people_who_are_signed_in(cast: Cast) -> None:
    """And to nobody else."""
    assert Api(None).client.get(f"{API}/schema/").status_code == 403
    served = Api(cast.office).client.get(f"{API}/schema/")
    assert served.status_code == 200
    assert "/api/1/weeks/{id}/move/" in yaml.safe_load(served.content)["paths"]
