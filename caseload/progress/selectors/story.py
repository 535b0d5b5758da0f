"""What the data of one goal say: points in words, the chart, the trend, when the criterion is reached."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from accounts.dates import short_date_words
from caseload.delivery.models import DeliveryVersion
from caseload.progress.chart import ChartFacts, GoalChart, goal_chart
from caseload.progress.measures import Measure, Wanted
from caseload.progress.models import DataPoint, PhaseChange, StudentGoal
from caseload.progress.points import AimLine, Criterion, DecisionRule, decision_of, met_on
from caseload.progress.reading import goal_readings
from caseload.progress.selectors.goals import goal_figure, goal_rules_on, goal_words
from caseload.progress.trend import Seen, TooFew, Trend, reached_by, trend_of
from caseload.progress.words import (
    decision_words,
    met_words,
    one_of,
    reached_words,
    reading_words,
    sessions_words,
    trend_words,
)

LEVELS = frozenset({Measure.PROMPT.value, Measure.RUBRIC.value})


@dataclass(frozen=True, slots=True)
class PointShown:
    """A data point in words, and who took it."""

    point: DataPoint
    words: str

    @property
    def who(self) -> str:
        """An aide by name, else who was signed in."""
        return self.point.taken_by_name or str(self.point.taken_by)


@dataclass(frozen=True)
class GoalStory:
    """A goal with its data as they stand on a day, and what they say.

    `missed`: days with a session that was missed whole and no data. What the data say is about a goal that somebody
    has said how to measure.
    """

    goal: StudentGoal
    today: dt.date
    rule: DecisionRule
    rows: tuple[PointShown, ...] = ()
    phases: tuple[PhaseChange, ...] = ()
    missed: tuple[dt.date, ...] = field(default=())

    @property
    def asks(self) -> str:
        """What the goal asks for, as it is read."""
        return goal_words(self.goal)

    @property
    def baseline(self) -> str:
        """What the student did when the goal was written."""
        return goal_figure(self.goal, self.goal.baseline) if self._has("baseline") else ""

    @property
    def readings(self) -> tuple[str, ...]:
        """What a text can mean that waits for an answer."""
        return () if self.goal.measure else tuple(reading_words(one) for one in goal_readings(self.goal.text))

    @property
    def points(self) -> tuple[PointShown, ...]:
        """Those that count, the latest first."""
        return tuple(one for one in reversed(self.rows) if one.point.undone_at is None)

    @property
    def undone(self) -> tuple[PointShown, ...]:
        """Those that were taken back, the latest first."""
        return tuple(one for one in reversed(self.rows) if one.point.undone_at is not None)

    @property
    def unit(self) -> str:
        """What figures of the chart are of."""
        if self.goal.measure in LEVELS:
            return "levels"
        if self.goal.measure == Measure.TRIALS:
            return f"of {self.goal.trials} trials"
        return self.goal.distance_unit or one_of(self.goal.measure, 2)

    @cached_property
    def seen(self) -> list[Seen]:
        """The points that count, as the pure rules take them."""
        return seen_of((one.point for one in self.points), self.goal)

    @cached_property
    def trend(self) -> Trend | TooFew:
        """Of the last phase that has begun."""
        begun = [one.day for one in self.phases if one.day <= self.today]
        first = max([self.goal.start, *begun])
        return trend_of([one for one in self.seen if one.day >= first])

    @property
    def aim(self) -> AimLine | None:
        """Where the goal has a baseline and a criterion."""
        if not (self._has("baseline") and self._has("criterion")):
            return None
        goal = self.goal
        return AimLine(goal.start, float(goal.baseline or 0), goal.end, float(goal.criterion or 0))

    @property
    def sentences(self) -> tuple[str, ...]:
        """What the data say, one after the other; nothing of a goal that nobody has said how to measure."""
        if not self.goal.measure:
            return ()
        told = (
            *self._criterion_said(),
            trend_words(self.trend, self.unit),
            *self._reach_said(),
            self._decision_said(),
        )
        return tuple(one for one in told if one)

    def _criterion_said(self) -> tuple[str, ...]:
        met = self.met
        return () if met is None else (met_words(met, sessions_words(self.goal.sessions, self.goal.sessions_of)),)

    @property
    def met(self) -> dt.date | None:
        """The first day on which the criterion was reached, over as many sessions as the goal asks."""
        if not self._has("criterion"):
            return None
        goal = self.goal
        asked = Criterion(float(goal.criterion or 0), Wanted(goal.wanted), goal.sessions or 1, goal.sessions_of)
        return met_on(self.seen, asked)

    def _reach_said(self) -> tuple[str, ...]:
        if self.met is not None or isinstance(self.trend, TooFew) or not self._has("criterion"):
            return ()
        goal = self.goal
        found = reached_by(self.trend, float(goal.criterion or 0), Wanted(goal.wanted), goal.end)
        return (reached_words(found, goal.end),)

    def _decision_said(self) -> str:
        aim = self.aim
        if aim is None:
            return ""
        return decision_words(self.rule, decision_of(self.rule, self.seen, aim, Wanted(self.goal.wanted)))

    @property
    def chart(self) -> GoalChart | None:
        """The drawing; none of a goal that nobody has said how to measure."""
        return goal_chart(self._facts()) if self.goal.measure else None

    @property
    def chart_words(self) -> str:
        """What the drawing shows, for who can't see it."""
        days = [one.day for one in self.seen]
        span = f" from {short_date_words(min(days))} to {short_date_words(max(days))}" if days else ""
        return f"Chart of {len(days)} data points{span}; the table below has each. {' '.join(self.sentences)}"

    def _facts(self) -> ChartFacts:
        goal = self.goal
        return ChartFacts(
            goal.start,
            goal.last_day,
            self.today,
            self.seen,
            self.aim,
            float(goal.baseline or 0) if self._has("baseline") else None,
            float(goal.criterion or 0) if self._has("criterion") else None,
            self.trend if isinstance(self.trend, Trend) else None,
            [one.day for one in self.phases],
            self.missed,
            least=1 if goal.measure in LEVELS else 0,
            most=_most(goal),
        )

    def _has(self, name: str) -> bool:
        return bool(self.goal.measure) and getattr(self.goal, name) is not None


