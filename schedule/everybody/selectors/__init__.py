"""Reads of planning everybody."""
