"""Reads of what is told to others."""
