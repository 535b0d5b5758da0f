"""Reads of supports, cautions and what meets them: what is shown of whom to whom is decided here."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Model, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from accounts.dates import date_words
from accounts.models import AuditEntry, District, Person
from accounts.models.sql_once import SqlOnce
from accounts.selectors import LastChange, last_change_of, today_of
from caseload.care.models import CareSettings, Caution, CautionTag, Contact, Support, Try
from caseload.care.seen import seen_note
from caseload.care.written import (
    ON_RECORD,
    Care,
    CautionMet,
    CautionTold,
    SupportTold,
    care_told,
    caution_written,
    steps_of,
    whom_told,
)
from caseload.plans.models import SchoolClass, Student
from caseload.plans.names import student_names, students_seen

SUPPORTS = SqlOnce(
    lambda students, day: Support.objects.filter(student__in=students).holding(day).select_related("other_student")
)
CAUTIONS = SqlOnce(
    lambda students, day: Caution.objects.filter(student__in=students).holding(day).prefetch_related("tags")
)


def care_of(
    viewer: Person,
    students: Collection[int],
    *,
    day: dt.date | None = None,
    names: Mapping[int, str] | None = None,
) -> dict[int, Care]:
    """Supports and cautions by student id, of those among `students` whom the viewer may see today.

    What holds on `day`; without one, today. Whom it leaves out the viewer may not see: a school office sees nobody,
    a substitute the covered teacher's students from the first to the last day of the substitution. A reviewer, who
    looks at what is owed and given, is told nothing of anybody's care. Nobody's is told on a page that will lie
    readable on a phone. `names`: of everybody whom the viewer may see and of nobody else (`student_names`), where
    they were read already.
    """
    if viewer.is_reviewer:
        return {}
    seen = students_seen(viewer, students) if names is None else [pk for pk in students if pk in names]
    if viewer.reads_initials:
        return dict.fromkeys(seen, Care(told=False))
    on = day or today_of(viewer)
    supports, cautions = _supports(viewer, seen, on, names), _cautions(seen, on)
    found = {pk: care_told(supports[pk], cautions[pk]) for pk in seen}
    seen_note(pk for pk, care in found.items() if care.is_written)
    return found


def _supports(
    viewer: Person, students: Collection[int], day: dt.date, names: Mapping[int, str] | None
) -> Mapping[int, list[SupportTold]]:
    rows = SUPPORTS(students, day)
    if names is None:
        names = student_names(viewer).full if any(one.other_student_id for one in rows) else {}
    found: dict[int, list[SupportTold]] = defaultdict(list)
    for one in rows:
        found[one.student_id].append(
            SupportTold(
                one.pk, _label(one, names), one.text.strip(), one.source, one.written_on, one.is_provisional
            )
        )
    return found


def _label(row: Support, names: Mapping[int, str]) -> str:
    """What a support is about; with the other student by name, where the viewer may know it, else by code."""
    other = row.other_student
    if row.kind == Support.Kind.OTHER or other is None:
        return "" if row.kind == Support.Kind.OTHER else row.get_kind_display()
    called = names.get(other.pk, other.code)
    return f"Goes with {called}" if row.kind == Support.Kind.WITH else f"Kept apart from {called}"


def _cautions(students: Collection[int], day: dt.date) -> Mapping[int, list[CautionTold]]:
    rows = CAUTIONS(students, day)
    found: dict[int, list[CautionTold]] = defaultdict(list)
    for one in rows:
        found[one.student_id].append(_caution_told(one))
    return found


def _caution_told(row: Caution) -> CautionTold:
    return CautionTold(
        row.pk,
        row.get_kind_display(),
        caution_written(row.text),
        tuple(tag.name for tag in row.tags.all()),
        steps_of(row.emergency_steps),
        whom_told(row.decides),
        row.source,
        row.written_on,
    )


def cautions_met(students: Collection[int], tags: Iterable[int], *, day: dt.date) -> tuple[CautionMet, ...]:
    """Cautions of these students that an activity or a place with these tags meets on a date.

    By the ids of students whom the viewer may see (whoever asks has narrowed them) and of the district's tags.
    Sorted by student and caution. A caution without tags meets nothing here: it stands with the student's name.
    """
    wanted = set(tags)
    if not wanted:
        return ()
    rows = Caution.objects.filter(student__in=list(students), tags__in=wanted).holding(day).distinct()
    return tuple(
        CautionMet(
            one.student_id,
            one.pk,
            tuple(tag.name for tag in one.tags.all() if tag.pk in wanted),
            whom_told(one.decides),
        )
        for one in rows.order_by("student_id", "pk").prefetch_related("tags")
    )


def care_texts(students: Collection[int]) -> dict[int, dict[str, str]]:
    """By student: `supports` and `cautions` as the student's own record has them, one text each. Two queries."""
    found: dict[int, dict[str, str]] = {pk: {"supports": "", "cautions": ""} for pk in students}
    for name, model in (("supports", Support), ("cautions", Caution)):
        rows = model._meta.base_manager.filter(student__in=list(found), source=ON_RECORD)
        for pk, text in rows.order_by("-pk").values_list("student_id", "text"):
            found[pk][name] = text
    return found


