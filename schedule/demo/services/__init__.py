"""Writes of the demo's past, each through the service of the room that owns the record."""
