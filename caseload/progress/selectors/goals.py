"""Reads of goals: which hold on a day, which wait for data, lists with what each asks and was seen last."""

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db.models import Max, Q, QuerySet

from accounts.models import District
from accounts.models.sql_once import SqlOnce
from accounts.selectors import LastChange, last_change_of
from caseload.plans.models import Student
from caseload.progress.models import DataPoint, GoalRules, StudentGoal
from caseload.progress.points import DAYS_WITHOUT_DATA, DecisionRule
from caseload.progress.words import bound_words, figure_words, sessions_words

HELD = SqlOnce(
    lambda day, students: (
        StudentGoal.objects.held_on(day).filter(student__in=students).select_related("student", "parent")
    )
)


def goals_of(students: Collection[int], *, day: dt.date) -> dict[int, tuple[StudentGoal, ...]]:
    """The goals and objectives that hold on a date, by student id, in the order of the plan. One query.

    Whoever asks has narrowed `students` to whom the viewer may see. A goal without a `measure` is among them.
    """
    found: dict[int, list[StudentGoal]] = defaultdict(list)
    for row in HELD(day, students):
        found[row.student_id].append(row)
    return {student: tuple(goals) for student, goals in found.items()}


def last_taken(goals: Collection[int]) -> dict[int, dt.date]:
    """By goal id the last day with data of it or of an objective under it; no entry without data. One query."""
    rows = DataPoint.objects.counted().filter(Q(goal__in=goals) | Q(goal__parent__in=goals))
    found: dict[int, dt.date] = {}
    for goal, parent, last in rows.values_list("goal_id", "goal__parent_id").annotate(last=Max("day")):
        for one in {goal, parent} & set(goals):
            found[one] = max(last, found.get(one, last))
    return found


def goal_rules_on(district: District | None, day: dt.date) -> GoalRules:
    """A district's rules for goals on a date; what ships with the program where it has none."""
    row = GoalRules.objects.filter(district=district, first_day__lte=day).order_by("-first_day").first()
    return row or GoalRules(decision_rule=DecisionRule.FOUR_POINTS.value, days_without_data=DAYS_WITHOUT_DATA)


@dataclass(frozen=True, slots=True)
class GoalWaits:
    """A goal on which data wait to be taken: since `last`, or since it began where there are none yet."""

    goal: StudentGoal
    last: dt.date | None

    @property
    def since(self) -> dt.date:
        """The last day with data, else the goal's first day."""
        return self.last or self.goal.start


def goals_waiting(students: Collection[int], *, day: dt.date, days: int) -> list[GoalWaits]:
    """Goals that hold on a date and have had no data for more than so many days, the oldest first. Two queries.

    Data of an objective are data of its goal; an objective waits for itself.
    """
    held = [one for goals in goals_of(students, day=day).values() for one in goals]
    last = last_taken([one.pk for one in held])
    waiting = [GoalWaits(one, last.get(one.pk)) for one in held]
    return sorted(
        (one for one in waiting if (day - one.since).days > days), key=lambda one: (one.since, one.goal.pk)
    )


GOAL_UNDO = "goal_take_back"


def last_goal_change(goal: StudentGoal) -> LastChange | None:
    """What was done last to a goal as it is written: its text, what it is read as, its dates."""
    last = last_change_of(StudentGoal, goal.district, [goal.pk], undo=GOAL_UNDO)
    # A goal that was just added is deleted, not taken back.
    return None if last is None or "id" in last.entry.changes else last


def goal_words(goal: StudentGoal) -> str:
    """What a goal asks for, as it is read; empty while it waits for an answer."""
    if not goal.measure or goal.criterion is None:
        return ""
    figure = f"{bound_words(goal.wanted)} {goal_figure(goal, goal.criterion)}"
    return ", ".join(part for part in (figure, sessions_words(goal.sessions, goal.sessions_of)) if part)


def goal_figure(goal: StudentGoal, value: object, tried: int | None = None) -> str:
    """A figure of a goal in words."""
    told = float(str(value))
    return figure_words(
        goal.measure, told, trials=tried or goal.trials, unit=goal.distance_unit, levels=goal.level_names
    )


# ---- lists -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GoalListed:
    """A goal in a list, with its objectives under it; `last`: the last figure in words and its day."""

    goal: StudentGoal
    asks: str
    last: str
    last_day: dt.date | None
    objectives: tuple["GoalListed", ...] = ()


def goals_listed(student: Student) -> list[GoalListed]:
    """All goals of a student, those under way first, each with its objectives. Two queries."""
    rows = list(StudentGoal.objects.filter(student=student).select_related("student"))
    points = last_points([one.pk for one in rows])
    under: dict[int | None, list[StudentGoal]] = defaultdict(list)
    for row in rows:
        under[row.parent_id].append(row)
    return [_listed(one, points, under) for one in under[None]]


def _listed(
    goal: StudentGoal, points: Mapping[int, DataPoint], under: Mapping[int | None, list[StudentGoal]]
) -> GoalListed:
    point = points.get(goal.pk)
    return GoalListed(
        goal,
        goal_words(goal),
        goal_figure(goal, point.value, point.tried) if point is not None else "",
        point.day if point is not None else None,
        tuple(_listed(one, points, under) for one in under.get(goal.pk, ())),
    )


def last_points(goals: Collection[int]) -> dict[int, DataPoint]:
    """The last counted point of each goal. One query."""
    rows = DataPoint.objects.counted().filter(goal__in=goals).order_by("day", "pk")
    return {row.goal_id: row for row in rows}


def points_of_day(goals: Collection[int], day: dt.date) -> QuerySet[DataPoint]:
    """Counted points of these goals on a date, the latest last."""
    return DataPoint.objects.counted().filter(goal__in=goals, day=day).select_related("taken_by").order_by("pk")
