"""Reads of sessions to log and of ledgers."""
