"""Tables of goals and their data."""

from caseload.progress.models.data import DataPoint
from caseload.progress.models.goal import OfGoalQuerySet, PhaseChange, StudentGoal, StudentGoalQuerySet
from caseload.progress.models.rules import GoalRules

__all__ = ["DataPoint", "GoalRules", "OfGoalQuerySet", "PhaseChange", "StudentGoal", "StudentGoalQuerySet"]
