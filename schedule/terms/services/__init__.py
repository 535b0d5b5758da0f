"""Writes of terms."""
