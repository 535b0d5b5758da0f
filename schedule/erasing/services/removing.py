"""Removes the rows of one kind about one student, or of a district, in the transaction of its caller."""

import json
from collections.abc import Iterable
from typing import Any

from django.db import models
from django.db.models import SET_NULL, Model, Q
from django.db.models.functions import Cast
from django.utils import timezone

from accounts.models import AuditEntry, District
from caseload.access.models import Access
from caseload.plans.models import Student, enrollments_of
from caseload.retention.models import PermanentRecord
from caseload.retention.schedule import STUDENTS
from schedule.calendar.models import SchoolYear
from schedule.erasing.scrubbing import NameTexts
from schedule.erasing.selectors.rows import Found, counted, parts_of, relations_to, rows_about, seen_by
from schedule.erasing.services.texts import names_take_out
from schedule.feeds.models import Feed, FeedBody, FeedItem
from schedule.feeds.signals import district_changed
from schedule.imports.models import ImportBatch, ImportedRow
from schedule.notices.models import Notice
from schedule.weeks.models import SessionAttendee, WeekRevision

UNFINISHED = (
    ImportBatch.State.MATCHING,
    ImportBatch.State.CHECKING,
    ImportBatch.State.PREVIEW,
    ImportBatch.State.SAVING,
)


def student_remove(*, student: Student, kind: str, run: int, keeps_permanent: bool) -> dict[str, int]:
    """Remove everything of a kind about a student, and what histories and caches hold of it; counts by table.

    The student's row itself goes with the kind of all records; of it the permanent record stays, if it is to.
    Call it inside a transaction.
    """
    found, district = rows_about(student.pk, kind), student.district
    tables = counted(found)
    if kind == STUDENTS:
        if keeps_permanent:
            permanent_record_make(student=student)
        found.setdefault(Access, set()).update(seen_by(found))
    _calendars_forget(district, found.get(SessionAttendee, set()))
    rows_remove(found)
    history_blank(found, run)
    if kind == STUDENTS:
        names = NameTexts(student.first_name, student.last_name, student.code)
        _uploads_forget(district, student)
        names_take_out(district=district, names=names, is_only_one=_is_only_one(student))
    district_changed(district.pk)
    return tables


def _is_only_one(student: Student) -> bool:
    """Whether no other student of the district has the same name."""
    same = Student.objects.filter(
        district=student.district, first_name__iexact=student.first_name, last_name__iexact=student.last_name
    )
    return not same.exclude(pk=student.pk).exists()


def permanent_record_make(*, student: Student) -> PermanentRecord:
    """Keep what may be kept without limit of time: name, grade, schools and classes with days, the last year."""
    stays = enrollments_of(student)
    schools = [
        {
            "school": str(one.building),
            "class": str(one.home_class or ""),
            "grade": one.get_grade_display(),
            "from": str(one.first_day or ""),
            "until": str(one.last_day or ""),
        }
        for one in stays
    ]
    last = max((one.last_day for one in stays if one.last_day), default=student.last_day)
    year = (
        SchoolYear.objects.filter(district=student.district, first_day__lte=last, last_day__gte=last)
        if last
        else ()
    )
    return PermanentRecord.objects.create(
        district=student.district,
        code=student.code,
        first_name=student.first_name,
        last_name=student.last_name,
        grade=student.grade,
        year_completed=next((one.name for one in year), ""),
        schools=schools,
        made_at=timezone.now(),
    )


def rows_remove(found: Found) -> None:
    """Remove rows of many tables at once, and loosen what points to them and stays.

    Databases check foreign keys at the transaction's end, so the order doesn't matter. No signal is sent.
    """
    for model, keys in found.items():
        for relation in relations_to(model):
            if relation.on_delete is SET_NULL and relation.related_model is not Notice:
                _loosen(relation.related_model, relation.field.name, keys)
    for model, keys in found.items():
        for part in parts_of(keys):
            rows = model._meta.base_manager.filter(pk__in=part)
            rows._raw_delete(rows.db)  # noqa: SLF001 -- Django's collector would refuse what goes in the same breath


def _loosen(model: type[Model], name: str, keys: Iterable[Any]) -> None:
    for part in parts_of(keys):
        model._meta.base_manager.filter(**{f"{name}__in": part}).update(**{name: None})


def history_blank(found: Found, run: int) -> None:
    """Of changes of rows that are gone keep who made them when, and nothing of what they said; undo loses them."""
    for model, keys in found.items():
        label = model._meta.label_lower
        for part in parts_of({str(key) for key in keys}):
            entries = AuditEntry.objects.filter(model=label, object_id__in=part)
            entries.update(changes={"erased": [None, run]})
            ImportedRow.objects.filter(model=label, object_id__in=part).delete()


def _calendars_forget(district: District, attendees: Iterable[Any]) -> None:
    """What calendars keep of the days on which the student had sessions, and earlier states of those weeks."""
    dates: dict[int, set[Any]] = {}
    weeks: set[int] = set()
    for part in parts_of(attendees):
        rows = SessionAttendee.objects.filter(pk__in=part)
        for teacher, week, date in rows.values_list("session__week__teacher", "session__week", "session__date"):
            dates.setdefault(teacher, set()).add(date)
            weeks.add(week)
    for part in parts_of(weeks):
        WeekRevision.objects.filter(week__in=part).delete()
    shown = Feed.objects.filter(district=district).exclude(students=Feed.Students.NOTHING)
    for teacher, days in dates.items():
        whose = Q(feed__teacher=teacher) | Q(feed__teacher__isnull=True)
        items = FeedItem.objects.filter(whose, feed__in=shown)
        for part in parts_of(days):
            items.filter(first_date__in=part).delete()
    FeedBody.objects.filter(feed__in=shown).delete()


def _uploads_forget(district: District, student: Student) -> None:
    """Uploads that were never saved go where the student's code, or first and last name, are cells of them."""
    held = Q()
    for name in ("content", "ready"):
        first, last, code = (
            _as_cell(f"in_{name}", one) for one in (student.first_name, student.last_name, student.code)
        )
        held |= code | (first & last)
    as_text = {f"in_{name}": Cast(name, models.TextField()) for name in ("content", "ready")}
    rows = ImportBatch.objects.filter(district=district, state__in=UNFINISHED).annotate(**as_text)
    ImportBatch.objects.filter(pk__in=set(rows.filter(held).values_list("pk", flat=True))).delete()


def _as_cell(name: str, text: str) -> Q:
    """A JSON text that is just this, as some databases write it and as others do."""
    found = Q()
    for one in {json.dumps(text), json.dumps(text, ensure_ascii=False)}:
        found |= Q(**{f"{name}__icontains": one})
    return found
