"""Reads of weeks for pages and the API."""
