"""Writes about signing in."""
