"""Sent in the transaction in which a version of a week comes into force; `sender` is `WeekPlan`, `week` the row."""

from django.dispatch import Signal

week_in_force = Signal()
