"""Services are the only writers: a walk over the source for calls that write to the database anywhere else.

What a call writes to can't always be told from its words. So names that only Django has are always taken for a
write (`bulk_create`), `update` where it is called as on a queryset (by keywords alone), and `add`, `set`, `remove`
and `clear` on whatever is named like a relation of some model. What is none is named below, with the reason.
"""

import ast
import re
import subprocess
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from django.apps import apps

ROOT = Path(__file__).resolve().parents[3]
FLOORS = ("accounts", "caseload", "config", "jobs", "schedule", "travel")
ALWAYS = {
    "atomic", "bulk_create", "bulk_update", "create", "delete", "get_or_create", "save", "select_for_update",
    "set_rollback", "update_or_create", "_raw_delete",
}  # fmt: skip
ON_RELATIONS = {"add", "set", "remove", "clear"}
STATEMENT = re.compile(r"\s*(INSERT\s+INTO|UPDATE\s+\S+\s+SET|DELETE\s+FROM|(CREATE|DROP|ALTER|TRUNCATE)\s)")

# By file: what looks like a write, and why no service has to do it.
OF_MACHINERY = {
    "jobs/context.py": {"transaction.atomic": "the transaction of a job's end, which its handler's service fills"},
    "jobs/dispatch.py": {
        "Job.objects.filter(pk=job_id).update": "that a job was handed on, after its service has committed"
    },
    "config/backup/postgresql.py": {
        "transaction.atomic": "a backup reads everything as of one moment",
        "DROP TABLE": "putting a backup back, in place of all that was there",
    },
    "config/moving/counters.py": {
        "DELETE FROM": "counters of ids, written anew in the next line",
        "INSERT INTO": "the same counters",
    },
    "schedule/imports/rows/shadow.py": {
        "transaction.atomic": "a rehearsal: undone at its end, with all that it wrote",
        "transaction.set_rollback": "undoes a rehearsal",
        "INSERT INTO": "rows of a shadow table, and ids set aside before a rehearsal",
        "DELETE FROM": "counters of ids, written anew in the next line",
        "CREATE TEMPORARY": "the shadow tables",
        "CREATE TABLE": "words of a real table's making, turned into its shadow's",
        "ALTER TABLE": "a shadow table's own counter",
    },
    "accounts/models/person.py": {
        "super().save": "the person, after the service",
        "rows[0].save": "the only role of a person is the one with which they are saved, whoever saves them",
        "self.roles.create": "a new person holds the role with which they are saved",
    },
    "caseload/plans/models/plan.py": {
        "ContinuingService.objects.create": "a line that continues no service begins one, whoever saves it",
        "super().save": "the line itself, after its service",
    },
}
NO_DATABASE = {
    "caseload/plans/enrollment/pages.py": {"self.save": "tried out for its effects: it calls its service"},
    "accounts/pages.py": {"self.save": "what a page overrides: it calls its service", "self.delete": "likewise"},
    "caseload/plans/pages/service_lines.py": {
        "self.save": "calls its service, also to foresee what that would change",
        "self.delete": "likewise",
    },
    "schedule/imports/files/writing.py": {"book.save": "a workbook, into bytes"},
    "schedule/imports/rows/context.py": {"self.save": "calls the service of a table"},
    "schedule/imports/rows/goals.py": {"run.save": "calls the service that stores one point"},
    "schedule/imports/rows/mileage/vouchers.py": {"run.save": "calls the service that keeps one voucher"},
    "schedule/imports/rows/plans.py": {"run.save": "calls the service that a table names"},
    "schedule/imports/rows/staff/people.py": {"run.save": "calls the services of people and of their roles"},
    "schedule/imports/rows/schools.py": {"run.save": "calls the service that a table names"},
    "schedule/reports/files.py": {"book.save": "a workbook, into bytes"},
    "schedule/reports/selectors/places.py": {"self.students.add": "a set of students who are counted"},
    "schedule/trips/files.py": {"book.save": "a workbook, into bytes"},
}


def is_service(path: Path) -> bool:
    """Whether a module is one of a room's services."""
    return path.name == "services.py" or "services" in path.parts


