"""Writes of the schedule floor."""