def _most(goal: StudentGoal) -> float | None:
    """The largest figure that a goal's measure knows."""
    if goal.measure in LEVELS:
        return float(len(goal.level_names))
    most = {Measure.TRIALS.value: goal.trials, Measure.PERCENT.value: 100}.get(goal.measure)
    return float(most) if most else None


def seen_of(points: Iterable[DataPoint], goal: StudentGoal) -> list[Seen]:
    """Points as the pure rules take them: sets of trials as of the goal's own number, so that all sets compare."""
    return [Seen(one.day, _figure(one, goal)) for one in points]


def _figure(point: DataPoint, goal: StudentGoal) -> float:
    if goal.measure == Measure.TRIALS and point.tried and goal.trials:
        return float(point.value) * goal.trials / point.tried
    return float(point.value)


def goal_story(goal: StudentGoal, today: dt.date) -> GoalStory:
    """Everything about a goal's data on a day. Four queries."""
    rows = list(goal.data.select_related("taken_by").order_by("day", "pk"))
    taken = {one.day for one in rows if one.undone_at is None}
    return GoalStory(
        goal,
        today,
        DecisionRule(goal_rules_on(goal.district, today).decision_rule),
        tuple(PointShown(one, goal_figure(goal, one.value, one.tried) if goal.measure else "") for one in rows),
        tuple(goal.phase_changes.all()),
        _missed_days(goal, today, taken),
    )


def _missed_days(goal: StudentGoal, today: dt.date, taken: Collection[dt.date]) -> tuple[dt.date, ...]:
    """Days since the goal began on which the student's sessions were missed whole and no data were taken.

    One query.
    """
    rows = DeliveryVersion.objects.current().filter(
        entry__student=goal.student_id, entry__date__range=(goal.start, min(goal.last_day, today))
    )
    minutes: dict[dt.date, int] = defaultdict(int)
    for day, delivered in rows.values_list("entry__date", "delivered_minutes"):
        if delivered is not None:
            minutes[day] += delivered
    return tuple(sorted(day for day, total in minutes.items() if not total and day not in taken))
