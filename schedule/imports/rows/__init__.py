"""Rows of a file to records, through the services."""
