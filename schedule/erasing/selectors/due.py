"""Whose records are due by which rule, and what holds them back."""

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Max, Q
from django.db.models.functions import Coalesce

from accounts.models import District
from caseload.delivery.models import DeliveryEntry
from caseload.delivery.selectors.compensatory import compensatory_of, with_given
from caseload.delivery.selectors.log import entries_of
from caseload.months.models import LogMonth, month_of
from caseload.plans.models import Enrollment, ServiceLine, Student
from caseload.retention.models import ErasureHold, ParentsWord
from caseload.retention.schedule import EXITED, LEFT, OF_STUDENTS, STUDENTS, KeepingRule, last_gone
from schedule.erasing.listing import COMPENSATORY, HOLD, MONTH, PARENTS, SERVED


@dataclass(frozen=True, slots=True)
class Due:
    """Records of a kind about a student that are due, with what holds them back."""

    student: int
    kind: str
    rule: int | None
    event: dt.date | None
    told: dt.date | None
    why: tuple[str, ...]


def due_by_rules(district: District, rules: Mapping[str, KeepingRule], as_of: dt.date, today: dt.date) -> list[Due]:
    """What is due of the district's students by its rules, by student and kind.

    Whoever is due as a whole isn't due in parts.
    """
    due = _due(district, rules, as_of)
    reasons = Reasons(district, list(due), today, ParentsWord.Kind.TOLD)
    return [
        Due(student, rule.kind, rule.key, event, reasons.words.get(student), reasons.why(student))
        for student, found in sorted(due.items())
        for rule, event in found
    ]


def _due(
    district: District, rules: Mapping[str, KeepingRule], as_of: dt.date
) -> dict[int, list[tuple[KeepingRule, dt.date]]]:
    """Rules that are due of each student, with the day that their years count from."""
    students = Student.objects.filter(district=district).values_list("pk", flat=True)
    events = {LEFT: left_on(students), EXITED: exited_on(district)}
    due: dict[int, list[tuple[KeepingRule, dt.date]]] = {}
    for rule in (rules[kind] for kind in OF_STUDENTS if kind in rules):
        last = last_gone(rule, as_of, ())
        for student, event in events[rule.counts_from].items():
            whole = any(one.kind == STUDENTS for one, _ in due.get(student, ()))
            if last is not None and event <= last and not whole:
                due.setdefault(student, []).append((rule, event))
    return due


def due_by_request(district: District, student: int, today: dt.date) -> Due:
    """All of one student, at the parents' request (34 CFR 300.624(b)); what holds it back is the same."""
    reasons = Reasons(district, [student], today, ParentsWord.Kind.ASKED)
    ends = exited_on(district).get(student)
    why = reasons.why(student)
    if ends is not None and ends >= today:
        why = (*why, SERVED)
    word = reasons.words.get(student)
    return Due(student, STUDENTS, None, word, word, why)


def left_on(students: Iterable[int]) -> dict[int, dt.date]:
    """The last day in the district, of those who have one: no stay at a school goes on after it."""
    found: dict[int, dt.date] = {}
    open_ended: set[int] = set()
    wanted = set(students)
    for student, last in Enrollment.objects.filter(is_program=False).values_list("student", "last_day"):
        if last is None:
            open_ended.add(student)
        else:
            found[student] = max(found.get(student, last), last)
    for student, last in Student.objects.exclude(last_day=None).values_list("pk", "last_day"):
        if last is not None and student not in found:
            found[student] = last
    return {student: last for student, last in found.items() if student in wanted - open_ended}


def exited_on(district: District) -> dict[int, dt.date]:
    """The last day of the last service, of students who have or had one."""
    rows = ServiceLine.objects.filter(plan__student__district=district).order_by()
    return dict(rows.values_list("plan__student").annotate(last=Max("end")))


class Reasons:
    """What holds the records of some students back on a day. A fixed number of queries."""

    def __init__(self, district: District, students: Collection[int], today: dt.date, word: str) -> None:
        held = ErasureHold.objects.filter(student__in=students, first_day__lte=today)
        goes_on = Q(last_day__isnull=True) | Q(last_day__gte=today)
        self.held = set(held.filter(goes_on).values_list("student", flat=True))
        self.owed = _compensatory_left(students, today)
        self.open_months = _with_open_months(district, students)
        said = ParentsWord.objects.filter(student__in=students, kind=word, said_on__lte=today).order_by()
        self.words: dict[int, dt.date] = dict(said.values_list("student").annotate(last=Max("said_on")))

    def why(self, student: int) -> tuple[str, ...]:
        """Why a student's records stay; nothing where they may go."""
        told = {HOLD: self.held, COMPENSATORY: self.owed, MONTH: self.open_months}
        found = tuple(why for why, among in told.items() if student in among)
        return found if student in self.words else (*found, PARENTS)


def _compensatory_left(students: Collection[int], today: dt.date) -> set[int]:
    accounts = compensatory_of(students, today)
    logged = entries_of(accounts) if accounts else {}
    return {
        student
        for student, mine in accounts.items()
        if any(one.left for one in with_given(mine, logged.get(student, [])))
    }


def _with_open_months(district: District, students: Collection[int]) -> set[int]:
    """Students with log in a month that isn't closed; nobody where the district closes no months."""
    rows = LogMonth.objects.filter(district=district, status=LogMonth.Status.CLOSED)
    closed = set(rows.values_list("teacher", "month"))
    if not closed:
        return set()
    logged = DeliveryEntry.objects.filter(student__in=students).order_by()
    answers = Coalesce("provider", "service_line__provider")
    found = logged.values_list("student", answers, "date").distinct()
    return {student for student, teacher, date in found if (teacher, month_of(date)) not in closed}
