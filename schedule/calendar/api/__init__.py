"""The API of bells, days, the calendar and the teacher's rules."""
