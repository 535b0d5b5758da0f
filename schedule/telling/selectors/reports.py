"""Progress reports as pages and the API show them."""

import datetime as dt
from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, Q, QuerySet

from accounts.models import Person
from caseload.plans.models import Student
from caseload.progress.selectors.story import GoalStory
from schedule.calendar.models import MarkingPeriod
from schedule.telling.drawing import GoalDrawing, PointTold, drawings_from_json
from schedule.telling.facts import ReportFacts, facts_from_json
from schedule.telling.models import ProgressReport, ReportSentence
from schedule.telling.reading import ReadingGrade, reading_grade
from schedule.telling.selectors.facts import report_facts, report_stories

TEAM, FAMILY = "team", "family"
HEADINGS = {"minutes": "Minutes", "attendance": "Attendance", "more": "Anything else"}


@dataclass(frozen=True, slots=True)
class PartShown:
    """One part of a report: a heading, the text, and of a draft the sentence to be worded."""

    topic: str
    heading: str
    text: str
    goal_id: int | None = None
    sentence: ReportSentence | None = None
    story: GoalDrawing | None = None


@dataclass(frozen=True, slots=True)
class ToldReport:
    """A report with its figures: those of now, or those that were signed."""

    row: ProgressReport
    facts: ReportFacts
    team: tuple[PartShown, ...]
    family: tuple[PartShown, ...]
    grade: ReadingGrade

    @property
    def unread(self) -> int:
        """How many parts with a text nobody has read as they stand."""
        sentences = [one.sentence for one in (*self.team, *self.family) if one.sentence is not None]
        return sum(1 for one in sentences if one.text and one.read_at is None)

    def parts(self, audience: str) -> tuple[PartShown, ...]:
        """Those that are told to the team or to the family."""
        return tuple(one for one in (self.family if audience == FAMILY else self.team) if one.text)


@dataclass(frozen=True, slots=True)
class PeriodStudent:
    """A student and the report of one marking period, if it was begun."""

    student: Student
    report: ProgressReport | None
    unread: int = 0

    @property
    def school(self) -> str:
        """The name of the school that the student is listed under."""
        return str(self.student.building)


def shown_sentences(report: ProgressReport) -> list[ReportSentence]:
    """The sentences of a report in its order: the team's, and the family's in its language."""
    rows = report.sentences.select_related("goal", "read_by", "report").order_by("position", "pk")
    return [one for one in rows if one.audience == TEAM or one.language == report.family_language]


def periods_of(viewer: Person, today: dt.date) -> list[MarkingPeriod]:
    """The marking periods that have begun, the latest first."""
    return list(MarkingPeriod.objects.visible_to(viewer).filter(first_day__lte=today).order_by("-first_day"))


def period_to_tell(periods: Iterable[MarkingPeriod], today: dt.date) -> MarkingPeriod | None:
    """The one that ended last, within three weeks; else the one that runs."""
    begun = list(periods)
    recent = [one for one in begun if dt.timedelta(0) <= today - one.last_day <= dt.timedelta(days=21)]
    return next(iter(recent), None) or next(iter(begun), None)


def period_students(viewer: Person, period: MarkingPeriod) -> list[PeriodStudent]:
    """Every student for whom the viewer may report, with the report of a marking period."""
    reports = (
        ProgressReport.objects.visible_to(viewer)
        .kept()
        .filter(kind=ProgressReport.Kind.PERIOD, first_day=period.first_day)
    )
    known = {one.student_id: one for one in reports.select_related("signed_by")}
    unread = _unread_of(known.values())
    students = Student.objects.changeable_by(viewer).select_related("building").order_by("building__name", "code")
    found = ((one, known.get(one.pk)) for one in students)
    return [PeriodStudent(one, report, unread[report.pk] if report is not None else 0) for one, report in found]


@dataclass(frozen=True, slots=True)
class PeriodSchool:
    """The students of one school with their reports: those on this page, of `count` with `signed` reports."""

    name: str
    rows: tuple[PeriodStudent, ...]
    count: int
    signed: int


def schools_of(rows: Iterable[PeriodStudent], shown: Iterable[PeriodStudent]) -> list[PeriodSchool]:
    """The schools of those shown, in their order, each with how many of all `rows` are there and signed."""
    count, signed = Counter[str](), Counter[str]()
    for one in rows:
        count[one.school] += 1
        signed[one.school] += one.report is not None and one.report.is_signed
    found: dict[str, list[PeriodStudent]] = {}
    for one in shown:
        found.setdefault(one.school, []).append(one)
    return [PeriodSchool(name, tuple(among), count[name], signed[name]) for name, among in found.items()]


