"""The house stands: floors by foreign keys (string references slip past an import linter), migrations, layout."""

import subprocess
import sys
from collections import Counter
from pathlib import Path

from django.apps import apps
from django.core.management import call_command

ROOT = Path(__file__).resolve().parents[3]
# A floor may refer to itself and to those after it; accounts and jobs share the ground.
FLOORS = {"schedule": 3, "caseload": 2, "travel": 1, "accounts": 0, "jobs": 0}
MODULES_IN_A_FOLDER = 15
TOP_LEVEL = {
    "DEVELOPERS.md", "README.md", "accounts", "benchmarks", "caseload", "config", "docs", "fixtures", "jobs",
    "manage.py", "pyproject.toml", "requirements-lock.txt", "requirements.txt", "schedule", "script", "tests",
    "travel",
}  # fmt: skip


def test_foreign_keys_run_downwards() -> None:
    """No table refers to a table of a floor above its own, and the two ground floors don't know each other."""
    upwards = []
    for model in apps.get_models():
        own = model._meta.app_label
        for field in model._meta.get_fields():
            target = field.related_model
            if own not in FLOORS or field.auto_created or target is None or isinstance(target, str):
                continue
            other = target._meta.app_label
            if other in FLOORS and other != own and FLOORS[other] >= FLOORS[own]:
                upwards.append(f"{model.__name__}.{field.name} -> {other}")
    assert upwards == []


def test_the_walk_sees_foreign_keys() -> None:
    """The test above walks something: a known downward key is among the fields."""
    student = apps.get_model("caseload", "Student")
    assert student._meta.get_field("building").related_model is apps.get_model("travel", "Building")


def test_imports_keep_to_the_contracts() -> None:
    """import-linter's contracts of pyproject.toml hold."""
    command = [sys.executable, "-c", "from importlinter.cli import lint_imports_command as run; run()"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def test_models_and_migrations_agree(db: None) -> None:
    """No model was changed without its migration."""
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_the_top_level_stays_small() -> None:
    """Nothing but the agreed names and dot files stands at the top of the repository."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    names = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


def test_folders_stay_small_enough_to_know() -> None:
    """No folder of a floor holds more than 15 modules: a room that grows gets folders for its furniture."""
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    modules = [Path(line) for line in listed.stdout.splitlines()]
    counted = Counter(
        str(one.parent)
        for one in modules
        if one.parts[0] in FLOORS and one.name != "__init__.py" and "migrations" not in one.parts
    )
    assert counted["schedule/calendar"] > 0
    assert {folder: number for folder, number in counted.items() if number > MODULES_IN_A_FOLDER} == {}
