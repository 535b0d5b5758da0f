"""Tables of what is told to others."""

from schedule.telling.models.report import ProgressReport, ReportSentence

__all__ = ["ProgressReport", "ReportSentence"]
