"""The page that leads with who needs attention first."""

from dataclasses import dataclass

from django.contrib.auth.decorators import permission_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from schedule.attention.selectors.attention import KIND_WORDS, Attention, AttentionRow, Kind, attention
from schedule.calendar.selectors.sources import address_rows
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import number_in, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for

BADGES = {
    Kind.BEHIND: "bad",
    Kind.PROBLEM: "bad",
    Kind.UNDECIDED: "warn",
    Kind.UNLOGGED: "warn",
    Kind.SHORT: "warn",
}


LONGEST_OPEN = 10
"""A longer group than this is folded, unless it is the first."""

WORDS = {
    Kind.BEHIND: "missed and owed: make them up",
    Kind.UNDECIDED: "missed minutes wait for a decision",
    Kind.UNLOGGED: "sessions are over and nobody said what happened",
    Kind.SHORT: "at this week's pattern and the past rate of missed sessions",
    Kind.PLAN_ENDS: "within 60 days, and none follows",
    Kind.REVIEW: "due within 60 days or overdue",
    Kind.REPORT: "a marking period ends",
    Kind.PROBLEM: "something is missing in the plan or the calendar",
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A row with its next step."""

    row: AttentionRow
    step: str
    address: str


@dataclass(frozen=True, slots=True)
class AttentionGroup:
    """Rows of one kind under their heading."""

    label: str
    words: str
    badge: str
    shown: tuple[Shown, ...]
    open: bool


def grouped(found: Attention, own: str) -> list[AttentionGroup]:
    """The rows by kind, the most urgent kind first."""
    groups: list[AttentionGroup] = []
    for kind in Kind:
        shown = tuple(Shown(row, *next_step(row, own)) for row in found.of(kind))
        if shown:
            is_open = not groups or len(shown) <= LONGEST_OPEN
            groups.append(AttentionGroup(KIND_WORDS[kind], WORDS[kind], BADGES.get(kind, "info"), shown, is_open))
    return groups


@require_safe
@permission_required("week.change", raise_exception=True)
def attention_page(request: HttpRequest) -> HttpResponse:
    """What waits with one teacher's students; a coordinator chooses the teacher."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        return render(request, "schedule/weeks/nobody.html")
    found = attention(viewer, teacher, district_today(viewer))
    own = query(teacher=teacher.pk)
    context = {
        "found": found,
        "addresses": address_rows(viewer) if viewer.has_perm("district.change") else (),
        "groups": grouped(found, own),
        "teacher": teacher,
        "teachers": teachers_for(viewer) if viewer.is_coordinator else (),
        "make_ups_url": reverse("make_ups") + own,
    }
    return render(request, "schedule/attention.html", context)


def next_step(row: AttentionRow, own: str) -> tuple[str, str]:
    """What to do about a row, and where."""
    if row.kind is Kind.SHORT and not row.minutes:
        return "Open the ledger", reverse("student_ledger", args=_student(row))
    name, text, of = STEPS[row.kind]
    possible: dict[str, list[int | None]] = {
        "student": [*_student(row)],
        "line": [row.line_id],
        "entry": [row.entry_id],
    }
    args = possible.get(of, [])
    return text, reverse(name, args=args) + ("" if of else own)


# The address's name, the words, and what its argument is; without one it takes the teacher.
STEPS = {
    Kind.BEHIND: ("make_up_slots", "Find a make-up", "line"),
    Kind.UNDECIDED: ("log_entry", "Record the decision", "entry"),
    Kind.UNLOGGED: ("log", "Log them", ""),
    Kind.SHORT: ("plan", "Plan more", ""),
    Kind.PLAN_ENDS: ("plan_new", "Add the next plan", "student"),
    Kind.REVIEW: ("student_detail", "Open the plan", "student"),
    Kind.REPORT: ("report_home", "Make the reports", ""),
    Kind.PROBLEM: ("service_line_change", "Change the service", "line"),
}


def _student(row: AttentionRow) -> list[int]:
    return [row.student.pk] if row.student is not None else []
