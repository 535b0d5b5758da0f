"""Writes of feeds and of their versions."""
