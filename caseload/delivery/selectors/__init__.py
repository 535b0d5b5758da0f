"""Reads of the delivery log."""
