"""Dated weeks: planned, edited, published, compared, asked about and drawn."""
