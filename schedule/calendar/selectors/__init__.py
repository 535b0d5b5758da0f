"""Reads of school days and calendars."""
