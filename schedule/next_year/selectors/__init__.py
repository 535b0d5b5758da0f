"""Reads of the coming year: what it would be, and what is missing."""
