"""Writes of make-ups: booked one by one, and placed together."""
