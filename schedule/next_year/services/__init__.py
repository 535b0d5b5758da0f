"""Writes of the coming year: its draft, starting it, taking it back."""
