"""Reads of what is in a feed."""
