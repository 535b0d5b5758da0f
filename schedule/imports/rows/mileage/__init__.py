"""Rows of mileage to records."""