def source_files() -> list[Path]:
    """Every module but services, migrations, and the planner, which knows no Django (import-linter)."""
    listed = subprocess.run(["git", "ls-files", "*.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    paths = [Path(line) for line in listed.stdout.splitlines()]
    return [
        one
        for one in paths
        if one.parts[0] in FLOORS
        and not is_service(one)
        and "migrations" not in one.parts
        and one.parts[:2] != ("schedule", "planner")
    ]


@cache
def relations() -> frozenset[str]:
    """What many-to-many fields and the ways back along foreign keys are called."""
    found: set[str] = set()
    for model in apps.get_models():
        found |= {field.name for field in model._meta.many_to_many}
        for relation in model._meta.related_objects:
            found.add(relation.get_accessor_name() or "")
    return frozenset(found - {""})


def writes_in(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and words of each call that writes, or seems to."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            words = _written(node)
            if words:
                yield node.lineno, words
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and STATEMENT.match(node.value):
            yield node.lineno, " ".join(node.value.split()[:2])


def _written(call: ast.Call) -> str:
    if isinstance(call.func, ast.Name):
        return call.func.id if call.func.id == "atomic" else ""
    if not isinstance(call.func, ast.Attribute):
        return ""
    # `aupdate` is `update` for those who wait.
    name = call.func.attr
    for one in {name, name.removeprefix("a")}:
        by_keywords = one == "update" and not call.args and call.keywords
        if one in ALWAYS or by_keywords or (one in ON_RELATIONS and _last_name(call.func.value) in relations()):
            return ast.unparse(call.func)
    return ""


def _last_name(value: ast.expr) -> str:
    """`students` of ``self.students``."""
    return value.attr if isinstance(value, ast.Attribute) else ""


def test_only_services_write() -> None:
    """No other module saves, deletes, locks or opens a transaction, but for what is named above with its reason."""
    named = {**OF_MACHINERY, **NO_DATABASE}
    found: list[str] = []
    used: dict[str, set[str]] = {file: set() for file in named}
    for path in source_files():
        for line, words in writes_in(ast.parse((ROOT / path).read_text())):
            if words in named.get(str(path), {}):
                used[str(path)].add(words)
            else:
                found.append(f"{path}:{line}: {words}")
    assert found == []
    assert used == {file: set(reasons) for file, reasons in named.items()}, "an exception that nobody needs"


@pytest.mark.parametrize(
    "written",
    [
        "row.save()",
        "row.save(update_fields=['name'])",
        "Student.objects.filter(pk=1).delete()",
        "Student.objects.create(code='S1')",
        "Student.objects.filter(pk=1).update(code='S1')",
        "rows.update(**values)",
        "Student.objects.bulk_create([])",
        "rows.bulk_update([], ['code'])",
        "Student.objects.get_or_create(code='S1')",
        "Student.objects.update_or_create(code='S1')",
        "Student.objects.select_for_update().get()",
        "with transaction.atomic(): pass",
        "with atomic(): pass",
        "await row.asave()",
        "await rows.aupdate(code='S1')",
        "student.plans.add(plan)",
        "school_class.students.set([])",
        "building.spaces.clear()",
        "cursor.execute('DELETE FROM caseload_student')",
        "cursor.execute('UPDATE caseload_student SET code = 1')",
    ],
)
def test_the_walk_sees_a_write(written: str) -> None:
    """Each way to write, as it would stand in a page."""
    source = f"async def page():\n    {written}\n"
    assert list(writes_in(ast.parse(source)))


@pytest.mark.parametrize(
    "read",
    [
        "seen.add(key)",
        "found.update({1: 2})",
        "found.update(other)",
        "over.set()",
        "rows.filter(code='S1').first()",
        "cursor.execute('SELECT code FROM caseload_student')",
        "say('Update the form.')",
    ],
)
def test_the_walk_sees_no_write_in_a_read(read: str) -> None:
    """What only reads, or writes no database."""
    assert list(writes_in(ast.parse(read))) == []


def test_services_are_where_the_house_says() -> None:
    """The walk leaves services out and nothing else: some of each kind."""
    assert is_service(Path("travel/places/services.py"))
    assert is_service(Path("schedule/weeks/services/drafts.py"))
    assert Path("schedule/weeks/versions/content.py") in source_files()
    assert Path("caseload/plans/models/plan.py") in source_files()
