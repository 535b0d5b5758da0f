"""The caseload floor: students, plans, service lines."""

from django.apps import AppConfig


class CaseloadConfig(AppConfig):
    """Holds what is owed to whom."""

    name = "caseload"
