"""Writes of what is told to others."""
