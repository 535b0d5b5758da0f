"""Reads of what calendar and people say of a day: its hours, and what happened on it."""
