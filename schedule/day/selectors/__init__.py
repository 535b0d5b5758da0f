"""Reads of one day."""
