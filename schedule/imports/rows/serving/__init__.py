"""Rows of those who serve to records."""
