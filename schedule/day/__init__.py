"""The day sheet: one teacher's day with what happened to it, and taps on its drives."""
