"""Months of a teacher's log: open, signed or closed, and what a closed one refuses."""
