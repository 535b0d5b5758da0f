"""One teacher's figures of a week, from the same ledgers, outlooks and rows that the teacher's own pages show."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from accounts.models import Person
from caseload.delivery.rows import LineLedger, StudentLedger
from caseload.ledger.figures import MinuteFigures
from caseload.plans.models import Student, enrollment_nearest
from schedule.attention.selectors.attention import attention_from
from schedule.attention.selectors.forecast import LineOutlook, line_outlooks, teacher_ledgers
from schedule.attention.selectors.rows import AttentionRow
from schedule.attention.selectors.shared import SharedCause
from schedule.calendar.models import SchoolYear
from schedule.log.selectors.ledger import ledgers_of
from schedule.weeks.planning.load import monday_of
from schedule.workload.selectors.teachers import WEEK, TeacherWorkload, workloads_of

WEEKS_BACK = 8
"""Of a teacher who wasn't counted before so many past weeks are counted too, for figures from the first day."""


@dataclass(slots=True)
class ServiceSum:
    """Services of one sort in one building."""

    services: int = 0
    behind: int = 0
    short: int = 0
    short_minutes: int = 0
    figures: MinuteFigures = field(default_factory=MinuteFigures)


@dataclass(frozen=True, slots=True)
class CauseSum:
    """What waits for one cause."""

    kind: int
    cause: str
    words: str
    things: int
    services: int
    minutes: int
    due: dt.date


type Services = Mapping[tuple[int, str], ServiceSum]
"""By building and type of service."""


@dataclass(frozen=True, slots=True)
class WeekSum:
    """One teacher's figures up to a date. `week` is None for a past week that is counted afterward."""

    monday: dt.date
    last_date: dt.date
    services: Services
    students: int
    schools: int
    causes: tuple[CauseSum, ...] = ()
    week: TeacherWorkload | None = None

    @property
    def miles(self) -> Decimal:
        """Of the week in force."""
        return self.week.planned.miles if self.week is not None and self.week.planned is not None else Decimal(0)


def week_sum(teacher: Person, today: dt.date) -> WeekSum:
    """What one teacher's pages say today, added up; whether it may be shown to anybody is the page's to ask.

    Costs as much as the teacher's attention page. Raises `ApplicationError` (``calendar_unusable``) as ledgers do.
    """
    loaded = teacher_ledgers(teacher, teacher, today)
    outlooks = line_outlooks(loaded)
    found = attention_from(teacher, loaded, outlooks)
    [work] = workloads_of(teacher, [teacher], monday_of(today))
    return WeekSum(
        monday_of(today),
        today,
        _services(_own(loaded.ledgers, loaded.lines), today, outlooks),
        students=work.students,
        schools=work.schools,
        causes=tuple(_causes(found.rows)),
        week=work,
    )


def past_sums(teacher: Person, today: dt.date) -> Iterator[WeekSum]:
    """The weeks before this one, inside the school year and as they are known now: minutes alone, no causes."""
    loaded = teacher_ledgers(teacher, teacher, today)
    district = teacher.district
    year = SchoolYear.objects.filter(district=district, first_day__lte=today, last_day__gte=today).first()
    students = [one.student for one in loaded.ledgers]
    if district is None or year is None or not students:
        return
    for back in range(WEEKS_BACK, 0, -1):
        monday = monday_of(today) - back * WEEK
        last = monday + dt.timedelta(days=6)
        if last >= year.first_day:
            ledgers = ledgers_of(district, students, last)
            yield WeekSum(monday, last, _services(_own(ledgers, loaded.lines), last, ()), 0, 0)


def _own(ledgers: Iterable[StudentLedger], lines: Mapping[int, object]) -> Iterator[tuple[Student, LineLedger]]:
    """The teacher's services among those of the students."""
    return ((found.student, one) for found in ledgers for one in found.lines if one.line.pk in lines)


def _services(
    lines: Iterable[tuple[Student, LineLedger]], day: dt.date, outlooks: Iterable[LineOutlook]
) -> Services:
    """Each service where its student is on a date, as in a building's report."""
    doubtful = {one.line.pk: one.doubtful for one in outlooks}
    found: dict[tuple[int, str], ServiceSum] = defaultdict(ServiceSum)
    for student, one in lines:
        if one.ledger is None:
            continue
        row = found[enrollment_nearest(student, day).building_id, one.line.service_type]
        seen = doubtful.get(one.line.pk)
        row.services += 1
        row.behind += one.figures.is_open
        row.short += seen is not None
        row.short_minutes += seen.forecast.gap if seen is not None else 0
        row.figures += one.figures
    return found


def _causes(rows: Iterable[AttentionRow]) -> Iterator[CauseSum]:
    """Rows of one kind with one cause together, as the teacher's page would say them."""
    together: dict[tuple[int, str], list[AttentionRow]] = defaultdict(list)
    for row in rows:
        together[row.kind, row.cause].append(row)
    for (kind, cause), several in together.items():
        services = {row.line_id for row in several if row.line_id is not None}
        yield CauseSum(
            kind,
            cause,
            _words(several),
            things=sum(row.things for row in several),
            services=len(services),
            minutes=sum(row.minutes for row in several),
            due=min(row.due for row in several),
        )


def _words(rows: list[AttentionRow]) -> str:
    """One sentence for all of them; rows without a cause each have their own."""
    if len(rows) > 1 and rows[0].cause:
        return SharedCause(tuple(rows)).words
    return " ".join(dict.fromkeys(row.words for row in rows))


def missed_of(row: ServiceSum) -> Mapping[str, int]:
    """Missed minutes by the reason's code, those that are any."""
    return {code: minutes for code, minutes in row.figures.missed.items() if minutes > 0}
