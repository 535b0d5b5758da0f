"""Reads of what waits, and of forecasts."""
