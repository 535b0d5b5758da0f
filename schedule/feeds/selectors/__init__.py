"""Reads of what stands in a feed."""
