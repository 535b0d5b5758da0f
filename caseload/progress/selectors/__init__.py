"""Reads of goals and their data: which hold on a day (`goals`), and what data are taken on (`taking`)."""

from caseload.progress.selectors.goals import goals_of, goals_waiting, last_taken
from caseload.progress.selectors.taking import taking_of

__all__ = ["goals_of", "goals_waiting", "last_taken", "taking_of"]
