"""Reads of open minutes, and of places for them."""