def keeps_parents(district: District) -> bool:
    """Whether the district turned on that parents are kept among a student's contacts."""
    return CareSettings.objects.filter(district=district, keeps_parents=True).exists()


def care_settings_of(district: District) -> CareSettings:
    """What a district decided about contacts; unsaved defaults where it hasn't."""
    return CareSettings.objects.filter(district=district).first() or CareSettings(district=district)


def tags_listed(viewer: Person) -> QuerySet[CautionTag]:
    """The tags of the viewer's district."""
    return CautionTag.objects.visible_to(viewer)


TAGS_UNDO = "caution_tag_take_back"


def last_tag_change(viewer: Person) -> LastChange | None:
    """What was done last to the tags of the viewer's district."""
    if viewer.district is None:
        return None
    every = Q(changes__has_key="name")
    return last_change_of(CautionTag, viewer.district, (), undo=TAGS_UNDO, about=every)


@dataclass(frozen=True, slots=True)
class PastCare:
    """A support or a caution that holds on other days than today."""

    label: str
    text: str
    days: str
    address: str


def past_care(student: Student, today: dt.date) -> list[PastCare]:
    """What is written down about a student and doesn't hold today: it has ended, or begins later."""
    found = []
    for model, address in ((Caution, "caution_change"), (Support, "support_change")):
        ended = Q(last_day__lt=today) | Q(first_day__gt=today)
        rows = model._meta.base_manager.filter(ended, student=student).order_by("pk")
        found += [
            PastCare(one.get_kind_display(), one.text, _days(one), reverse(address, args=[one.pk])) for one in rows
        ]
    return found


def _days(row: Support | Caution) -> str:
    first = f"from {date_words(row.first_day)}" if row.first_day else ""
    last = f"until {date_words(row.last_day)}" if row.last_day else ""
    return " ".join(part for part in (first, last) if part)


def contacts_of_class(viewer: Person, school_class: SchoolClass) -> QuerySet[Contact]:
    """Whom to ask about a class."""
    return Contact.objects.visible_to(viewer).filter(school_class=school_class)


def contacts_of(viewer: Person, student: Student) -> list[Contact]:
    """Whom to ask about a student: the student's own contacts, then those of the class."""
    seen_note([student.pk])
    rows = Contact.objects.visible_to(viewer)
    own = rows.filter(student=student)
    return [*own, *rows.filter(school_class=student.home_class_id)] if student.home_class_id else list(own)


# ---- what was done, to be taken back ---------------------------------------------------------------------------

CARE_MODELS: Mapping[str, type[Model]] = {one._meta.label_lower: one for one in (Support, Caution, Contact, Try)}
UNDO = "care_take_back"
_DONE = {"save": "changed", "remove": "removed"}


@dataclass(frozen=True, slots=True)
class CareChange:
    """A change of a student's or a class's care that can be taken back, as “Ada Vey removed a caution”."""

    entry: AuditEntry
    words: str


def last_change(about: Student | SchoolClass) -> CareChange | None:
    """What was done last to a student's supports, cautions and contacts, or to a class's contacts.

    Nothing where that took a change back.
    """
    name, models = ("student", (Support, Caution, Contact, Try)) if isinstance(about, Student) else _OF_CLASS
    named = Q(**{f"changes__{name}__0": about.pk}) | Q(**{f"changes__{name}__1": about.pk})
    for model in models:
        keys = [str(pk) for pk in model._meta.base_manager.filter(**{name: about}).values_list("pk", flat=True)]
        named |= Q(model=model._meta.label_lower, object_id__in=keys)
    labels = [model._meta.label_lower for model in models]
    rows = AuditEntry.objects.filter(named, district=about.district, model__in=labels)
    entry = rows.select_related("actor").order_by("-pk").first()
    return None if entry is None or entry.action == UNDO else CareChange(entry, _change_words(entry))


_OF_CLASS: tuple[str, tuple[type[Model], ...]] = ("school_class", (Contact,))


def _change_words(entry: AuditEntry) -> str:
    what, _, verb = entry.action.rpartition("_")
    done = "added" if entry.changes.get("id", [0])[0] is None else _DONE.get(verb, "changed")
    who = str(entry.actor) if entry.actor is not None else "Somebody"
    return f"{who} {done} a {what} on {date_words(timezone.localtime(entry.at).date())}"
