"""Pages of students, plans, service lines and classes."""
