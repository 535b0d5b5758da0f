"""The pure core of a term: one standing timetable, and dated weeks that keep it as far as the calendar allows."""
