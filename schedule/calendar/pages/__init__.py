"""Pages of bells, buildings, the calendar and a teacher's rules."""
