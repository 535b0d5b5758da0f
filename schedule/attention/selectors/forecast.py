"""How each service line of a teacher is likely to end: at the marking period's end and at the plan's."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from accounts.models import Person
from caseload.delivery.in_force import in_force
from caseload.delivery.rows import LineLedger, StudentLedger
from caseload.delivery.selectors.log import settings_of
from caseload.delivery.words import statements_in_turn
from caseload.ledger.outlook import Outlook, history_of, outlook
from caseload.ledger.rates import LearnedRates, RateBelief
from caseload.ledger.terms import LedgerError
from caseload.plans.models import ServiceLine, Student
from schedule.attention.selectors.away import days_away
from schedule.calendar.models import MarkingPeriod
from schedule.log.selectors.ledger import ledgers_of
from schedule.make_ups.selectors.needs import last_day_of
from schedule.weeks.models import WeekPlan
from schedule.weeks.planning.load import district_of_teacher
from schedule.weeks.planning.quotas import USUAL_SESSION
from schedule.weeks.selectors.scope import teacher_require


@dataclass(frozen=True, slots=True)
class LineOutlook:
    """A line with its outlooks, the nearest date first; none where its ledger can't be worked out.

    `last` is the last day of its service, whichever version of it is in force then; `versions` are those in force
    today and later.
    """

    line: ServiceLine
    student: Student
    outlooks: tuple[Outlook, ...]
    last: dt.date
    versions: tuple[ServiceLine, ...]

    @property
    def usual(self) -> int:
        """Minutes of a usual session."""
        return self.line.minutes or USUAL_SESSION

    def statement(self, until: dt.date) -> str:
        """What is owed up to a date: one statement after the other where the service changes before it."""
        return statements_in_turn(one for one in self.versions if in_force(one)[0] <= until)

    @property
    def doubtful(self) -> Outlook | None:
        """The nearest date at which it is likely to end short."""
        return next((one for one in self.outlooks if one.is_doubtful), None)


@dataclass(frozen=True, slots=True)
class TeacherLedgers:
    """A teacher's lines that are or were owed this year, their students' ledgers, and the published Mondays.

    `away` are days to come on which the teacher will be absent.
    """

    teacher: Person
    today: dt.date
    lines: dict[int, ServiceLine]
    ledgers: tuple[StudentLedger, ...]
    published: frozenset[dt.date]
    marking_period: MarkingPeriod | None
    make_up_days: int
    away: frozenset[dt.date] = frozenset()

    @property
    def reason_words(self) -> Mapping[str, str]:
        """What the district calls each reason, by its code."""
        return next((one.rules.on(self.today).words for one in self.ledgers), {})

    def own_lines(self) -> list[tuple[StudentLedger, LineLedger]]:
        """Ledgers of the teacher's own lines; a student may have others' too."""
        return [(student, one) for student in self.ledgers for one in student.lines if one.line.pk in self.lines]


def teacher_ledgers(viewer: Person, teacher: Person, today: dt.date) -> TeacherLedgers:
    """What the attention page and the forecast are made of; the number of queries is fixed.

    Raises `ApplicationError` (404) for a teacher who isn't the viewer's to plan.
    """
    teacher_require(viewer, teacher)
    district = district_of_teacher(teacher)
    rows = ServiceLine.objects.filter(provider=teacher, plan__student__district=district)
    rows = rows.owed_between(today - dt.timedelta(days=366), today + dt.timedelta(days=366))
    lines = {
        line.pk: line
        for line in rows.select_related("plan__student__building__district", "provider").order_by("pk")
    }
    students = {line.plan.student_id: line.plan.student for line in lines.values()}
    weeks = WeekPlan.objects.filter(teacher=teacher, status=WeekPlan.Status.PUBLISHED)
    periods = MarkingPeriod.objects.filter(district=district, first_day__lte=today, last_day__gte=today)
    return TeacherLedgers(
        teacher=teacher,
        today=today,
        lines=lines,
        ledgers=ledgers_of(district, list(students.values()), today) if students else (),
        published=frozenset(weeks.values_list("monday", flat=True)),
        marking_period=periods.first(),
        make_up_days=settings_of(district).make_up_days,
        away=days_away(teacher, today + dt.timedelta(days=1), today + dt.timedelta(days=366)),
    )


def line_outlooks(loaded: TeacherLedgers) -> tuple[LineOutlook, ...]:
    """The outlook of every line in force today; nothing is forecast before a week is in force."""
    if not loaded.published:
        return ()
    rules = {student.student.pk: student.rules for student in loaded.ledgers}
    own = loaded.own_lines()
    past = {
        one.line.pk: history_of((row.record for row in one.rows), rules[student.student.pk]) for student, one in own
    }
    learned = LearnedRates(past.values())
    return tuple(
        LineOutlook(
            one.line,
            student.student,
            _seen(loaded, student, one, learned.belief(past[one.line.pk])),
            last_day_of(one),
            tuple(version for version in one.versions if in_force(version)[1] >= loaded.today),
        )
        for student, one in own
        if _is_forecast(one, loaded.today)
    )


def _is_forecast(one: LineLedger, today: dt.date) -> bool:
    """Whether a line has a ledger and is in force today."""
    first, last = in_force(one.line)
    return one.ledger is not None and one.calendar is not None and first <= today <= last


def _seen(
    loaded: TeacherLedgers, student: StudentLedger, one: LineLedger, belief: RateBelief
) -> tuple[Outlook, ...]:
    """The outlook of a line by each of its dates; none where its ledger can't say."""
    if one.ledger is None or one.calendar is None:
        return ()
    last = last_day_of(one)
    try:
        return tuple(
            outlook(
                name=name,
                until=until,
                ledger=one.ledger,
                calendar=one.calendar,
                rules=student.rules,
                sessions=[row.record for row in one.rows],
                published=loaded.published,
                usual=one.line.minutes or USUAL_SESSION,
                belief=belief,
                away=loaded.away,
            )
            for name, until in _horizons(loaded, last, one.calendar.year.last)
        )
    except LedgerError:
        # The ledger's page says what is missing; without it there is no forecast.
        return ()


def _horizons(loaded: TeacherLedgers, last: dt.date, year_end: dt.date) -> Sequence[tuple[str, dt.date]]:
    """Names and dates, the nearest first. A service that goes on is looked at until the school year ends."""
    period = loaded.marking_period
    end = ("the end of the service", last) if last <= year_end else ("the end of the school year", year_end)
    if period is not None and period.last_day < end[1]:
        return [(f"the end of {period.name}", period.last_day), end]
    return [end]


def by_line(several: Iterable[LineOutlook]) -> dict[int, LineOutlook]:
    """Outlooks by the id of their line."""
    return {one.line.pk: one for one in several}
