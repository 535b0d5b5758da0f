"""Reads of supports, cautions and what meets them: what is shown of whom to whom is decided here."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping

from accounts.models import Person
from accounts.selectors import today_of
from caseload.care.models import Caution, Support
from caseload.care.written import (
    WHO_DECIDES,
    Care,
    CautionMet,
    CautionTold,
    SupportTold,
    care_told,
    caution_written,
    steps_of,
    whom_told,
)
from caseload.plans.models import Student
from caseload.plans.names import student_names


def care_of(viewer: Person, students: Collection[int], *, day: dt.date | None = None) -> dict[int, Care]:
    """Supports and cautions by student id, of those among `students` whom the viewer may see today.

    What holds on `day`; without one, today. Whom it leaves out the viewer may not see: a school office sees nobody,
    a substitute the covered teacher's students from the first to the last day of the substitution.
    """
    seen = Student.objects.visible_to(viewer).filter(pk__in=students).values_list("pk", "supports", "cautions")
    own = {pk: (_own_support(support), _own_caution(caution)) for pk, support, caution in seen}
    on = day or today_of(viewer)
    supports, cautions = _supports(viewer, own, on), _cautions(own, on)
    return {
        pk: care_told([*support, *supports[pk]], [*caution, *cautions[pk]])
        for pk, (support, caution) in own.items()
    }


def _own_support(text: str) -> list[SupportTold]:
    """What stands on the student's own record."""
    return [SupportTold(0, "", text.strip(), "", None, is_provisional=False)] if text.strip() else []


def _own_caution(text: str) -> list[CautionTold]:
    return [CautionTold(0, "", caution_written(text), (), (), WHO_DECIDES, "", None)] if text.strip() else []


def _supports(viewer: Person, students: Collection[int], day: dt.date) -> Mapping[int, list[SupportTold]]:
    rows = list(Support.objects.filter(student__in=list(students)).holding(day).select_related("other_student"))
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
    rows = Caution.objects.filter(student__in=list(students)).holding(day).prefetch_related("tags")
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
