"""Addresses of the schedule floor, one list a concern."""
