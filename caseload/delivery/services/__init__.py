"""Writes of the delivery log and of its rules."""
