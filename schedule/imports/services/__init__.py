"""Writes of imports."""
