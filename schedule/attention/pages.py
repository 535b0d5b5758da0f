"""The page that leads with who needs attention first."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from accounts.pages import do_and_say
from schedule.attention.selectors.attention import Attention, attention
from schedule.attention.selectors.rows import KIND_WORDS, AttentionRow, Kind
from schedule.attention.selectors.shared import SharedCause, shared_causes
from schedule.attention.services import shared_cause_plan
from schedule.calendar.selectors.sources import address_rows
from schedule.weeks.pages.context import query
from schedule.weeks.pages.request import number_in, viewer_of
from schedule.weeks.selectors.pages import district_today, teacher_for, teachers_for

BADGES = {
    Kind.BEHIND: "bad",
    Kind.PROBLEM: "bad",
    Kind.UNDECIDED: "warn",
    Kind.UNSERVED: "bad",
    Kind.ENDED: "bad",
    Kind.UNLOGGED: "warn",
    Kind.BEYOND: "warn",
    Kind.SHORT: "warn",
}


WORDS = {
    Kind.BEHIND: "missed and owed: make them up",
    Kind.UNSERVED: "the teacher who gives them leaves: hand them over from that day",
    Kind.ENDED: "a school, students or the teacher will not be there anymore",
    Kind.UNDECIDED: "missed minutes wait for a decision",
    Kind.UNLOGGED: "sessions are over and nobody said what happened",
    Kind.BEYOND: "the terms have changed since these weeks were planned",
    Kind.SHORT: "at this week's pattern and the past rate of missed sessions",
    Kind.PLAN_ENDS: "within 60 days, and none follows",
    Kind.REVIEW: "due within 60 days or overdue",
    Kind.REPORT: "a marking period ends",
    Kind.NO_DATA: "nobody has taken data on these goals for as many days as the district allows",
    Kind.PROBLEM: "something is missing in the plan or the calendar",
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A row with its next step."""

    row: AttentionRow
    step: str
    address: str


@dataclass(frozen=True, slots=True)
class ShownTogether:
    """Rows that share a cause: said once, with one next step, and each of them below."""

    shared: SharedCause
    step: str
    address: str
    rows: tuple[Shown, ...]


@dataclass(frozen=True, slots=True)
class AttentionGroup:
    """Rows of one kind under their heading: first those that differ, then those that share a cause.

    `count` is of what waits: a row that tells of 39 sessions counts 39.
    """

    label: str
    words: str
    badge: str
    count: int
    differ: tuple[Shown, ...]
    together: tuple[ShownTogether, ...]


def grouped(found: Attention, own: str) -> list[AttentionGroup]:
    """The rows by kind, the most urgent kind first."""
    shared, differ = shared_causes(found), found.parted.differ
    return [
        AttentionGroup(
            KIND_WORDS[kind],
            WORDS[kind],
            BADGES.get(kind, "info"),
            sum(row.things for row in found.of(kind)),
            tuple(Shown(row, *next_step(row, own)) for row in differ if row.kind is kind),
            tuple(_together(one, own) for one in shared if one.kind is kind),
        )
        for kind in Kind
        if found.of(kind)
    ]


def _together(one: SharedCause, own: str) -> ShownTogether:
    rows = tuple(Shown(row, *next_step(row, own)) for row in one.rows)
    if one.plannable:
        return ShownTogether(one, "Plan these as make-ups", reverse("attention_plan"), rows)
    step, address = TOGETHER.get(one.kind, ("", ""))
    return ShownTogether(one, step, reverse(address) + own if address else "", rows)


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


@require_POST
@permission_required("week.change", raise_exception=True)
def plan_shared(request: HttpRequest) -> HttpResponse:
    """Plan make-ups for the services that share a cause."""
    viewer = viewer_of(request)
    teacher = teacher_for(viewer, number_in(request, "teacher"))
    if teacher is None:
        raise Http404
    cause = request.POST.get("cause", "")
    today = district_today(viewer)
    run = do_and_say(request, lambda: shared_cause_plan(actor=viewer, teacher=teacher, cause=cause, today=today))
    return (
        redirect(reverse("attention") + query(teacher=teacher.pk)) if run is None else redirect("plan_run", run.pk)
    )


def next_step(row: AttentionRow, own: str) -> tuple[str, str]:
    """What to do about a row, and where."""
    if row.kind is Kind.SHORT and not row.minutes:
        return "Open the ledger", reverse("student_ledger", args=_student(row))
    if row.kind is Kind.NO_DATA:
        return "Take data", f"{reverse('data_take')}?{urlencode([('student', one) for one in row.students])}"
    name, text, of = STEPS[row.kind]
    possible: dict[str, list[int | None]] = {
        "student": [*_student(row)],
        "line": [row.line_id],
        "entry": [row.entry_id],
    }
    args = possible.get(of, [])
    return text, reverse(name, args=args) + ("" if of else own)


# What several rows of a kind lead to together, where it isn't a plan of make-ups: the words, and the address.
TOGETHER = {
    Kind.UNSERVED: ("Hand them over", "caseload_hand_over"),
    Kind.BEYOND: ("Plan again", "plan"),
    Kind.SHORT: ("Plan more", "plan"),
    Kind.UNDECIDED: ("Open the log", "log"),
    Kind.PLAN_ENDS: ("Open the students", "student_list"),
    Kind.REVIEW: ("Open the students", "student_list"),
}

# The address's name, the words, and what its argument is; without one it takes the teacher.
STEPS = {
    Kind.BEHIND: ("make_up_slots", "Find a make-up", "line"),
    Kind.UNDECIDED: ("log_entry", "Record the decision", "entry"),
    Kind.UNSERVED: ("caseload_hand_over", "Hand it over", ""),
    Kind.ENDED: ("plan", "Plan again", ""),
    Kind.UNLOGGED: ("log", "Log them", ""),
    Kind.BEYOND: ("plan", "Plan again", ""),
    Kind.SHORT: ("plan", "Plan more", ""),
    Kind.PLAN_ENDS: ("plan_new", "Add the next plan", "student"),
    Kind.REVIEW: ("student_detail", "Open the plan", "student"),
    Kind.REPORT: ("report_home", "Make the reports", ""),
    Kind.PROBLEM: ("service_line_change", "Change the service", "line"),
}


def _student(row: AttentionRow) -> list[int]:
    return [row.student.pk] if row.student is not None else []
