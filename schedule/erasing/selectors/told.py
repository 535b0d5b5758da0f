"""A list of what would be erased, in words: by code for a terminal, by name for the coordinator's page."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps

from accounts.dates import date_words
from accounts.models import Person
from caseload.plans.models import Student
from caseload.plans.names import student_names
from caseload.retention.models import ErasureRun
from caseload.retention.schedule import KINDS
from schedule.erasing.listing import WHY, ErasureList, ListedKind, ListedStudent, listing_from_json

GONE = "a student whose records are erased"
SINCE = "something has changed since the list was made"


@dataclass(frozen=True, slots=True)
class ToldStudent:
    """One line about a student; `who` is a name or a code."""

    who: str
    kind: str
    event: str
    told: str
    rows: int
    tables: str
    why: str


@dataclass(frozen=True, slots=True)
class ToldKind:
    """One line about records of the district."""

    kind: str
    until: str
    rows: int
    tables: str
    stays: str


@dataclass(frozen=True, slots=True)
class ToldList:
    """The list: what goes and what stays of students, and what goes of the district."""

    run: ErasureRun
    students: tuple[ToldStudent, ...]
    stays: tuple[ToldStudent, ...]
    kinds: tuple[ToldKind, ...]
    kept: tuple[ToldStudent, ...]

    @property
    def rows(self) -> int:
        """How many go."""
        return sum(one.rows for one in self.students) + sum(one.rows for one in self.kinds)


def list_told(run: ErasureRun, viewer: Person | None = None) -> ToldList:
    """In words. With a viewer by the names that they may know, else by codes; of who is erased neither is left."""
    listing = listing_from_json(run.listed)
    who = _who(listing, viewer)
    return ToldList(
        run,
        tuple(_student(one, who) for one in listing.students),
        tuple(_student(one, who) for one in listing.stays),
        tuple(_kind(one) for one in listing.kinds if one.rows or one.stays),
        tuple(_kept(one, who) for one in run.kept),
    )


def _who(listing: ErasureList, viewer: Person | None) -> Mapping[int, str]:
    wanted = {one.student for one in (*listing.students, *listing.stays)}
    found = dict(Student.objects.filter(pk__in=wanted).values_list("pk", "code")) if viewer is None else {}
    if viewer is not None and wanted:
        seen = Student.objects.visible_to(viewer).filter(pk__in=wanted)
        names = student_names(viewer, among=wanted).full
        found = {one.pk: names.get(one.pk) or one.code for one in seen}
    return found


def _student(one: ListedStudent, who: Mapping[int, str]) -> ToldStudent:
    name = who.get(one.student, GONE)
    event, told = _day(one.event), _day(one.told)
    return ToldStudent(name, KINDS[one.kind], event, told, one.rows, _tables(one.tables), why_words(one.why))


def _kept(told: Mapping[str, Any], who: Mapping[int, str]) -> ToldStudent:
    return ToldStudent(
        who.get(told["student"], GONE), KINDS[told["kind"]], "", "", 0, "", why_words(tuple(told["why"]))
    )


def _kind(one: ListedKind) -> ToldKind:
    stays = "; ".join(f"{count:,} stay: {WHY[why]}" for why, count in one.stays.items())
    return ToldKind(KINDS[one.kind], _day(one.until), one.rows, _tables(one.tables), stays)


def _day(text: str) -> str:
    return date_words(dt.date.fromisoformat(text)) if text else ""


def why_words(why: tuple[str, ...]) -> str:
    """Reasons in one line."""
    return "; ".join(WHY.get(one, SINCE) for one in why)


def _tables(tables: Mapping[str, int]) -> str:
    """How many of what, by the tables' own words; one name for what hangs on another."""
    return ", ".join(f"{count:,} {_label(table, count)}" for table, count in tables.items())


def _label(table: str, count: int) -> str:
    meta = apps.get_model(table)._meta
    return str(meta.verbose_name if count == 1 else meta.verbose_name_plural)
