"""The district: its name, state and time zone."""
