"""A district's workload in one week, added up by the database, however many services there are.

Read row by row are only services of so many minutes in all, and those of students who change schools in
that week or are at a program beside their school.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum

from accounts.models import Person
from caseload.delivery.in_force import in_force
from caseload.ledger.workload import YearLength, minutes_a_week, rounded
from caseload.plans.enrollment.selectors import enrollments_holding
from caseload.plans.frequency import FrequencyError
from caseload.plans.models import Enrollment, ServiceLine
from schedule.weeks.models import DayItem, UnplacedSession, WeekPlan
from schedule.weeks.selectors.pages import teachers_for
from schedule.workload.selectors.teachers import WEEK, places_of, weeks_touched, year_length

ONE_DAY = dt.timedelta(days=1)
TERMS = ("unit", "times", "minutes", "minutes_total", "cycle_days", "weeks_on", "weeks_of")
"""What a frequency is made of (`ServiceLine.frequency`)."""
STAY = "plan__student__enrollments"

TENTH = Decimal("0.1")
"""Of a mile, as drives keep them: SQLite adds up in floating point and forgets it."""


@dataclass(frozen=True, slots=True)
class DistrictWorkload:
    """All teachers of a district in the week of a Monday, in minutes and miles. Students and schools count once.

    `owed` is of an average week, rounded once; `unclear` services don't say how much that is and aren't in it.
    """

    monday: dt.date
    students: int
    schools: int
    owed: int
    unclear: int
    wheel: int
    miles: Decimal
    unplaced: int

    @property
    def last(self) -> dt.date:
        """The week's Friday."""
        return self.monday + dt.timedelta(days=4)


def teachers_at_work(viewer: Person, monday: dt.date) -> QuerySet[Person]:
    """By name, whose weeks the viewer may see; without those who have left and have nothing that week."""
    busy = Q(pk__in=_lines(viewer, monday).values("provider")) | Q(pk__in=_weeks(viewer, monday).values("teacher"))
    rows = teachers_for(viewer).filter(Q(is_active=True) | busy)
    return rows.order_by("last_name", "first_name", "pk")


def district_workload(viewer: Person, monday: dt.date) -> DistrictWorkload:
    """The sums of all teachers whose weeks the viewer may see."""
    lines = _lines(viewer, monday)
    owed, unclear = _owed(lines, year_length(viewer, monday))
    weeks = _weeks(viewer, monday)
    drives = DayItem.objects.filter(week__in=weeks, kind=DayItem.Kind.DRIVE)
    driven = drives.aggregate(wheel=Sum("drive_minutes", default=0), miles=Sum("miles", default=Decimal(0)))
    unplaced = UnplacedSession.objects.filter(week__in=weeks).aggregate(minutes=Sum("minutes", default=0))
    return DistrictWorkload(
        monday=monday,
        students=lines.values("plan__student").distinct().count(),
        schools=len(_schools(lines, monday)),
        owed=owed,
        unclear=unclear,
        wheel=driven["wheel"],
        miles=driven["miles"].quantize(TENTH),
        unplaced=unplaced["minutes"],
    )


def _weeks(viewer: Person, monday: dt.date) -> QuerySet[WeekPlan]:
    """The weeks in force of all teachers."""
    rows = WeekPlan.objects.visible_to(viewer).filter(monday=monday, status=WeekPlan.Status.PUBLISHED)
    return rows.filter(teacher__in=teachers_for(viewer).order_by().values("pk"))


def _lines(viewer: Person, monday: dt.date) -> QuerySet[ServiceLine]:
    """Services in force on a day of the week, as `in_force` says it: from a student's first day to the last one."""
    last = monday + WEEK - ONE_DAY
    rows = ServiceLine.objects.visible_to(viewer).owed_between(monday, last)
    rows = rows.filter(provider__in=teachers_for(viewer).order_by().values("pk")).order_by()
    stays = Enrollment.objects.filter(
        Q(first_day__isnull=True) | Q(first_day__lte=OuterRef("end")),
        Q(last_day__isnull=True) | Q(last_day__gte=OuterRef("start")),
        student=OuterRef("plan__student"),
    )
    come = stays.filter(Q(first_day__isnull=True) | Q(first_day__lte=last))
    stayed = stays.filter(Q(last_day__isnull=True) | Q(last_day__gte=monday))
    return rows.filter((Q(Exists(come)) & Q(Exists(stayed))) | _by_record(monday, last))


def _by_record(monday: dt.date, last: dt.date) -> Q:
    """The same of students without enrollments, who are where the record says."""
    first_day, last_day = F("plan__student__first_day"), F("plan__student__last_day")
    come = Q(plan__student__first_day__lte=last, end__gte=first_day)
    stayed = Q(plan__student__last_day__gte=monday, start__lte=last_day)
    return (
        ~Q(Exists(Enrollment.objects.filter(student=OuterRef("plan__student"))))
        & (Q(plan__student__first_day__isnull=True) | come)
        & (Q(plan__student__last_day__isnull=True) | stayed)
    )


def _owed(lines: QuerySet[ServiceLine], year: YearLength | None) -> tuple[int, int]:
    """Minutes of an average week, and how many services leave them open: each frequency is looked at once."""
    total, unclear = Fraction(0), 0
    in_all = Q(unit=ServiceLine.Unit.TOTAL)
    alike = lines.exclude(in_all).values(*TERMS).annotate(number=Count("pk"))
    looked_at = [(ServiceLine(**{one: row[one] for one in TERMS}), row["number"], 0) for row in alike]
    looked_at += [(one, 1, weeks_touched(*in_force(one))) for one in _whole(lines.filter(in_all))]
    for line, number, weeks in looked_at:
        try:
            minutes = minutes_a_week(line.frequency, year, weeks)
        except FrequencyError:
            minutes = None
        total += number * (minutes or 0)
        unclear += number * (minutes is None)
    return rounded(total), unclear


def _whole(lines: QuerySet[ServiceLine]) -> QuerySet[ServiceLine]:
    """With what says where their students are on which days."""
    return lines.select_related("plan__student__building").prefetch_related("plan__student__enrollments")


def _schools(lines: QuerySet[ServiceLine], monday: dt.date) -> set[int]:
    """The buildings where these services are given in the week, as `places_of` says it."""
    elsewhere, lines = lines.exclude(held_in=None), lines.filter(held_in=None)
    holding = enrollments_holding(monday, monday + WEEK - ONE_DAY)
    other = holding.filter(student=OuterRef("student")).exclude(pk=OuterRef("pk"))
    at_one = lines.filter(
        Q(**{f"{STAY}__first_day__isnull": True}) | Q(**{f"{STAY}__first_day__lte": F("end")}),
        Q(**{f"{STAY}__last_day__isnull": True}) | Q(**{f"{STAY}__last_day__gte": F("start")}),
        **{f"{STAY}__in": holding.exclude(Exists(other)).values("pk")},
    )
    by_record = lines.exclude(Exists(Enrollment.objects.filter(student=OuterRef("plan__student"))))
    rest = lines.exclude(pk__in=at_one.values("pk")).exclude(pk__in=by_record.values("pk"))
    return {
        *at_one.values_list(f"{STAY}__building", flat=True).distinct(),
        *by_record.values_list("plan__student__building", flat=True).distinct(),
        *places_of(_whole(rest), monday),
        *elsewhere.values_list("held_in__building", flat=True).distinct(),
    }
