"""Students, their plans and service lines, classes, and times when a student can't be taken."""
