"""Months of the log: signed, closed, reopened."""
