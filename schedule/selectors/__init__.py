"""Reads of the schedule floor."""
