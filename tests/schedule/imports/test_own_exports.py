"""A district's own export is read back as equal: into an empty district, from the only workbook or table by table.

The walk is over all tables, so that a new one can't be forgotten: what it exports must come back.
"""

import csv
import io

import pytest

from accounts.files import write_csv
from accounts.models import District, Person
from accounts.people.services import person_active_set
from schedule.imports.files.export import export_rows
from schedule.imports.files.reading import NO_ROWS
from schedule.imports.files.writing import write_workbook
from schedule.imports.models import ImportBatch
from schedule.imports.services.tables import import_commit, import_preview
from schedule.imports.tables.columns import Table
from schedule.imports.tables.every import TABLES, tables_for
from tests.conftest import Cast, make_person
from tests.schedule.imports.district import commit_all, problems, warnings

NUMBERS = {"Service", "Revision"}
"""Columns of an export that name a saved row by its number, which is another one elsewhere."""
READER = "odell"
"""Who reads an export into an empty district: somebody has to be there first."""


def exported(viewer: Person) -> dict[str, bytes]:
    """Every table as the page gives it."""
    return {one.kind: write_csv(one.headers, list(export_rows(viewer, one))) for one in TABLES}


def kinds_for(viewer: Person) -> set[str]:
    """Which tables a person may bring."""
    return {one.kind for one in tables_for(viewer.has_perm)}


def unlike(before: dict[str, bytes], after: dict[str, bytes]) -> set[str]:
    """The tables whose rows differ in anything but those numbers, and but for who reads them in."""
    return {kind for kind in before if _told(before[kind]) != _told(after[kind])}


def _told(content: bytes) -> list[dict[str, str]]:
    rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig")))
    others = (row for row in rows if row.get("Sign-in name") != READER)
    return [{name: text for name, text in row.items() if name not in NUMBERS} for row in others]


def sent(actor: Person, kind: str, content: bytes, filename: str) -> ImportBatch:
    """A file that is looked at and saved."""
    batch = import_preview(actor=actor, kind=kind, filename=filename, content=content)
    assert problems(batch) == [], kind
    return import_commit(actor=actor, batch=batch)


@pytest.fixture
def elsewhere(cast: Cast) -> Person:
    """The coordinator of an empty district, beside one that has every table."""
    commit_all(cast.teacher)
    commit_all(cast.coordinator, sorted(kinds_for(cast.coordinator) - kinds_for(cast.teacher)))
    district = District.objects.create(name="Tamarack County", time_zone=cast.district.time_zone, state="NY")
    return make_person(district, READER, Person.Role.COORDINATOR)


def names_are_free(cast: Cast) -> None:
    """Sign-in names are unique in a program: the first district's people let go of theirs."""
    for person in Person.objects.filter(district=cast.district):
        person.username = f"former-{person.username}"
        person.save()


def test_an_export_fills_an_empty_district_with_the_same(cast: Cast, elsewhere: Person) -> None:
    """Table by table, in their order: what comes out of the second is what came out of the first, cell by cell."""
    before = exported(cast.coordinator)
    assert all(content.count(b"\n") > 1 for content in before.values())
    names_are_free(cast)
    for table in TABLES:
        sent(elsewhere, table.kind, before[table.kind], f"{table.kind}.csv")
    after = exported(elsewhere)
    assert unlike(before, after) == set()


def test_the_whole_workbook_does_the_same(cast: Cast, elsewhere: Person) -> None:
    """All tables at once, as one import."""
    before = exported(cast.coordinator)
    whole = write_workbook([(one, list(export_rows(cast.coordinator, one))) for one in TABLES])
    names_are_free(cast)
    sent(elsewhere, "several", whole, "district.xlsx")
    after = exported(elsewhere)
    assert unlike(before, after) == set()


@pytest.mark.parametrize("table", TABLES, ids=lambda one: one.kind)
def test_an_empty_table_comes_back_as_empty(table: Table, cast: Cast) -> None:
    """It is told that nothing changes, and nothing does, whatever is saved."""
    before = exported(cast.coordinator)
    for content, name in (
        (write_csv(table.headers, []), "empty.csv"),
        (write_workbook([(table, [])]), "empty.xlsx"),
    ):
        batch = sent(cast.coordinator, table.kind, content, name)
        assert batch.state == ImportBatch.State.COMMITTED
    assert exported(cast.coordinator) == before


def test_an_empty_district_comes_back_as_empty(cast: Cast) -> None:
    """The workbook of a district that has nothing yet but its one person and the usual caution tags."""
    actor = cast.stranger
    before = exported(actor)
    whole = write_workbook([(one, list(export_rows(actor, one))) for one in TABLES])
    batch = import_preview(actor=actor, kind="several", filename="district.xlsx", content=whole)
    assert problems(batch) == []
    assert {one.message for one in warnings(batch)} == {NO_ROWS}
    assert {one.table for one in warnings(batch)} == {one.kind for one in TABLES} - {"caution-tags", "people"}
    import_commit(actor=actor, batch=batch)
    assert exported(actor) == before


def test_what_a_former_teacher_left_comes_back(cast: Cast, elsewhere: Person) -> None:
    """Rows of somebody who can't sign in anymore are the same here, and new elsewhere; the preview says who."""
    person_active_set(actor=cast.coordinator, row=cast.mate, active=False)
    before = exported(cast.coordinator)
    theirs = {kind for kind, content in before.items() if b"mate" in content} - {"people"}
    assert {"plans", "joint-sessions", "posts", "common-meetings"} <= theirs
    for kind in sorted(theirs):
        batch = import_preview(actor=cast.coordinator, kind=kind, filename=f"{kind}.csv", content=before[kind])
        assert problems(batch) == [], kind
        assert batch.content["tallies"][kind] | {"same": 0} == {"new": 0, "changed": 0, "same": 0, "removed": 0}
    names_are_free(cast)
    for table in TABLES:
        batch = import_preview(
            actor=elsewhere, kind=table.kind, filename=f"{table.kind}.csv", content=before[table.kind]
        )
        assert problems(batch) == [], table.kind
        told = {one.message for one in warnings(batch)}
        if table.kind in {"plans", "posts"}:
            assert f"{cast.mate.called} no longer works here." in told
        import_commit(actor=elsewhere, batch=batch)
    after = exported(elsewhere)
    assert unlike(before, after) == set()