def untouched_of_period(viewer: Person, period: MarkingPeriod) -> QuerySet[ProgressReport]:
    """The period's drafts that the viewer began and that are as they were begun."""
    rows = ProgressReport.objects.visible_to(viewer).kept()
    return rows.filter(
        kind=ProgressReport.Kind.PERIOD,
        first_day=period.first_day,
        created_by=viewer,
        revision=1,
        signed_at__isnull=True,
    )


def _unread_of(reports: Collection[ProgressReport]) -> Counter[int]:
    """How many parts of each report, in the languages that it is told in, nobody has read."""
    waiting = ReportSentence.objects.filter(report__in=reports, read_at__isnull=True).exclude(text="")
    shown = Q(audience=TEAM) | Q(language=F("report__family_language"))
    return Counter(waiting.filter(shown).values_list("report_id", flat=True))


def reports_of(viewer: Person, student: Student) -> list[ProgressReport]:
    """A student's reports, the latest first; removed ones at the end."""
    rows = ProgressReport.objects.visible_to(viewer).filter(student=student).select_related("signed_by")
    return sorted(rows, key=lambda one: one.removed_at is not None)


def report_view(viewer: Person, report: ProgressReport, today: dt.date) -> ToldReport:
    """A report as it stands, or as it was signed: words, figures, charts and reading grade."""
    last = min(report.last_day, today)
    if report.is_signed:
        facts = facts_from_json(report.content["facts"])
        drawings = _kept_drawings(report, last)
        parts = [_kept_part(one, facts, drawings) for one in report.content["sentences"]]
    else:
        facts = report_facts(viewer, report.student, report.first_day, last)
        drawings = drawings_of(report, last)
        parts = [_draft_part(one, facts, drawings) for one in shown_sentences(report)]
    family = tuple(part for audience, part in parts if audience == FAMILY)
    team = tuple(part for audience, part in parts if audience == TEAM)
    return ToldReport(report, facts, team, family, _grade(report, [one.text for one in family]))


def family_grade(report: ProgressReport, texts: Iterable[str]) -> ReadingGrade:
    """How hard the family's version is to read."""
    return reading_grade("\n".join(texts), report.family_language)


def _grade(report: ProgressReport, texts: Iterable[str]) -> ReadingGrade:
    kept = report.content.get("grade") if report.is_signed else None
    return ReadingGrade(**kept) if kept else family_grade(report, texts)


def drawings_of(report: ProgressReport, last: dt.date) -> dict[int, GoalDrawing]:
    """By goal the chart and the data up to a last day."""
    stories = report_stories(report.student, report.first_day, last)
    return {one.goal.pk: _drawing(one) for one in stories if one.goal.measure}


def _kept_drawings(report: ProgressReport, last: dt.date) -> dict[int, GoalDrawing]:
    """As they were signed; a report from before they were kept is drawn from the data."""
    if "drawings" in report.content:
        return drawings_from_json(report.content["drawings"])
    return drawings_of(report, last)


def _drawing(story: GoalStory) -> GoalDrawing:
    points = tuple(PointTold(one.point.day, one.words, one.who) for one in story.points)
    return GoalDrawing(story.chart, story.chart_words, story.unit, points)


def _draft_part(
    one: ReportSentence, facts: ReportFacts, stories: Mapping[int, GoalDrawing]
) -> tuple[str, PartShown]:
    story = stories.get(one.goal_id or 0)
    heading = _heading(one.topic, one.goal_id, facts)
    return one.audience, PartShown(one.topic, heading, one.text, one.goal_id, one, story)


def _kept_part(
    plain: dict[str, Any], facts: ReportFacts, stories: Mapping[int, GoalDrawing]
) -> tuple[str, PartShown]:
    goal = plain["goal"]
    part = PartShown(
        plain["topic"], _heading(plain["topic"], goal, facts), plain["text"], goal, story=stories.get(goal or 0)
    )
    return plain["audience"], part


def _heading(topic: str, goal: int | None, facts: ReportFacts) -> str:
    if topic != "goal":
        return HEADINGS[topic]
    found = next((one for one in facts.goals if one.goal_id == goal), None)
    if found is None:
        return "Goal"
    return f"Objective: {found.text}" if found.is_objective else f"Goal: {found.text}"
