"""When the invented district is not loaded: apart from test_demo.py, which holds it loaded."""

import datetime as dt
import shutil
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from accounts.errors import ApplicationError
from accounts.models import District
from schedule.imports.services.demo import DISTRICT_NAME, demo_district_load
from tests.conftest import Cast

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


def test_a_database_with_another_district_is_left_alone(cast: Cast) -> None:
    cast.district.name = "Farthest Fells"
    cast.district.save()
    with pytest.raises(ApplicationError) as refused:
        demo_district_load(folder=FIXTURES, today=dt.date(2026, 11, 25))
    assert refused.value.code == "another_district"
    assert not District.objects.filter(name=DISTRICT_NAME).exists()
    with pytest.raises(CommandError, match="another district"):
        call_command("load_demo")


@pytest.mark.django_db
def test_a_broken_file_is_named_and_nothing_is_saved(tmp_path: Path) -> None:
    shutil.copytree(FIXTURES, tmp_path, dirs_exist_ok=True)
    students = tmp_path / "students.csv"
    students.write_text(students.read_text(encoding="utf-8").replace(",QUILL,", ",NOWHERE,", 1), encoding="utf-8")
    with pytest.raises(ApplicationError) as refused:
        demo_district_load(folder=tmp_path, today=dt.date(2026, 11, 25))
    for words in ("students", "NOWHERE"):
        assert words in refused.value.message
    assert not District.objects.exists()
