"""Reads of terms."""
