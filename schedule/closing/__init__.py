"""Months of the log: what a teacher signs, a coordinator closes and reopens, and what differs since."""
