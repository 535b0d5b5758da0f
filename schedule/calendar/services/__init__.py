"""Writes of bells, days, times, calendars and teachers' rules."""
