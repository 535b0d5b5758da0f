"""The search for a standing timetable: compiled rounds over all kinds of week of a term at once."""
