"""A teacher leaves, or is away for weeks: what still waits, who takes the students, and when they go back."""
