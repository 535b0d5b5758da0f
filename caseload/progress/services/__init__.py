"""Writes of goals, their phase changes and rules, and of the data taken on them."""

from caseload.progress.services.data import (
    DataTaken,
    data_import,
    data_restore,
    data_take,
    data_undo,
)
from caseload.progress.services.goals import (
    goal_delete,
    goal_end,
    goal_read,
    goal_reopen,
    goal_rules_delete,
    goal_rules_save,
    goal_save,
    goal_take_back,
    phase_change_delete,
    phase_change_save,
)

__all__ = [
    "DataTaken",
    "data_import",
    "data_restore",
    "data_take",
    "data_undo",
    "goal_delete",
    "goal_end",
    "goal_read",
    "goal_reopen",
    "goal_rules_delete",
    "goal_rules_save",
    "goal_save",
    "goal_take_back",
    "phase_change_delete",
    "phase_change_save",
]
