"""Pages of feeds and of a teacher's own calendars."""
