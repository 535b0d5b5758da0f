"""Writes of messages, of what was told, and of what people want to hear."""
