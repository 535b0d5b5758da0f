"""What waits in a district, by kind and cause, from what was counted of each teacher."""

from dataclasses import dataclass

from django.db.models import Count, Min, QuerySet, Sum

from accounts.errors import ApplicationError
from accounts.models import Person
from accounts.services import NOT_THERE
from schedule.attention.selectors.rows import KIND_WORDS, Kind
from schedule.overview.models import CountedCause, TeacherCount
from schedule.overview.selectors.latest import latest_counts
from schedule.overview.sums import CauseLine, KindLine

CAUSES_SHOWN = 5


def waits(counts: QuerySet[TeacherCount]) -> tuple[KindLine, ...]:
    """By kind, the most urgent first; of each kind its largest causes."""
    rows = CountedCause.objects.filter(count__in=counts).order_by()
    kinds = rows.values("kind").annotate(
        number=Sum("things"), total=Sum("minutes"), people=Count("count__teacher", distinct=True)
    )
    causes: dict[int, list[CauseLine]] = {}
    for kind, line in _cause_lines(rows):
        causes.setdefault(kind, []).append(line)
    return tuple(
        KindLine(
            kind=row["kind"],
            label=KIND_WORDS[Kind(row["kind"])],
            things=row["number"],
            minutes=row["total"],
            teachers=row["people"],
            causes=tuple(causes[row["kind"]][:CAUSES_SHOWN]),
            more=max(len(causes[row["kind"]]) - CAUSES_SHOWN, 0),
        )
        for row in kinds.order_by("kind")
    )


def _cause_lines(rows: QuerySet[CountedCause]) -> list[tuple[int, CauseLine]]:
    """Each cause once, however many teachers it touches; most minutes first, then most things."""
    groups = rows.values("kind", "cause").annotate(
        row=Min("pk"),
        number=Sum("things"),
        total=Sum("minutes"),
        people=Count("count__teacher", distinct=True),
        first=Min("due"),
    )
    listed = list(groups.order_by("kind", "-total", "-number", "first", "row"))
    words = dict(rows.filter(pk__in=[one["row"] for one in listed]).values_list("pk", "words"))
    return [
        (
            one["kind"],
            CauseLine(
                one["row"],
                _cause_words(one["cause"], words[one["row"]], one["people"]),
                one["people"],
                one["number"],
                one["total"],
                one["first"],
            ),
        )
        for one in listed
    ]


def _cause_words(cause: str, words: str, teachers: int) -> str:
    """One teacher's own sentence; of several what they have in common."""
    if teachers == 1:
        return words
    return f"{cause[:1].upper()}{cause[1:]}" if cause else "Said teacher by teacher"


@dataclass(frozen=True, slots=True)
class Waiting:
    """What waits of one kind, teacher by teacher, for one cause if `cause` says so."""

    kind: Kind
    label: str
    cause: str
    rows: QuerySet[CountedCause]


def waiting_of(viewer: Person, kind: int, row: int | None, teacher: int | None) -> Waiting:
    """The sentences of one kind, the earliest first; those with the cause of a `row` if one is given.

    Raises `ApplicationError` (404) for no such kind, or a row that was counted anew since.
    """
    if kind not in {int(one) for one in Kind}:
        raise ApplicationError(NOT_THERE, code="not_found", status=404)
    rows = CountedCause.objects.filter(count__in=latest_counts(viewer), kind=kind)
    if teacher is not None:
        rows = rows.filter(count__teacher=teacher)
    cause = ""
    if row is not None:
        one = rows.filter(pk=row).first()
        if one is None:
            raise ApplicationError(NOT_THERE, code="not_found", status=404)
        cause, rows = one.cause, rows.filter(cause=one.cause)
    found = rows.select_related("count__teacher").order_by("due", "count__teacher__last_name", "pk")
    return Waiting(Kind(kind), KIND_WORDS[Kind(kind)], cause, found)
